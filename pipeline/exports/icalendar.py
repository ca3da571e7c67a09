"""The clocks that still run as a calendar file (RFC 5545): all-day events, one a clock."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

from pipeline import cautions
from pipeline.law.clocks import Clock

_LINE_OCTETS = 75  # RFC 5545, 3.1: without the line break


def calendar(matter: str, clocks: Iterable[Clock], made_at: datetime) -> bytes:
    """Return the calendar in UTF-8 with CRLF line ends; past and stopped clocks are left out.

    An event lies on the clock's safe day; its text names the last day. made_at: with time
    zone. UIDs stay the same from one writing to the next, so that a second import moves an
    event instead of doubling it.
    """
    stamp = made_at.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Antedate//Clocks//EN", "CALSCALE:GREGORIAN"]
    seen: dict[str, int] = {}
    for clock in clocks:
        key = "\n".join((matter, clock.office, clock.name, clock.start_event))
        seen[key] = seen.get(key, 0) + 1
        if not clock.past and not clock.stopped_by:
            lines += _event(clock, f"{key}\n{seen[key]}", matter, stamp)
    lines.append("END:VCALENDAR")
    return b"".join(_folded(line) for line in lines)


def _event(clock: Clock, key: str, matter: str, stamp: str) -> list[str]:
    uid = hashlib.sha256(key.encode()).hexdigest()[:32]
    last = f" (last day {clock.due})" if clock.due != clock.safe_day else ""
    return [
        "BEGIN:VEVENT",
        f"UID:{uid}@antedate.invalid",
        f"DTSTAMP:{stamp}",
        f"DTSTART;VALUE=DATE:{clock.safe_day:%Y%m%d}",
        f"DTEND;VALUE=DATE:{clock.safe_day + timedelta(days=1):%Y%m%d}",
        "SUMMARY:" + _escaped(f"{matter}: {clock.office} {clock.name}{last}"),
        "DESCRIPTION:" + _escaped(_description(clock)),
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def _description(clock: Clock) -> str:
    parts = (
        f"From {clock.start_event}, {clock.start.text()}: {clock.period}.",
        f"Counted day {clock.unrolled}, safe day {clock.safe_day}, last day {clock.due}.",
        "; ".join(clock.because),
        f"By {clock.rule}; {cautions.written_down(clock.checked, clock.source)}.",
        f"Stopped by: {clock.stops_when}.",
        f"After it is missed: {clock.after_missed}.",
        clock.note,
        cautions.CLOCK,
    )
    return "\n".join(part for part in parts if part)


def _escaped(text: str) -> str:
    """RFC 5545, 3.3.11; other control characters may not stand in a text at all."""
    for char, written in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\r\n", "\n"), ("\n", "\\n")):
        text = text.replace(char, written)
    return "".join(char if char == "\t" or (ord(char) >= 32 and ord(char) != 127) else " " for char in text)


def _folded(line: str) -> bytes:
    """Return the line broken so that no part passes the limit, never inside a character."""
    parts, part = [], b""
    for char in line:
        octets = char.encode("utf-8", "replace")
        if len(part) + len(octets) > _LINE_OCTETS:
            parts.append(part)
            part = b" "
        part += octets
    return b"\r\n".join([*parts, part]) + b"\r\n"
