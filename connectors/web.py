"""Pages and pictures the user points at, as this program captured them. Pure: bytes to record.

The answer's state says what the bytes cannot: which address was asked, where it led, when,
which evidence file holds it whole, and for a picture what the page around it said of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from connectors.connector import Page, Parsed, Request, Source
from connectors.days import Days
from connectors.errors import SourceError, SourceRefused
from connectors.page_reader import Reading, last_modified, read_body
from connectors.record import Record, Relation, StatedDate, StatedIdentifier
from connectors.replay_address import captured, replayed

STEP = "capture"

SOURCE = Source(
    name="web",
    title="Pages and pictures pointed at",
    kinds=("web page", "picture", "other"),
    base_url="",
    page_size=1,
    depth=None,
    seconds_between=1.0,
    terms_of_use="Each site's own; its robots.txt is kept to.",
    manual="https://html.spec.whatwg.org; schema.org; ogp.me; Dublin Core; RFC 9309, 9110; Exif 2.32",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "captured here": "fetched by this program on that day: public by then, for these bytes",
        "claimed published": "the page says so, and whoever runs it can change it: no proof",
        "claimed offered": "release or offer for sale by the page's own word: no proof",
        "claimed created": "by the page's own word; not a public date",
        "claimed date": "a date on the page that does not say of what: no proof",
        "submitted": "by the page's own word; not a public date",
        "accepted": "by the page's own word; not a public date",
        "updated": "by the page's or its server's word; not the first public date",
        "taken": "the clock of the camera; not a public date",
    },
    contact_wanted=True,
)


def capture_request(asked: str, facts: Mapping[str, str]) -> Request:
    """Return the request under which a capture of the address is kept.

    facts: final (where it led), at (UTC, ISO 8601), evidence (file in the matter), redirects
    in words; for a picture also page, where, alt, title, caption. Empty ones are left out.
    """
    state = tuple((name, text) for name, text in facts.items() if text)
    return Request(SOURCE.name, asked, step=STEP, state=state)


def judge(page: Page) -> SourceError | None:
    """Return None for an answer that holds something, else what is wrong."""
    return None if page.status == 200 else SourceRefused(SOURCE.name, f"answered {page.status}")


def read_capture(page: Page) -> Reading:
    """Return what the captured bytes state."""
    final = dict(page.request.state).get("final", page.request.path)
    return read_body(page.body, page.headers.get("content-type", ""), final, page.received_on)


def parse(page: Page) -> Parsed:
    """Return the page or picture as one record, and its unreadable parts as quarantined items."""
    reading = read_capture(page)
    return Parsed(1 + len(reading.unread), (record_of(page, reading),), reading.unread)


def record_of(page: Page, reading: Reading) -> Record:
    """Return the record that a capture and what was read of it make."""
    facts = dict(page.request.state)
    asked, final = page.request.path, facts.get("final", page.request.path)
    texts = {**reading.texts, **_around(facts, reading)} if reading.kind == "picture" else reading.texts
    addresses = [StatedIdentifier("url", address) for address in dict.fromkeys((asked, final))]
    of_archive = replayed(final)
    by_archive = captured(of_archive[0]) if of_archive else None
    parent = facts.get("page", "")
    return Record(
        source=SOURCE.name,
        native_id=asked,
        kind=reading.kind,
        people=reading.people,
        url=final,
        identifiers=(*addresses, *reading.identifiers),
        dates=(
            _ours(facts, page.received_on),
            *([by_archive] if by_archive else []),
            *reading.dates,
            *last_modified(page.headers),
        ),
        relations=(Relation("part of", StatedIdentifier("url", parent), "a picture on it"),)
        if parent
        else (),
        details=(*_details(facts, of_archive), *reading.details),
        **texts,  # type: ignore[arg-type]
    )


def _ours(facts: Mapping[str, str], received_on: date) -> StatedDate:
    """Return our own capture as an event: public on that day at the latest."""
    at = facts.get("at", "")
    day = datetime.fromisoformat(at).date() if at else received_on
    note = f"kept whole in {facts['evidence']}" if facts.get("evidence") else ""
    return StatedDate("captured here", at or day.isoformat(), Days(None, day), "our own fetch", note)


def _around(facts: Mapping[str, str], reading: Reading) -> dict[str, str]:
    """Return a picture's title and text from what the page around it says of it."""
    told = [facts[name] for name in ("caption", "alt", "title") if facts.get(name)]
    text = "\n".join(dict.fromkeys(told))
    return {"title": told[0][:300], "abstract": text} if told else {"title": reading.texts["title"]}


def _details(facts: Mapping[str, str], of_archive: tuple[str, str] | None) -> tuple[tuple[str, str], ...]:
    named = {
        "evidence": facts.get("evidence", ""),
        "led there by": facts.get("redirects", ""),
        "shown on": facts.get("page", ""),
        "place on that page": facts.get("where", ""),
        "alt text": facts.get("alt", ""),
        "archived copy of": of_archive[1] if of_archive else "",
    }
    return tuple((name, text) for name, text in named.items() if text)
