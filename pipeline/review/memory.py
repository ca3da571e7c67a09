"""What the web remembers between requests, each part only while what it was made of is unchanged."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import duckdb
import pyarrow as pa

from pipeline.decisions import Decisions
from pipeline.errors import AntedateError, StoreLocked
from pipeline.judging import Judging
from pipeline.matter import Matter
from pipeline.review.catalogue import Catalogue, OfficeWords
from pipeline.review.judgements import Judgements, tagged_table
from pipeline.store import store_state
from pipeline.tags import Tag

Opener = Callable[[float], AbstractContextManager[duckdb.DuckDBPyConnection]]
# With an older catalogue at hand, a page does not wait longer than this for a newer one.
SHORT_WAIT_S = 0.2


@dataclass
class Memory:
    """The catalogue, the decisions and the verdicts of one matter. Safe to use from many threads."""

    folder: Path
    wait_s: float
    open_store: Opener
    _lock: threading.RLock = field(default_factory=threading.RLock)
    # Judging everything takes long; nobody else need wait for it.
    _judge_lock: threading.Lock = field(default_factory=threading.Lock)
    _catalogue: Catalogue | None = None
    _judgements: tuple[object, Judgements] = ((), Judgements(()))
    _judging: Judging | None = None
    _verdicts: tuple[object, dict[str, tuple[OfficeWords, ...]]] = ((), {})
    _tags: dict[object, tuple[dict[str, list[Tag]], pa.Table]] = field(default_factory=dict)

    def catalogue(self) -> Catalogue:
        """Return the catalogue of the store as it is, or the last one while the store is locked.

        Raises StoreLocked where there is none yet, and NothingSearched.
        """
        with self._lock:
            state = store_state(self.folder)
            if self._catalogue is None or self._catalogue.state != state:
                try:
                    with self.open_store(SHORT_WAIT_S if self._catalogue else self.wait_s) as con:
                        self._catalogue = Catalogue(con, state)
                except StoreLocked:
                    if self._catalogue is None:
                        raise
            return self._catalogue

    def is_current(self, catalogue: Catalogue) -> bool:
        """Say whether the store has not been written to since."""
        return catalogue.state == store_state(self.folder)

    def judgements(self) -> Judgements:
        """Return every decision on the disk now."""
        decisions = Decisions(self.folder)
        with self._lock:
            try:
                about = decisions.log.path.stat()
            except FileNotFoundError:
                return Judgements(())
            state = (about.st_ino, about.st_size, about.st_mtime_ns)
            if self._judgements[0] != state:
                self._judgements = state, Judgements(tuple(decisions.all()))
            return self._judgements[1]

    def tags(
        self, catalogue: Catalogue, judgements: Judgements, as_of: int
    ) -> tuple[dict[str, list[Tag]], pa.Table]:
        """Return reference_id -> its tags as of that decision, and the one in force as a table."""
        key = (catalogue.state, judgements.last, as_of)
        with self._lock:
            if key not in self._tags:
                standing = judgements.standing(as_of)
                records = {record for one in standing if one.kind == "tag" for record in one.records}
                tags = judgements.tags(catalogue.references_of(records), as_of)
                # Now and then: two kinds are in use at a time; the older ones are let go.
                kept = dict(list(self._tags.items())[-3:])
                self._tags = kept | {key: (tags, tagged_table(tags))}
            return self._tags[key]

    def judging(self, matter: Matter, today: date) -> Judging:
        """Return how references are judged today; what was judged before is remembered with it."""
        with self._lock:
            fresh = Judging(matter, today)
            if self._judging != fresh:
                self._judging = fresh
            return self._judging or fresh

    def judge_all(self, catalogue: Catalogue, judging: Judging) -> None:
        """Give the catalogue the verdicts on every reference: once for each state, date and matter.

        Cost grows with the references and with distinct facts: 15 s for 100,000 and three
        offices the first time, half of that when some have changed.
        """
        with self._judge_lock:
            if catalogue.judged_by is not judging:
                references = [
                    row["reference_id"] for row in catalogue.rows("SELECT reference_id FROM listed")
                ]
                catalogue.keep_outcomes(judging, judging.judge(self.folder, references))

    def warm(self, matter: Matter, today: date) -> None:
        """Read and judge everything beforehand, so that the first filter need not wait for it."""
        try:
            self.judge_all(self.catalogue(), self.judging(matter, today))
        except AntedateError:
            return  # the page that needs it says so

    def verdicts(
        self, catalogue: Catalogue, judging: Judging, references: Sequence[str]
    ) -> dict[str, tuple[OfficeWords, ...]]:
        """Return the verdicts on the references: those at hand, else these alone are judged.

        While the store is locked those not at hand are left out.
        """
        if catalogue.judged_by is judging:
            return catalogue.outcomes(references)
        key = (catalogue.state, id(judging))
        with self._lock:
            if self._verdicts[0] != key:
                self._verdicts = key, {}
            known = self._verdicts[1]
        missing = [name for name in references if name not in known]
        if missing:
            try:
                with self.open_store(SHORT_WAIT_S) as con:
                    judged = judging.judge_in(con, missing)
            except StoreLocked:
                judged = {}
            for name, its in judged.items():
                known[name] = tuple(OfficeWords(one.office, one.verdict.outcome, one.words) for one in its)
        return {name: known[name] for name in references if name in known}
