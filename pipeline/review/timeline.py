"""A reference's dated events laid out on a line, version by version, with the cutoffs drawn in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from connectors.days import Days

# Units of the drawing. A lane is one version.
LEFT, RIGHT, LANE, TOP = 150.0, 930.0, 34.0, 34.0
# A bar narrower than this could not be seen.
LEAST = 3.0


@dataclass(frozen=True)
class Dated:
    """An event to draw: what, when, whether it made the version public, who says so."""

    kind: str
    days: Days
    public: bool
    says: str


@dataclass(frozen=True)
class Mark:
    """An event drawn: from x on, width wide (0 for one day). open: an end of it is not known."""

    x: float
    width: float
    public: bool
    open: bool
    words: str


@dataclass(frozen=True)
class Lane:
    """A version: its name, the height it is drawn at, its marks, and its earliest public day's text."""

    name: str
    y: float
    marks: tuple[Mark, ...]
    public: str
    public_x: float


@dataclass(frozen=True)
class Line:
    """A vertical line with its words: a cutoff, or a tick of the scale."""

    x: float
    words: str


@dataclass(frozen=True)
class TimeLine:
    """The drawing. words: the same in a sentence, for who can't see it."""

    lanes: tuple[Lane, ...]
    cutoffs: tuple[Line, ...]
    ticks: tuple[Line, ...]
    height: float
    words: str


def time_line(
    versions: Sequence[tuple[str, Sequence[Dated]]], cutoffs: Mapping[str, date | None], today: date
) -> TimeLine | None:
    """Return the drawing of each version's events, None where no day at all is known.

    versions: name and events, in the order to draw. cutoffs: office -> the day before which
    a disclosure must lie to count; offices with one day share a line. An open end is drawn
    to the edge of the scale.
    """
    known = {day for day in cutoffs.values() if day}
    days = [day for _, events in versions for one in events for day in (one.days.first, one.days.last) if day]
    if not days:
        return None
    scale = _Scale.over([*days, *known])
    lanes = tuple(
        _lane(name, events, TOP + LANE * number, scale, today)
        for number, (name, events) in enumerate(versions, start=1)
    )
    lines = tuple(
        Line(scale.x(day), f"{', '.join(office for office, its in cutoffs.items() if its == day)} {day}")
        for day in sorted(known)
    )
    words = ". ".join(
        [f"{lane.name}: public {lane.public or 'on no day known'}" for lane in lanes]
        + [f"Cutoff {line.words}" for line in lines]
    )
    return TimeLine(lanes, lines, scale.ticks(), TOP + LANE * (len(lanes) + 1), words)


@dataclass(frozen=True)
class _Scale:
    first: date
    last: date

    @classmethod
    def over(cls, days: Iterable[date]) -> _Scale:
        found = sorted(days)
        room = max((found[-1] - found[0]) // 20, timedelta(days=60))
        return cls(_moved(found[0], -room), _moved(found[-1], room))

    def x(self, day: date) -> float:
        share = (day - self.first) / (self.last - self.first)
        return round(LEFT + (RIGHT - LEFT) * min(1.0, max(0.0, share)), 1)

    def ticks(self) -> tuple[Line, ...]:
        """Return at most nine years, or the quarters where all lies within two years."""
        years = range(self.first.year + 1, self.last.year + 1)
        if len(years) < 2:
            quarters = [
                date(year, month, 1) for year in (self.first.year, self.last.year) for month in (1, 4, 7, 10)
            ]
            inside = sorted({day for day in quarters if self.first < day < self.last})
            return tuple(Line(self.x(day), f"{day:%Y-%m}") for day in inside)
        step = next(step for step in (1, 2, 5, 10, 20, 50, 100, 200, 500, 2000) if len(years) / step <= 9)
        return tuple(Line(self.x(date(year, 1, 1)), str(year)) for year in years if year % step == 0)


def _moved(day: date, by: timedelta) -> date:
    try:
        return day + by
    except OverflowError:
        return date.min if by < timedelta() else date.max


def _lane(name: str, events: Sequence[Dated], y: float, scale: _Scale, today: date) -> Lane:
    public = [one.days for one in events if one.public]
    earliest = min(public, key=lambda days: (days.last or date.max, days.first or date.min), default=None)
    marks = tuple(_mark(one, scale, today) for one in events if one.days.first or one.days.last)
    x = scale.x(earliest.last or today) if earliest else LEFT
    return Lane(name, y, marks, earliest.text() if earliest else "", x)


def _mark(one: Dated, scale: _Scale, today: date) -> Mark:
    first, last = one.days.first or scale.first, one.days.last or max(today, one.days.first or today)
    x, end = scale.x(first), scale.x(last)
    width = 0.0 if one.days.exact else max(LEAST, round(end - x, 1))
    words = f"{one.kind} {one.days.text()}, {one.says}"
    return Mark(x, width, one.public, None in (one.days.first, one.days.last), words)
