"""Addresses and moments of archived copies: what is the original, and when was it captured."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime

from connectors.days import Days
from connectors.record import StatedDate

_REPLAY = re.compile(r"https?://web\.archive\.org/web/(\d{14})(?:[a-z]{2}_)?/(\S+)", re.IGNORECASE)
_FIRST_PAGES = date(1991, 8, 6)  # there was no web before; an index row that says so is damaged
MAY_BE_EARLIER = "the archive fetched it then; it may have been public before"


def replayed(url: str) -> tuple[str, str] | None:
    """Return the 14-digit moment and the original address of a replay address, else None."""
    found = _REPLAY.fullmatch(url)
    if not found:
        return None
    original = found[2].rstrip("/") if found[2].endswith('/"/') else found[2]
    return found[1], original if "://" in original else f"http://{original}"


def moment(timestamp: str) -> datetime | None:
    """Return the UTC moment of a 14-digit timestamp, None for an impossible one (month 00, hour 24)."""
    if not re.fullmatch(r"\d{14}", timestamp, re.ASCII):
        return None
    try:
        read = datetime.strptime(timestamp, "%Y%m%d%H%M%S").replace(tzinfo=UTC)
    except ValueError:
        return None
    return read if read.date() >= _FIRST_PAGES else None


def captured(timestamp: str) -> StatedDate | None:
    """Return the event that a capture proves: public on its day (UTC) at the latest, or None."""
    at = moment(timestamp)
    if at is None:
        return None
    return StatedDate("captured", timestamp, Days(None, at.date()), "timestamp", MAY_BE_EARLIER)
