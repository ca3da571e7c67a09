"""How long to wait for a source, and how long not to: limits, clock, slots, Retry-After."""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime


@dataclass(frozen=True)
class Limits:
    """What one request may cost. size_bytes counts the decoded body; total_s the whole of
    one attempt, connect_s the connecting alone; patience_s is the longest wait that is
    slept through; backoff_s doubles with each failure up to backoff_most_s."""

    size_bytes: int = 50_000_000
    total_s: float = 60.0
    connect_s: float = 10.0
    attempts: int = 5
    patience_s: float = 120.0
    backoff_s: float = 1.0
    backoff_most_s: float = 60.0
    redirects: int = 3


def _utc_now() -> datetime:
    return datetime.now(UTC)


def _nobody(_wait_s: float, _why: str) -> None:
    """Take no notice of a wait."""


@dataclass(frozen=True)
class Clock:
    """Time and chance as the session meets them, so that a test can stand in for both.

    now: seconds that never run backwards. today: the time of day, UTC. chance: a number
    in [0, 1). on_wait: told of each wait before it is slept, with seconds and reason.
    """

    now: Callable[[], float] = time.monotonic
    sleep: Callable[[float], None] = time.sleep
    today: Callable[[], datetime] = _utc_now
    chance: Callable[[], float] = random.SystemRandom().random
    on_wait: Callable[[float, str], None] = _nobody


class Slots:
    """One slot every seconds_between, and none before a pause has passed.

    Own code, not pyrate_limiter: its blocking call sleeps by the system clock (no clock
    can be handed in, so tests would wait for real) and lets through a burst at a window's edge.
    """

    def __init__(self, seconds_between: float, clock: Clock) -> None:
        """Begin with a slot free at once."""
        self.between_s = seconds_between
        self.clock = clock
        self.next_at = -math.inf

    def wait_s(self) -> float:
        """Return the seconds until the next slot; 0 when it is free."""
        return max(0.0, self.next_at - self.clock.now())

    def take(self) -> None:
        """Use the slot of now; the next one is seconds_between away."""
        self.next_at = self.clock.now() + self.between_s

    def hold(self, pause_s: float) -> None:
        """Give no slot before pause_s from now."""
        self.next_at = max(self.next_at, self.clock.now() + pause_s)


def seconds(value: float | None) -> float:
    """Return the wait a source asks for as a number that can be slept or refused.

    None, negative and not-a-number are 0; infinity stays, and is past all patience.
    """
    if value is None or math.isnan(value):
        return 0.0
    return max(0.0, value)


def retry_after(headers: Mapping[str, str], now: datetime) -> float | None:
    """Return the seconds a Retry-After header asks for, 0 where its day is past, else None.

    Both forms of RFC 9110, section 10.2.3: seconds, or a date. Anything else is None.
    """
    text = headers.get("retry-after", "").strip()
    if text.isascii() and text.isdigit() and len(text) < 12:
        return float(text)
    try:
        day = parsedate_to_datetime(text)
    except (ValueError, TypeError, OverflowError):
        return None
    if day.tzinfo is None:
        day = day.replace(tzinfo=UTC)
    return max(0.0, (day - now).total_seconds())


def backoff(failures: int, limits: Limits, chance: float) -> float:
    """Return the seconds to wait after that many failures: a random part of a doubling span.

    chance: in [0, 1). Random over the whole span, so that programs that failed together
    do not come back together.
    """
    span: float = min(limits.backoff_most_s, limits.backoff_s * 2.0 ** min(failures - 1, 30))
    return chance * span
