"""The decisions file as the page shows it: what stands, as of now or as of an earlier decision."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pyarrow as pa

from pipeline.decisions import Decision
from pipeline.tags import Tag, tags_by_reference

_TAGGED = pa.schema([("reference_id", pa.string()), ("tag", pa.string())])


@dataclass(frozen=True)
class Judgements:
    """Every decision made so far, oldest first, undone ones and undoing ones included."""

    decisions: tuple[Decision, ...]

    @property
    def last(self) -> int:
        """Return the number of the last decision, 0 where there is none."""
        return self.decisions[-1].number if self.decisions else 0

    def as_of(self, asked: int) -> int:
        """Return the decision as of which tags count: the one asked for, else the last."""
        return min(asked, self.last) if asked >= 0 else self.last

    def standing(self, as_of: int | None = None) -> list[Decision]:
        """Return the decisions in force, now or when decision as_of was the last."""
        made = [one for one in self.decisions if as_of is None or one.number <= as_of]
        undone = {one.facts["undoes"] for one in made if one.kind == "undo"}
        return [one for one in made if one.kind != "undo" and one.number not in undone]

    def on(self, records: Iterable[str]) -> list[Decision]:
        """Return the decisions that touch any of the records, undone and undoing ones included."""
        wanted = set(records)
        return [one for one in self.decisions if not wanted.isdisjoint(one.records)]

    def tags(self, reference_of: Mapping[str, str], as_of: int | None = None) -> dict[str, list[Tag]]:
        """Return reference_id -> its tags, the one in force first."""
        return tags_by_reference(self.standing(as_of), reference_of)


def tagged_table(tags: Mapping[str, list[Tag]]) -> pa.Table:
    """Return reference_id and the tag in force."""
    names, words = list(tags), [found[0].tag for found in tags.values()]
    arrays = [pa.array(names, pa.string()), pa.array(words, pa.string())]
    return pa.Table.from_arrays(arrays, schema=_TAGGED)
