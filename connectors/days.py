"""A vague date as the interval of days it allows: [first, last], both included."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Days:
    """The days a statement allows. None at an end means: open, not known.

    "2019" is 2019-01-01..2019-12-31; a full day has first == last.
    """

    first: date | None
    last: date | None

    def __post_init__(self) -> None:
        """Refuse a reversed interval."""
        if self.first and self.last and self.first > self.last:
            raise ValueError(f"days run backwards: {self.first}..{self.last}")

    @property
    def exact(self) -> bool:
        """True for one known day."""
        return self.first is not None and self.first == self.last

    @classmethod
    def of_year(cls, year: int) -> Days:
        """Return every day of the year."""
        return cls(date(year, 1, 1), date(year, 12, 31))

    @classmethod
    def of_month(cls, year: int, month: int) -> Days:
        """Return every day of the month."""
        return cls(date(year, month, 1), date(year, month, calendar.monthrange(year, month)[1]))

    @classmethod
    def of_day(cls, day: date) -> Days:
        """Return the one day."""
        return cls(day, day)

    def text(self) -> str:
        """Return the interval as people write it: 2019, 2019-03, 2019-03-04, or first..last."""
        if self.first is None or self.last is None:
            return f"{self.first or '?'}..{self.last or '?'}"
        if self.exact:
            return self.first.isoformat()
        if self == Days.of_year(self.first.year):
            return f"{self.first.year:04d}"
        if self == Days.of_month(self.first.year, self.first.month):
            return f"{self.first.year:04d}-{self.first.month:02d}"
        return f"{self.first}..{self.last}"


def parse_days(text: str) -> Days | None:
    """Return the days that `YYYY`, `YYYY-MM`, `YYYY-MM-DD` or `YYYYMMDD` allow, else None.

    Slashes stand for hyphens; a month or day of 00 is unknown (WIPO ST.2 as the offices'
    data use it: 19840300 is March 1984). Impossible days (2019-02-30) give None: never a guess.
    """
    digits = text.strip().replace("/", "-").rstrip("-")
    parts = digits.split("-")
    if len(parts) == 1 and len(digits) == 8:
        parts = [digits[:4], digits[4:6], digits[6:]]
    if not all(part.isascii() and part.isdigit() for part in parts) or len(parts[0]) != 4:
        return None
    return days_of_parts([int(part) for part in parts])


def days_of_parts(parts: list[int]) -> Days | None:
    """Return the days that [year], [year, month] or [year, month, day] allow, else None.

    A 0 for month or day is unknown, like its absence.
    """
    if not parts or len(parts) > 3 or not 1000 <= parts[0] <= 9999:
        return None
    while len(parts) > 1 and parts[-1] == 0:
        parts = parts[:-1]
    try:
        if len(parts) == 1:
            return Days.of_year(parts[0])
        if len(parts) == 2:
            return Days.of_month(parts[0], parts[1])
        return Days.of_day(date(*parts))
    except ValueError:
        return None
