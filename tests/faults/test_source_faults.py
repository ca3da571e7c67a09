"""Every fault × every source: what was kept is kept, the run says so in numbers, the next run completes it.

`python -m pytest tests/faults/test_source_faults.py -s` prints the table fault × source → outcome.
"""

from __future__ import annotations

import gzip
import re
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from connectors.registry import CONNECTORS

# A corpus on this machine is asked without a network.
SOURCE_NAMES = tuple(each.SOURCE.name for each in CONNECTORS if not each.SOURCE.local)
Answer = dict[str, Any]
FIRST_NIGHT = datetime(2026, 11, 25, 2, tzinfo=UTC)
TABLE: dict[tuple[str, str], str] = {}
HTML = {"Content-Type": "text/html"}


def on_second_page(change: Callable[[Any, int, Answer], Answer]) -> Callable[[Any, int, Answer], Answer]:
    """Return the fault that strikes the second page, whenever it is asked for."""
    return lambda service, start, answer: (
        change(service, start, answer) if start == service.page_size else answer
    )


def times(count: int, broken: Answer) -> Callable[[Any, int, Answer], Answer]:
    """Return the fault that gives the broken answer to the first requests for the second page."""
    return on_second_page(lambda service, start, answer: broken if service.asked[start] <= count else answer)


ALWAYS = 1_000


def busy(count: int, wait_s: int) -> Callable[[Any, int, Answer], Answer]:
    """Return the fault that asks to be left alone for so long. EPO states milliseconds (its guide)."""

    def strike(service: Any, start: int, answer: Answer) -> Answer:
        unit = 1_000 if service.name == "epo_ops" else 1
        return times(count, {"status": 429, "headers": {"Retry-After": str(wait_s * unit)}})(
            service, start, answer
        )

    return strike


