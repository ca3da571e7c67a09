"""What every source's module owes the rest of the program, held against its invented answers."""

from __future__ import annotations

import copy
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from connectors.connector import Connector, Page, Request
from connectors.errors import SourceBusy, SourceChanged, SourceError
from connectors.record import KINDS, PUBLIC_EVENTS
from connectors.registry import CONNECTORS
from queries.expression import And, Code, Expression, Not, Or, Text
from queries.window import ALL_DAYS, Window

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
TODAY = date(2026, 11, 25)
CASES = ("ordinary", "last", "empty", "odd", "torn")
NOT_FOUND = {("uspto_odp", "empty"), ("epo_ops", "empty")}  # these two say 'no results' by status
KEY = "a-secret-of-no-one-0123456789"
ASKED = And(
    (Or((Text("drip emitter"), Text("dripper"))), Or((Text("spring"), Text("nitinol"))), Not(Text("hose")))
)
EXPRESSIONS: dict[str, Expression] = {
    "a word": Text("emitter"),
    "groups and an exclusion": ASKED,
    "a symbol and a concept": And((Code("cpc", "A01G 25/02"), Or((Text("emitter"), Text("dripper"))))),
    "signs of query languages": And((Text('a*b? "c", d|e ~2 (f): [g] \\ {h} + - & ! ^ /i'), Text("<x> 'y' 名"))),
    "many forms": And((Or(tuple(Text(f"emitter number {n}") for n in range(60))), Text("valve"))),
}  # fmt: skip
every_source = pytest.mark.parametrize("connector", CONNECTORS, ids=lambda each: each.SOURCE.name)
# A corpus on this machine is no service: it answers from its own index, which its own tests hold.
SERVICES = [connector for connector in CONNECTORS if not connector.SOURCE.local]
every_service = pytest.mark.parametrize("connector", SERVICES, ids=lambda each: each.SOURCE.name)


def answer(connector: Connector, case: str) -> Page:
    """Return the invented answer of that case, as the answer to a first request."""
    name = connector.SOURCE.name
    [path] = (FIXTURES / name).glob(f"{case}.*")
    status = 404 if (name, case) in NOT_FOUND else 200
    return Page(first_request(connector), status, {}, path.read_bytes(), TODAY)


def first_request(connector: Connector) -> Request:
    """Return the first request for a word."""
    return connector.compile(Text("emitter"), ALL_DAYS).requests[0]


def covers(sent: Window, asked: Window) -> bool:
    """Say whether the window sent holds every day that was asked for."""
    early = sent.public_from is None or (asked.public_from or date.min) >= sent.public_from
    return early and (sent.public_to is None or (asked.public_to or date.max) <= sent.public_to)


@every_source
def test_the_declaration_is_whole(connector: Connector) -> None:
    """Kinds and dated events are known words; terms, manual and reach are stated; the address is https."""
    source = connector.SOURCE
    assert connector.__name__ == f"connectors.{source.name}"  # type: ignore[attr-defined]
    if not source.local:
        assert source.base_url.startswith("https://") and not source.base_url.endswith("/")
        assert source.manual.startswith("https://") and source.seconds_between > 0
    assert set(source.kinds) <= set(KINDS) and source.kinds
    assert set(source.dates_stated) <= set(PUBLIC_EVENTS) and all(source.dates_stated.values())
    assert source.terms_of_use and source.manual
    assert source.page_size > 0 and (source.depth is None or source.depth >= source.page_size)
    assert source.how_to_get_a_key or not (source.key_variables or source.optional_key_variables)


@every_source
@pytest.mark.parametrize("expression", EXPRESSIONS.values(), ids=EXPRESSIONS)
def test_compiling_twice_is_the_same_and_changes_nothing(
    connector: Connector, expression: Expression
) -> None:
    """Requests are those of this source, each once; where none is sent, a sentence says why."""
    window = Window(date(2019, 3, 1), date(2020, 7, 1))
    before = copy.deepcopy(expression)
    for asked in (ALL_DAYS, window):
        compiled = connector.compile(expression, asked)
        assert compiled == connector.compile(expression, asked)
        assert all(request.source == connector.SOURCE.name for request in compiled.requests)
        assert len(set(compiled.requests)) == len(compiled.requests)
        assert all(covers(request.window, asked) for request in compiled.requests)
        assert compiled.requests or compiled.not_expressed
        assert all(line.endswith((".", "!", "…")) for line in (*compiled.not_expressed, *compiled.splits))
    assert expression == before


