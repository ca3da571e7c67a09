"""The calendar file keeps to RFC 5545."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime

from connectors.days import Days
from pipeline.exports.icalendar import calendar
from pipeline.law.clocks import MatterDates, MatterEvent, clocks

NOW = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
DATES = MatterDates(
    (
        MatterEvent(
            "own disclosure", Days.of_day(date(2026, 2, 28)), note="Messe; Köln, „Fläche“ \\ 漢字" * 4
        ),
    ),
    ("US", "EP", "JP"),
)
FOUND = clocks(DATES, NOW.date())


def lines(body: bytes) -> list[str]:
    """Return the unfolded lines."""
    return body.decode().replace("\r\n ", "").split("\r\n")[:-1]


def test_lines_end_in_crlf_and_hold_75_octets_at_most() -> None:
    """RFC 5545, 3.1; a fold never splits a character."""
    body = calendar("m", FOUND, NOW)
    assert body.endswith(b"END:VCALENDAR\r\n") and b"\n" not in body.replace(b"\r\n", b"")
    for line in body.split(b"\r\n"):
        assert len(line) <= 75
        line.decode()


def test_text_is_escaped_and_comes_back() -> None:
    """RFC 5545, 3.3.11: backslash, semicolon, comma and line break."""
    text = next(line for line in lines(calendar("m", FOUND, NOW)) if line.startswith("DESCRIPTION"))
    assert not re.search(r"(?<!\\)(?:\\\\)*[;,]", text.removeprefix("DESCRIPTION:"))
    plain = re.sub(r"\\(.)", lambda m: "\n" if m[1] == "n" else m[1], text)
    assert DATES.events[0].note in plain


def test_events_last_one_whole_day_the_safe_one() -> None:
    """28 February 2027 is a Sunday: the event lies on Friday, its title names Monday."""
    body = lines(calendar("m", [c for c in FOUND if c.office == "US"], NOW))
    assert "DTSTART;VALUE=DATE:20270226" in body and "DTEND;VALUE=DATE:20270227" in body
    assert any(line.startswith("SUMMARY") and "last day 2027-03-01" in line for line in body)


def test_past_and_stopped_clocks_are_left_out() -> None:
    """The EPO's six months are over in November; a stopped clock needs no reminder."""
    body = calendar("m", FOUND, NOW)
    assert body.count(b"BEGIN:VEVENT") == sum(not clock.past for clock in FOUND) < len(FOUND)
    assert b"BEGIN:VEVENT" not in calendar("m", [replace(c, stopped_by="x") for c in FOUND], NOW)


def test_uids_are_stable_unique_and_survive_a_moved_date() -> None:
    """A second import moves the event; two matters never share one."""

    def uids(body: bytes) -> list[str]:
        return [line for line in lines(body) if line.startswith("UID")]

    first = uids(calendar("m", FOUND, NOW))
    moved = calendar("m", [replace(clock, safe_day=date(2027, 1, 4)) for clock in FOUND], NOW)
    assert first == uids(moved) and len(set(first)) == len(first)
    assert not set(first) & set(uids(calendar("other", FOUND, NOW)))
    assert len(set(uids(calendar("m", [*FOUND, *FOUND], NOW)))) == 2 * len(first)
