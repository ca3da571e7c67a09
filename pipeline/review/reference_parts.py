"""The parts of a reference's page, made from what the store and the decisions say."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from connectors.days import Days
from pipeline.deciding import decided
from pipeline.judging import Judged
from pipeline.review.judgements import Judgements
from pipeline.review.marks import Piece, marked
from pipeline.review.rows import Row
from pipeline.review.timeline import Dated, TimeLine, time_line
from pipeline.showing import ShownRecord, ShownVersion


@dataclass(frozen=True)
class Made:
    """A decision on the reference. stands: it was not taken back. undoes: it takes one back itself."""

    number: int
    when: str
    by: str
    kind: str
    words: str
    stands: bool
    undoes: bool


@dataclass(frozen=True)
class ShownText:
    """A text of the reference in pieces, those closest to an element marked. name: abstract, claim 1."""

    name: str
    pieces: tuple[Piece, ...]


@dataclass(frozen=True)
class HandDate:
    """A public date entered by hand that stands. record_id: whose version it is of."""

    record_id: str
    days: Days
    why: str
    evidence: str
    wins: bool
    number: int


def shown_texts(main: ShownRecord, row: Row) -> tuple[ShownText, ...]:
    """Return abstract and claims with the best passage of each element marked."""
    fields = [("abstract", main.abstract), *((f"claim {n}", text) for n, text in enumerate(main.claims, 1))]
    return tuple(
        ShownText(name, marked(text, [(one.element, one.passage) for one in row.near if one.field == name]))
        for name, text in fields
        if text
    )


def hand_dates(judgements: Judgements, records: Iterable[str]) -> tuple[HandDate, ...]:
    """Return the public dates entered by hand that stand, oldest decision first."""
    wanted = set(records)
    return tuple(
        HandDate(
            record_id=one.records[0],
            days=Days(date.fromisoformat(one.facts["day_from"]), date.fromisoformat(one.facts["day_to"])),
            why=one.facts["why"],
            evidence=one.facts["evidence"],
            wins=one.facts["wins"],
            number=one.number,
        )
        for one in judgements.standing()
        if one.kind == "date" and one.records[0] in wanted
    )


def made(judgements: Judgements, records: Iterable[str]) -> tuple[Made, ...]:
    """Return every decision that touches the records, latest first."""
    standing = {one.number for one in judgements.standing()}
    return tuple(
        Made(
            number=one.number,
            when=f"{one.made_at:%Y-%m-%d %H:%M} UTC",
            by=one.made_by,
            kind=one.kind,
            words=decided(one),
            stands=one.number in standing,
            undoes=one.kind == "undo",
        )
        for one in reversed(judgements.on(records))
    )


def drawn(
    versions: Sequence[ShownVersion], hand: Sequence[HandDate], verdicts: Iterable[Judged], today: date
) -> TimeLine | None:
    """Return the time line of the versions that stand, with each office's cutoff."""
    lanes = []
    for number, version in enumerate(versions, 1):
        records = {record.record_id for record in version.records}
        events = [
            Dated(event.kind, event.days, event.public, f"says {record.source}")
            for record in version.records
            for event in record.events
            if event.stands
        ]
        events += [
            Dated("public", one.days, True, "entered by hand") for one in hand if one.record_id in records
        ]
        lanes.append((f"{number} {_name(version)}", events))
    return time_line(lanes, {one.office: one.verdict.critical_date for one in verdicts}, today)


def _name(version: ShownVersion) -> str:
    """Return the publication number of a patent document, else the kind of document."""
    numbers = (
        value
        for record in version.records
        for scheme, value, _ in record.identifiers
        if scheme == "publication"
    )
    return next(numbers, version.records[0].kind)
