"""The offices' critical dates as lines on a time line."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from connectors.days import Days
from pipeline.critical_days import Cutoff


@dataclass(frozen=True)
class Line:
    """One cutoff line: the offices whose critical date it is, and the days it may be."""

    offices: tuple[str, ...]
    days: tuple[date, ...]
    provisional: bool


def cutoff_lines(cutoffs: Iterable[Cutoff]) -> tuple[Line, ...]:
    """Return one line for each set of days, in their order, with the offices that share it."""
    offices: dict[tuple[tuple[date, ...], bool], list[str]] = {}
    for one in cutoffs:
        if one.days:
            name = f"{one.office} ({one.elements})" if one.elements else one.office
            offices.setdefault((one.days, one.provisional), []).append(name)
    return tuple(Line(tuple(names), *key) for key, names in sorted(offices.items()))


def before(public: Days | None, line: Line) -> str:
    """Return whether something public in that interval was so before the line: yes, no, perhaps, unknown."""
    if public is None:
        return "unknown"
    if public.last and public.last < line.days[0]:
        return "yes"
    return "no" if public.first and public.first >= line.days[-1] else "perhaps"


def line_days(line: Line) -> str:
    """Return the days of the line as a table says them."""
    text = " or ".join(day.isoformat() for day in line.days)
    return f"{text} (no filing there yet)" if line.provisional else text