def hang(_service: Any, _start: int, answer: Answer) -> Answer:
    """Send half of the body and then nothing."""
    body = answer["body"]

    def half(ended: threading.Event) -> Iterator[bytes]:
        yield body[: len(body) // 2]
        ended.wait(20)

    return {**answer, "body": half, "headers": {**answer["headers"], "Content-Length": str(len(body))}}


def cut_gzip(_service: Any, _start: int, answer: Answer) -> Answer:
    """Send a gzip body without its last third."""
    body = gzip.compress(answer["body"])
    return {**answer, "body": body[: len(body) * 2 // 3], "headers": {"Content-Encoding": "gzip"}}


def cut_text(_service: Any, _start: int, answer: Answer) -> Answer:
    """Send a body that ends in the middle, with the length that it has."""
    return {**answer, "body": answer["body"][: len(answer["body"]) * 2 // 3]}


def wrong_charset(_service: Any, _start: int, answer: Answer) -> Answer:
    """Send Latin-1 where UTF-8 is said."""
    return {**answer, "body": answer["body"].decode().encode("latin-1")}


def begin_anew(service: Any, start: int, _answer: Answer) -> Answer:
    """Show the first page again, with a cursor that leads here again."""
    return service.page(service.documents[: service.page_size], start, len(service.documents), start)


def shrink(service: Any, start: int, _answer: Answer) -> Answer:
    """State that there was no more than the first page, and show nothing."""
    return service.page([], start, service.page_size, None)


def show_nothing(service: Any, start: int, _answer: Answer) -> Answer:
    """Show nothing in mid-harvest, the total unchanged."""
    return service.page([], start, len(service.documents), None)


def slip(service: Any, start: int, answer: Answer) -> Answer:
    """Show the page one place too early: one document comes twice, one never."""
    if start == 0 or start >= len(service.documents):
        return answer
    end = start + service.page_size
    onward = end if end < len(service.documents) else None
    return service.page(service.documents[start - 1 : end - 1], start, len(service.documents), onward)


def repeat_one(service: Any, start: int, answer: Answer) -> Answer:
    """Show the last document of the first page again before the second page's own."""
    if start != service.page_size:
        return answer
    end = start + service.page_size
    onward = end if end < len(service.documents) else None
    return service.page(service.documents[start - 1 : end], start, len(service.documents), onward)


def flag_partial(service: Any, _start: int, answer: Answer) -> Answer:
    """Mark the answer as cut short, as the source itself does."""
    return {**answer, "body": service.player.partial(answer["body"])}


def garbage(service: Any, start: int, answer: Answer) -> Answer:
    """Put one item of garbage among the hundred."""
    if start:
        return answer
    documents = list(service.documents)
    documents[40] = None
    return service.page(documents, start, len(documents), None)


def refuse(service: Any, start: int, answer: Answer) -> Answer:
    """Refuse the token (EPO's 400 says so) once, or the request as from now on."""
    if service.name == "epo_ops":
        said = b"<error><code>400</code><message>invalid_access_token</message></error>"
        return {"status": 400, "body": said} if service.asked[start] == 1 else answer
    return {"status": 401, "body": b"{}"}


@dataclass(frozen=True)
class Fault:
    """What goes wrong, how the first night must end (by source where sources differ), and what it must say.

    missing: documents that no later night can bring either (garbage stays garbage).
    """

    strike: Callable[[Any, int, Answer], Answer]
    first: str
    unlike: tuple[tuple[str, str], ...] = ()
    says: str = ""
    missing: int = 0
    size: int = 0


FAULTS = {
    "429, wait 2 s, once": Fault(busy(1, 2), "complete"),
    "429, no wait said, once": Fault(times(1, {"status": 429}), "complete"),
    "429, wait an hour": Fault(busy(ALWAYS, 3_600), "incomplete", says="3,600 s"),
    "429 all night": Fault(times(ALWAYS, {"status": 429}), "incomplete", says="3 times"),
    "503 twice": Fault(times(2, {"status": 503}), "complete"),
    "503 all night": Fault(times(ALWAYS, {"status": 503}), "incomplete", says="3 times"),
    "hang mid-body": Fault(on_second_page(hang), "incomplete", says="no whole answer within"),
    "gzip cut off": Fault(on_second_page(cut_gzip), "incomplete", says="gzip"),
    "text cut off": Fault(on_second_page(cut_text), "incomplete"),
    "HTML with 200": Fault(times(ALWAYS, {"body": b"<html><body><p>Log in", "headers": HTML}), "incomplete"),
    "wrong charset": Fault(on_second_page(wrong_charset), "incomplete"),
    "cursor repeats": Fault(on_second_page(begin_anew), "incomplete", says="same page again|twice"),
    # Commons states no total: what it does not show, the next night's whole reading brings.
    "total shrinks": Fault(on_second_page(shrink), "incomplete", unlike=(("wikimedia", "complete"),)),
    "empty page": Fault(on_second_page(show_nothing), "incomplete", unlike=(("wikimedia", "complete"),)),
    "one twice, one never": Fault(slip, "incomplete", says="twice"),
    # By number of place, not by cursor: one shown twice moves another out of sight.
    "one twice": Fault(repeat_one, "complete", unlike=tuple((name, "incomplete") for name in ("arxiv", "epo_ops", "semanticscholar", "uspto_odp", "wikimedia"))),
    "flagged partial": Fault(flag_partial, "incomplete", says="not whole"),
    "1 garbage in 100": Fault(garbage, "complete", missing=1, size=100),
    "token or key refused": Fault(on_second_page(refuse), "incomplete", unlike=(("epo_ops", "complete"),)),
    "redirect loop": Fault(
        on_second_page(lambda at, _start, _answer: {"status": 307, "headers": {"Location": at.target}}),
        "incomplete",
        says="redirects more than",
    ),
}  # fmt: skip


# Of a source that has no word for the fault.
NEVER = "says no such thing"


@pytest.mark.parametrize("name", SOURCE_NAMES)
@pytest.mark.parametrize("what", FAULTS)
def test_a_fault_loses_nothing_and_is_said(play: Any, library: Any, what: str, name: str) -> None:
    """The first night keeps what came and ends as it must, with numbers; the second, unbroken, has everything."""
    fault = FAULTS[what]
    documents = library(name, fault.size)
    service, nights = play(name, documents, fault=fault.strike, size=fault.size)
    if fault.strike is flag_partial and service.player.partial is None:
        TABLE[what, name] = NEVER
        return
    first = nights.run(FIRST_NIGHT)
    kept = nights.answers()
    assert first.outcome == dict(fault.unlike).get(name, fault.first), first
    assert first.items == first.records + first.quarantined
    assert first.quarantined == fault.missing
    if first.outcome == "incomplete":
        assert re.search(fault.says, first.reason), first
        assert f"kept: {first.items:,} items" in first.reason
        assert first.records >= service.page_size
    service.fault = garbage if fault.missing else None
    second = nights.run(FIRST_NIGHT + timedelta(days=1))
    assert second.outcome == "complete", second
    assert nights.answers()[: len(kept)] == kept
    assert len(nights.names()) == len(documents) - fault.missing
    TABLE[what, name] = f"{first.outcome}, {first.items} kept" + (
        f", {first.quarantined} set aside" if first.quarantined else ""
    )


def test_the_table_is_whole_and_shown(capsys: pytest.CaptureFixture[str]) -> None:
    """Fault × source → how the first night ended; the second had everything wherever a row stands here."""
    if len(TABLE) < len(FAULTS) * len(SOURCE_NAMES):
        pytest.skip("the table is printed where all faults ran")
    for what in FAULTS:
        cells = [TABLE[what, name] for name in SOURCE_NAMES]
        assert any(cell != NEVER for cell in cells), f"{what} struck no source"
        assert all(cell == NEVER or re.match(r"(in)?complete, [1-9]\d* kept", cell) for cell in cells), cells
    rows = [("fault, first night", *SOURCE_NAMES)]
    rows += [(what, *(TABLE[what, name] for name in SOURCE_NAMES)) for what in FAULTS]
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    with capsys.disabled():
        print()
        for row in rows:
            print("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
