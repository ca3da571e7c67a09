"""The days a sweep asks about."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date


@dataclass(frozen=True)
class Window:
    """Days of publication [public_from, public_to), half open; None is open-ended.

    added_since: the source need only answer with what it added or changed on or after
    that day, where it can tell; a source that can't ignores it and answers in full.
    """

    public_from: date | None = None
    public_to: date | None = None
    added_since: date | None = None

    def __post_init__(self) -> None:
        """Refuse an empty or reversed window."""
        if self.public_from and self.public_to and self.public_from >= self.public_to:
            raise ValueError(f"window {self.public_from}..{self.public_to} holds no day")

    def halves(self, first: date, today: date) -> tuple[Window, Window] | None:
        """Return the window cut in two at its middle day, or None when it is a single day.

        first, today: where an open end is taken to lie (the newer half stays open where
        the window was).
        """
        start = self.public_from or first
        end = self.public_to or date.fromordinal(max(today.toordinal(), start.toordinal()) + 1)
        if end.toordinal() - start.toordinal() < 2:
            return None
        middle = date.fromordinal((start.toordinal() + end.toordinal()) // 2)
        return replace(self, public_to=middle), replace(self, public_from=middle)


ALL_DAYS = Window()
