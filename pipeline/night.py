"""The stages of one run over one matter, each a step that may be run again."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.harvest import Desk, end_sweep, harvest_source, take_in_files
from pipeline.load import load_answers
from pipeline.matter import Matter
from pipeline.plan import PlannedSource
from pipeline.references import resolve_references

if TYPE_CHECKING:
    from pipeline.embed import Model

log = logging.getLogger("antedate")


@dataclass
class Night:
    """A run: what is planned, where it works, and who is told of progress (one line each)."""

    matter: Matter
    plan: tuple[PlannedSource, ...]
    desk: Desk
    say: Callable[[str], None]
    _models: list[Model] = field(default_factory=list)

    @property
    def folder(self) -> Path:
        """Return the matter's folder."""
        return self.matter.folder

    @property
    def sources(self) -> tuple[str, ...]:
        """Return the names of the sources of the plan."""
        return tuple(planned.name for planned in self.plan)

    def ask(self, source: str) -> tuple[str, ...]:
        """Ask one source its sweeps; a fault of ours ends that source only, and is reported."""
        planned = next(planned for planned in self.plan if planned.name == source)
        try:
            outcomes = harvest_source(planned, self.desk)
        except Exception as error:
            log.exception("%s: stopped by a fault of ours", source)
            reason = f"stopped by a fault of ours ({type(error).__name__}: {error}); please report it"
            for sweep in planned.sweeps:
                end_sweep(self.desk, source, sweep, "failed", reason)
            outcomes = ("failed",)
        self.say(f"{source}: {_counted(outcomes)}")
        return outcomes

    def take_in(self) -> tuple[str, ...]:
        """Take in the files the user handed in."""
        outcomes = take_in_files(self.folder / "handed-in", self.desk)
        if outcomes:
            self.say(f"handed in: {_counted(outcomes)}")
        return outcomes

    def load(self) -> None:
        """Read what came into the store."""
        loaded = load_answers(self.folder)
        self.say(f"read {loaded.answers} answers, {loaded.records} records new or changed")

    def derive(self) -> None:
        """Bring all that is worked out up to the store: references, ranking, vectors, topics."""
        self.resolve()
        self.rank()
        self.embed()
        self.resolve()
        self.rank()
        self.topics()

    def resolve(self) -> None:
        """Bring references up to the records, with the vectors there are."""
        from pipeline.embed import model_version

        count = resolve_references(self.folder, model_version(self.matter.model))
        self.say(f"{count} references")

    def rank(self) -> None:
        """Rank every reference with what is embedded so far."""
        from pipeline.embed import model_version
        from pipeline.ranking import rank_references

        rank_references(self.matter, model_version(self.matter.model))

    def embed(self) -> None:
        """Embed records, most promising first, then the passages of the best references."""
        from pipeline.embed import model_version
        from pipeline.ranking import rank_references, texts_to_embed
        from pipeline.vectors import embed_missing, record_texts

        version = model_version(self.matter.model)

        def told(done: int, of: int) -> None:
            self.say(f"embedding {done} of {of}; `antedate hits` shows the ranking so far")

        texts = [*texts_to_embed(self.matter), *record_texts(self.folder)]
        if embed_missing(self.folder, texts, self._model, version, told):
            rank_references(self.matter, version)
        from pipeline.ranking import passages_to_embed

        embed_missing(self.folder, passages_to_embed(self.folder), self._model, version, told)

    def topics(self) -> None:
        """Group the references into topics."""
        from pipeline.embed import model_version
        from pipeline.ranking import find_topics

        find_topics(self.matter, model_version(self.matter.model))

    def _model(self) -> Model:
        from pipeline.embed import load_model

        if not self._models:
            self.say(f"loading the model {self.matter.model}")
            self._models.append(load_model(self.matter.model))
        return self._models[0]


def _counted(outcomes: tuple[str, ...]) -> str:
    counts = {name: outcomes.count(name) for name in ("complete", "incomplete", "failed", "skipped")}
    return ", ".join(f"{count} {name}" for name, count in counts.items() if count) or "nothing to ask"
