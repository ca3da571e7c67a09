"""Time line of the field: since when each reference is public, how close it is, and the cutoffs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial

import duckdb

from connectors.days import Days
from pipeline import cautions
from pipeline.critical_days import Cutoff
from pipeline.decisions import Decision
from pipeline.pictures.cutoff_lines import Line, before, cutoff_lines, line_days
from pipeline.pictures.field import Pictured, days, nothing_yet, read_best, read_counts
from pipeline.pictures.picture import LONGEST_CELL, Picture, Row, Table, label, reference_page
from pipeline.pictures.timeline_drawing import draw
from pipeline.plain_text import public_text

TITLE = "Time line of the field"
# More marks than this hide each other; the table of cutoffs counts all.
MOST_DRAWN = 400


@dataclass(frozen=True)
class Field:
    """What the time line shows.

    drawn: the best placed, with or without a date. public: how many of all references became
    public in each interval, None for no stated date. cutoffs: the days held against.
    """

    drawn: tuple[Pictured, ...]
    public: tuple[tuple[Days | None, int], ...]
    cutoffs: tuple[Cutoff, ...]
    references: int
    placed: int


def read_timeline(
    con: duckdb.DuckDBPyConnection, standing: Iterable[Decision], cutoffs: Sequence[Cutoff]
) -> Field:
    """Return the time line of the matter's references; cost grows with their distinct dates."""
    public = con.execute(
        "SELECT public_from, public_to, count(*) FROM reference GROUP BY ALL ORDER BY ALL"
    ).fetchall()
    return Field(
        read_best(con, standing, MOST_DRAWN),
        tuple((days(first, last), count) for first, last, count in public),
        tuple(cutoffs),
        *read_counts(con),
    )


def timeline_picture(field: Field) -> Picture:
    """Return the picture, its table of cutoffs and its table of references."""
    lines = cutoff_lines(field.cutoffs)
    dated = [one for one in field.drawn if one.public]
    why = nothing_yet(field.references, field.placed)
    if not dated:
        why = why or "None of the best placed references states a public date, so there is no line to draw."
        return Picture("timeline", TITLE, (why,))
    return Picture(
        "timeline",
        TITLE,
        _says(field, len(dated)),
        (cutoff_table(lines, field), reference_table(field.drawn)),
        partial(draw, dated, lines),
        f"{cautions.DATE_EVIDENCE} Grace, earlier filings and versions are judged on each reference's page.",
    )


def cutoff_table(lines: Iterable[Line], field: Field) -> Table:
    """Return, per cutoff, how many of all references were public before it."""
    rows = []
    for line in lines:
        counts = {"yes": 0, "perhaps": 0, "no": 0, "unknown": 0}
        for public, count in field.public:
            counts[before(public, line)] += count
        rows.append(Row((", ".join(line.offices), line_days(line), *(f"{n:,}" for n in counts.values()))))
    head = (
        "Office",
        "Critical date",
        "Public before it",
        "Perhaps before",
        "Not before it",
        "No date stated",
    )
    return Table("Critical dates, and all references against them", head, tuple(rows))


def reference_table(drawn: Iterable[Pictured]) -> Table:
    """Return the references drawn, and those among them that have no date to draw, best first."""
    rows = tuple(
        Row(
            (
                f"#{one.place}",
                label(one.title, LONGEST_CELL),
                public_text(one.public),
                f"{one.score:.2f}",
                one.state,
            ),
            {1: reference_page(one.reference_id)},
        )
        for one in drawn
    )
    return Table("The references", ("Place", "Title", "Public", "Closeness", "Judged"), rows)


def _says(field: Field, dated: int) -> tuple[str, ...]:
    says = [f"{dated:,} of {field.references:,} references are drawn, by public date and closeness."]
    if field.placed > len(field.drawn):
        says.append(f"Only the best {len(field.drawn):,} are looked at here.")
    if undated := len(field.drawn) - dated:
        says.append(f"Without any stated public date, and so in the table only: {undated:,}.")
    known = [one.public for one in field.drawn if one.public and not one.public.exact]
    if known:
        says.append(
            f"Not known to the day: {len(known):,}; there a bar spans the days the evidence allows, "
            "and the mark stands on the last of them."
        )
    if any(public.first is None or public.last is None for public in known):
        says.append("Where one end is not known, the bar is broken and runs to the edge of the picture.")
    return (" ".join(says),)
