"""What the user decided: an append-only file that outranks everything computed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline.append_log import AppendLog

TAGS = ("relevant", "not relevant", "undecided")
CATEGORIES = ("X", "Y", "A", "P", "E", "O", "T", "L", "D", "&")  # WIPO ST.14


@dataclass(frozen=True)
class Decision:
    """One line of the file.

    kind: tag, ruling, date, undo. records: the records it was made on; for a tag every
    record of the reference as it stood, main record first; for a ruling the two.
    """

    number: int
    made_at: datetime
    made_by: str
    kind: str
    records: tuple[str, ...]
    facts: dict[str, Any]


@dataclass(frozen=True)
class Decisions:
    """The decisions of the matter in folder."""

    folder: Path

    @property
    def log(self) -> AppendLog:
        """Return the file."""
        return AppendLog(self.folder / "decisions.jsonl")

    def add(
        self,
        kind: str,
        records: tuple[str, ...],
        facts: dict[str, Any],
        made_by: str,
        now: datetime,
        check: Callable[[], None] = lambda: None,
    ) -> None:
        """Write the decision; it is on the disk when this returns.

        check is called first, while nobody else can decide; what it raises leaves all as it was.
        """
        at = now.astimezone(UTC).isoformat()
        line = {"at": at, "by": made_by, "kind": kind, "records": list(records), "facts": facts}
        self.log.append(line, check)

    def all(self) -> Iterator[Decision]:
        """Yield every decision in the order made, undone ones included."""
        for number, line in self.log.lines():
            made_at = datetime.fromisoformat(line["at"])
            yield Decision(number, made_at, line["by"], line["kind"], tuple(line["records"]), line["facts"])

    def standing(self) -> list[Decision]:
        """Return the decisions in force: those not undone, undo lines themselves left out."""
        decisions = list(self.all())
        undone = {decision.facts["undoes"] for decision in decisions if decision.kind == "undo"}
        return [d for d in decisions if d.kind != "undo" and d.number not in undone]