@every_service
def test_forms_that_differ_in_a_hyphen_alone_are_asked_once(connector: Connector) -> None:
    """A search engine takes both as the same words: twice, they only make the query longer (brackets aside)."""
    once, both = Text("drip emitter"), Or((Text("drip emitter"), Text("drip-emitter")))
    asked = [connector.compile(And((each, Text("valve"))), ALL_DAYS).requests for each in (once, both)]
    bare = [re.sub("[()]", "", repr(requests)) for requests in asked]
    assert asked[0] and bare[0] == bare[1]


@every_source
def test_no_key_stands_in_a_request(connector: Connector) -> None:
    """Keys are in what sign returns, and sign does not add one that is not set."""
    source = connector.SOURCE
    keys = dict.fromkeys((*source.key_variables, *source.optional_key_variables), KEY)
    request = first_request(connector)
    signed = connector.sign(request, keys | ({"token": KEY} if source.token_path else {}), "me@example.org")
    assert KEY not in repr(request)
    assert (KEY in repr(signed)) == bool(keys)
    assert KEY not in repr(signed.params), "a key in an address gets into logs"
    assert not connector.sign(request, {}, "").headers


@every_service
@pytest.mark.parametrize("case", CASES[:-1])
def test_items_are_records_and_what_was_set_aside(connector: Connector, case: str) -> None:
    """Nothing is dropped; records name source, kind, and only the dated events that are declared."""
    page, source = answer(connector, case), connector.SOURCE
    assert connector.judge(page) is None
    parsed = connector.parse(page)
    assert parsed == connector.parse(page)
    assert parsed.items == len(parsed.records) + len(parsed.quarantined)
    assert (parsed.items == 0) == (case == "empty")
    assert bool(parsed.quarantined) == (case == "odd")
    for bad in parsed.quarantined:
        assert bad.path and bad.reason and len(bad.excerpt) <= 500
    for record in parsed.records:
        assert record.source == source.name and record.native_id
        assert record.kind in source.kinds or record.kind == "other"
        assert {stated.kind for stated in record.dates} <= set(source.dates_stated)
        assert all(stated.text and stated.field for stated in record.dates)
    names = [record.native_id for record in parsed.records]
    assert len(names) == len(set(names))


@every_service
def test_no_results_lead_to_no_other_page(connector: Connector) -> None:
    """A search that found nothing is over."""
    page = answer(connector, "empty")
    assert connector.follow(page.request, page, TODAY) == []


@every_service
def test_a_torn_answer_is_an_error(connector: Connector) -> None:
    """Half a page is never taken for a whole one, and the web page of a portal for no results."""
    portal = b"<!DOCTYPE html><html><body>Please sign in</body></html>"
    for page in (answer(connector, "torn"), replace(answer(connector, "torn"), body=portal)):
        if not isinstance(connector.judge(page), SourceError):
            with pytest.raises(SourceChanged):
                connector.parse(page)
            with pytest.raises(SourceChanged):
                connector.follow(page.request, page, TODAY)


@every_service
@pytest.mark.parametrize(("status", "kind"), [(429, SourceBusy), (503, SourceBusy), (500, SourceError), (400, SourceError),
                                              (401, SourceError), (403, SourceError)])  # fmt: skip
@pytest.mark.parametrize("body", [b"", b"<html>no</html>", b'{"message": "no"}', b"[1]", b"\xff\xfe\x00"])
def test_an_error_is_an_error_whatever_its_body(
    connector: Connector, status: int, kind: type, body: bytes
) -> None:
    """No status of failure passes for an answer to a first request."""
    page = Page(first_request(connector), status, {}, body, TODAY)
    assert isinstance(connector.judge(page), kind)


@every_service
def test_hostile_text_comes_through_unharmed(connector: Connector) -> None:
    """What an answer holds is data: it is neither run nor trusted, and does not break the parser."""
    page = answer(connector, "ordinary")
    body = page.body.replace(b"mitter", "mit\u202eter';--<script>alert(1)</script>=1+1".encode())
    if page.body.lstrip()[:1] == b"<":
        body = page.body.replace(
            b"mitter", "mit\u202eter';--&lt;script&gt;alert(1)&lt;/script&gt;=1+1".encode()
        )
    parsed = connector.parse(replace(page, body=body))
    assert parsed.items == connector.parse(page).items
    assert "\u202e" not in "".join(record.title for record in parsed.records)


@every_service
def test_what_is_said_of_its_depth_is_what_it_does(
    connector: Connector, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where more match than can be read, a source that declares so asks shorter spans of days, no other does."""
    page = answer(connector, "ordinary")
    assert connector.SOURCE.depth or not connector.SOURCE.narrows
    monkeypatch.setattr(connector, "SOURCE", replace(connector.SOURCE, depth=1))
    spans = {request.window for request in connector.follow(page.request, page, TODAY)} - {ALL_DAYS}
    assert bool(spans) is connector.SOURCE.narrows
