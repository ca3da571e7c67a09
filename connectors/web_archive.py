"""The web archive: the earliest capture of an address, and whether it shows what was captured.

Asked in up to three steps: the index for the earliest capture with status 200; the index
for the earliest with exactly the bytes we hold; the earliest copy itself, to hold its text
against ours. Only then is it joined to the page: an address can have shown anything before.
Nothing but the address (and a hash of the bytes) is sent.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date
from email.utils import parsedate_to_datetime
from typing import Any

from connectors.connector import Compiled, Page, Parsed, Quarantined, Request, Signed, Source
from connectors.errors import SourceBusy, SourceChanged, SourceError, SourceRefused
from connectors.page_reader import Reading, last_modified, read_body
from connectors.page_text import share_of
from connectors.picture_file import ALIKE, likeness_gap
from connectors.record import Record, Relation, StatedIdentifier
from connectors.replay_address import captured, moment
from queries.expression import Expression
from queries.window import Window

INDEX, BYTES, REPLAY = "index", "same bytes", "replay"
ROWS = 10  # the earliest rows looked at: some have impossible moments
HALF = 0.5  # of our text must stand in the archived copy for it to be called an earlier version
_COLUMNS = ["timestamp", "original", "statuscode", "digest"]
NONE: Mapping[str, str] = {}
WAIT_WHEN_BUSY_S = 60.0  # it sends no Retry-After; ignoring a 429 for a minute blocks the address

SOURCE = Source(
    name="web_archive",
    title="Web archive (Internet Archive)",
    kinds=("web page", "picture", "other"),
    base_url="https://web.archive.org",
    page_size=ROWS,
    depth=None,
    seconds_between=3.0,
    terms_of_use="archive.org/about/terms; 30 index requests a minute, of which a part is used here.",
    manual="https://github.com/internetarchive/wayback/tree/master/wayback-cdx-server; RFC 7089 (Memento)",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "captured": "a third party fetched it on that day: public by then, for exactly the bytes it kept",
        "claimed published": "the archived page says so of itself: no proof",
        "claimed offered": "release or offer for sale by the archived page's own word: no proof",
        "claimed created": "by the archived page's own word; not a public date",
        "claimed date": "a date on the archived page that does not say of what: no proof",
        "submitted": "by the archived page's own word; not a public date",
        "accepted": "by the archived page's own word; not a public date",
        "updated": "by the archived page's or its server's word",
        "taken": "the clock of the camera; not a public date",
    },
    contact_wanted=True,
)


def earliest_request(address: str, about: Mapping[str, str]) -> Request:
    """Return the request for the earliest capture of the address.

    about: what we hold, for the comparison, all of it optional: page (the address it was
    captured under), sha1 (its body's, base32), sample (of its text), likeness, pixels; for
    a picture title and text. None of it is sent but the sha1, in a second question.
    """
    state = (("address", address), *((name, text) for name, text in about.items() if text))
    return Request(SOURCE.name, "cdx/search/cdx", _query(address), step=INDEX, state=state)


def sha1_base32(body: bytes) -> str:
    """Return the digest as the archive's index writes it."""
    return base64.b32encode(hashlib.sha1(body).digest()).decode()  # noqa: S324 - the archive's choice


def _query(address: str, *filters: str) -> tuple[tuple[str, str], ...]:
    wanted = [("filter", text) for text in ("statuscode:200", *filters)]
    return (("url", address), ("matchType", "exact"), ("output", "json"), ("limit", str(ROWS)), *wanted)


def compile(expression: Expression, window: Window) -> Compiled:  # noqa: ARG001 - the contract's name
    """Return no request: an archive of addresses knows no search words."""
    return Compiled((), ("it is asked by address alone, by `antedate capture`",))


def sign(request: Request, keys: Mapping[str, str], contact: str) -> Signed:  # noqa: ARG001
    """Return nothing to add: reading needs no key."""
    return Signed()


def pause(page: Page) -> float:  # noqa: ARG001 - the archive states no waits
    """Return 0: its headers ask for no wait."""
    return 0.0


def judge(page: Page) -> SourceError | None:
    """Return None where the answer says something of the address, a no included."""
    if _at(page) or page.status == 200 or _excluded(page):
        return None  # with Memento-Datetime any status is the archived answer's, not the archive's
    if page.status == 429:
        return SourceBusy(SOURCE.name, "asks to be left alone (429)", WAIT_WHEN_BUSY_S)
    if page.request.step == REPLAY and page.status == 404:
        return None
    if page.status < 500 and page.status >= 400:
        return SourceRefused(SOURCE.name, f"answered {page.status}")
    return None


def follow(request: Request, page: Page, today: date) -> list[Request]:  # noqa: ARG001
    """Return the look-ups an index answer leads to: the copy itself, and our own bytes."""
    if request.step != INDEX or _excluded(page):
        return []
    row = _earliest(_rows(page))[0]
    if row is None:
        return []
    about = dict(request.state)
    ours = about.get("sha1", "")
    if ours and row["digest"] == ours:
        return []  # the earliest capture is what we hold, byte for byte
    state = (*request.state, ("timestamp", row["timestamp"]), ("digest", row["digest"]))
    original = row["original"].replace("#", "%23").replace(" ", "%20")
    copy = Request(SOURCE.name, f"web/{row['timestamp']}id_/{original}", step=REPLAY, state=state)
    if not ours:
        return [copy]
    query = _query(about["address"], f"digest:{ours}")
    return [copy, Request(SOURCE.name, request.path, query, step=BYTES, state=request.state)]


def parse(page: Page) -> Parsed:
    """Return the earliest capture as one record; rows with impossible moments are quarantined."""
    if excluded := _excluded(page):
        return Parsed(0, (), partial=excluded)
    return _parsed_copy(page) if page.request.step == REPLAY else _parsed_index(page)


# --- the index -------------------------------------------------------------------


def _excluded(page: Page) -> str:
    """Return that the archive shows nothing of this address on purpose, else ""."""
    error = page.headers.get("x-archive-wayback-runtime-error", "") + page.body[:500].decode(
        "utf-8", "replace"
    )
    if page.status != 403 or "AccessControlException" not in error:
        return ""
    return "the archive keeps this address closed; that says nothing of when it was public"


def _rows(page: Page) -> list[dict[str, str]]:
    """Return the rows of an index answer by column. Raises SourceChanged for another shape."""
    if not page.body.strip():
        return []
    try:
        table = json.loads(page.body)
        head = table[0] if table else _COLUMNS
        rows = [dict(zip(head, map(str, row), strict=True)) for row in table[1:]]
    except (ValueError, TypeError, KeyError, IndexError, RecursionError):
        raise SourceChanged(SOURCE.name, "its index answer is no table of rows") from None
    if not isinstance(table, list) or not isinstance(head, list) or not set(_COLUMNS) <= set(head):
        raise SourceChanged(SOURCE.name, "its index answer lacks columns", path="row 1")
    return rows


def _earliest(rows: list[dict[str, str]]) -> tuple[dict[str, str] | None, list[dict[str, str]]]:
    """Return the earliest row that dates something, and those with moments that cannot be."""
    good = [row for row in rows if row["statuscode"] == "200" and moment(row["timestamp"])]
    bad = [row for row in rows if not moment(row["timestamp"])]
    return min(good, key=lambda row: row["timestamp"], default=None), bad


def _parsed_index(page: Page) -> Parsed:
    row, bad = _earliest(_rows(page))
    unread = tuple(
        Quarantined(
            place, "timestamp", f"{one['timestamp']} is no moment; the row dates nothing", str(one)[:500]
        )
        for place, one in enumerate(bad, 1 if row else 0)
    )
    records = (_of_row(page, row),) if row else ()
    return Parsed(len(records) + len(unread), records, unread)


def _of_row(page: Page, row: Mapping[str, str]) -> Record:
    about = dict(page.request.state)
    same = bool(about.get("sha1")) and row["digest"] == about.get("sha1")
    mimetype = row.get("mimetype", "")
    compared = "the same bytes as captured" if same else "not read yet: what it shows is not known"
    return _record(
        _Capture(
            about,
            row["timestamp"],
            row["original"],
            "picture" if mimetype.startswith("image/") else "web page",
            "same as" if same else "",
            (("archived copy", compared), ("index", f"{mimetype} digest {row['digest']}")),
        )
    )


# --- the copy --------------------------------------------------------------------


def _at(page: Page) -> str:
    """Return the moment the archive says this copy was captured, as 14 digits, else ""."""
    try:
        stated = parsedate_to_datetime(page.headers.get("memento-datetime", ""))
    except (ValueError, TypeError, OverflowError):
        return ""
    return stated.replace(tzinfo=UTC).strftime("%Y%m%d%H%M%S")


def _parsed_copy(page: Page) -> Parsed:
    timestamp, about = _at(page), dict(page.request.state)
    if not moment(timestamp) or page.status != 200:
        reason = f"answered {page.status} without a moment of capture: a page of the archive itself, no copy"
        if timestamp:
            reason = f"the archived answer has status {page.status}: it says nothing of the page"
        return Parsed(1, (), (Quarantined(0, "", reason, page.body[:300].decode("utf-8", "replace")),))
    original = page.request.path.partition("id_/")[2].replace("%23", "#")
    reading = read_body(page.body, page.headers.get("content-type", ""), original, page.received_on)
    relation, told = _compared(page.body, reading, about)
    details = [("archived copy", told), ("digest", _digest_told(page.body, about))]
    if timestamp != about.get("timestamp"):
        details.append(("capture", f"asked for {about.get('timestamp')}, the archive gave {timestamp}"))
    if origin := page.headers.get("x-archive-orig-date"):
        details.append(("clock of the original server at capture", origin))
    capture = _Capture(about, timestamp, original, reading.kind, relation, tuple(details))
    record = _record(capture, reading, _original_headers(page))
    return Parsed(1 + len(reading.unread), (record,), reading.unread)


def _digest_told(body: bytes, about: Mapping[str, str]) -> str:
    mine, stated = sha1_base32(body), about.get("digest", "")
    if mine == stated:
        return f"{mine}, as the archive's index states"
    return f"{mine}; the index states {stated}, which may be of the packed form"


def _compared(body: bytes, reading: Reading, about: Mapping[str, str]) -> tuple[str, str]:
    """Return how the copy relates to what we captured, and that in words; ("", …) where unknown."""
    if about.get("sha1") == sha1_base32(body):
        return "same as", "the same bytes as captured"
    if about.get("pixels") and about["pixels"] == reading.pixels_sha256:
        return "same as", "the same picture, pixel by pixel"
    gap = likeness_gap(about.get("likeness", ""), reading.likeness)
    if gap is not None:
        told = f"{gap[0]} and {gap[1]} of 64 bits of the likeness hashes differ"
        if max(gap) <= ALIKE:
            return "version of", f"looks like the picture captured: {told}"
        return "other content than", f"does not look like the picture captured: {told}"
    sample = tuple(about.get("sample", "").split())
    share = share_of(sample, reading.texts.get("abstract", ""))
    if share is None:
        return "", "could not be compared with what was captured"
    told = f"about {share:.0%} of the captured text stands in it"
    return ("version of", told) if share >= HALF else ("other content than", told)


@dataclass(frozen=True)
class _Capture:
    """One capture. about: what we hold. relation: what it is to that, "" where not known."""

    about: Mapping[str, str]
    timestamp: str
    original: str
    kind: str
    relation: str
    details: tuple[tuple[str, str], ...]


def _record(capture: _Capture, reading: Reading | None = None, headers: Mapping[str, str] = NONE) -> Record:
    """Return the capture as a record. Its own address is that of the copy, since the original
    address is the same for every copy, whatever it showed; what it is to the page is a relation."""
    timestamp, about = capture.timestamp, capture.about
    replay = f"{SOURCE.base_url}/web/{timestamp}/{capture.original}"
    event, to = captured(timestamp), StatedIdentifier("url", about.get("page", ""))
    texts: dict[str, Any] = {"title": "", **(reading.texts if reading else {})}
    if capture.kind == "picture" and about.get("title"):
        texts |= {"title": about["title"], "abstract": about.get("text", "")}
    reading = reading or Reading(capture.kind)
    # One capture looked up for two pages is two records, each with its own relation.
    relations = [Relation("same as", StatedIdentifier("url", replay))]
    relations += [Relation(capture.relation, to)] if capture.relation and to.text else []
    return Record(
        source=SOURCE.name,
        native_id=f"{timestamp}/{capture.original}" + (f" beside {to.text}" if to.text else ""),
        kind=capture.kind,
        version=f"as captured {timestamp[:4]}-{timestamp[4:6]}-{timestamp[6:8]}",
        url=replay,
        people=reading.people,
        identifiers=(StatedIdentifier("url", replay), *reading.identifiers),
        dates=(*([event] if event else []), *reading.dates, *last_modified(headers)),
        relations=tuple(relations),
        details=(("address captured", capture.original), *capture.details, *reading.details),
        **texts,
    )


def _original_headers(page: Page) -> dict[str, str]:
    """Return the original server's headers, which the archive keeps under names of its own."""
    front = "x-archive-orig-"
    return {name.removeprefix(front): text for name, text in page.headers.items() if name.startswith(front)}
