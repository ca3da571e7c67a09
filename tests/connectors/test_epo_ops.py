"""EPO OPS: what is asked, how its refusals are read, and what its documents state."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors import epo_ops
from connectors.connector import Connector, Page, Request
from connectors.epo_ops_cql import expressible, fits, in_cql
from connectors.errors import SourceBusy, SourceChanged, SourceRefused, TokenExpired
from connectors.record import Record
from connectors.session import Session
from queries.expression import And, Code, Document, Expression, Not, Or, Text, leaves, matches
from queries.window import ALL_DAYS, Window

EPO_OPS: Connector = epo_ops
ROOT = Path(__file__).resolve().parents[2]
FIXTURES = ROOT / "fixtures" / "epo_ops"
SAMPLES = ROOT / ".." / "shared" / "sources" / "samples" / "epo_ops"
TODAY = date(2026, 11, 25)  # a Wednesday

recorded = pytest.mark.skipif(not SAMPLES.is_dir(), reason="no recorded answers beside the checkout")


def _page(body: bytes = b"", status: int = 200, step: str = "search", begin: int = 1, **headers: str) -> Page:
    request = Request("epo_ops", "x", step=step, state=(("query", 'ta="x"'), ("begin", str(begin))))
    return Page(request, status, {k.replace("_", "-"): v for k, v in headers.items()}, body, TODAY)


def _fixture(name: str, status: int = 200, step: str = "search") -> Page:
    return _page((FIXTURES / name).read_bytes(), status, step)


def _sample(name: str, status: int = 200, step: str = "search") -> Page:
    """Return a recorded answer with the headers that were recorded."""
    path = SAMPLES / f"{name}.headers.txt"
    lines = path.read_text().splitlines()[2:] if path.exists() else []
    headers: dict[str, str] = {}
    for name_text, _, value in (line.partition(":") for line in lines):
        key = name_text.lower()
        headers[key] = f"{headers[key]}, {value.strip()}" if key in headers else value.strip()
    page = _page((SAMPLES / f"{name}.xml").read_bytes(), status, step)
    return Page(page.request, status, headers, page.body, TODAY)


def _search(total: int, documents: int) -> bytes:
    document = '<exchange-document country="EP" doc-number="{}" kind="A1" family-id="{}"/>'
    inside = "".join(document.format(8_800_000 + n, 99_000_000 + n // 2) for n in range(documents))
    return (
        '<ops:world-patent-data xmlns="http://www.epo.org/exchange" xmlns:ops="http://ops.epo.org">'
        f'<ops:biblio-search total-result-count="{total}"><ops:search-result><exchange-documents>{inside}'
        "</exchange-documents></ops:search-result></ops:biblio-search></ops:world-patent-data>"
    ).encode()


def _days(record: Record) -> list[tuple[str, str]]:
    return [(stated.kind, stated.days.text()) for stated in record.dates]


def _stated(record: Record) -> list[str]:
    return [f"{identifier.scheme} {identifier.text}" for identifier in record.identifiers]


def _by_id(page: Page) -> dict[str, Record]:
    return {record.native_id: record for record in epo_ops.parse(page).records}


# --- asking ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("expression", "cql"),
    [
        (Text("Shape-memory Spring"), 'ta="shape memory spring"'),  # a quoted hyphen finds nothing
        (Text("goutteur déclic"), 'ta="goutteur declic"'),  # accents are not searchable
        (Code("CPC", "A01G 25/02"), "cpc=/low A01G25/02"),  # a blank inside is answered 500
        (Code("IPC", "A01G 25/02"), "ipc=/low A01G25/02"),
        (And((Text("x"), Or((Text("y"), Text("z"))))), '(ta="x" and (ta="y" or ta="z"))'),
        (And((Not(Text("z")), Text("x"), Text("y"))), '((ta="x" and ta="y") not ta="z")'),  # not is binary
        (Text('x" and pa="firm'), '(ta="x" and ta="pa" and ta="firm")'),
    ],
)
def test_expression_is_asked_in_cql(expression: Expression, cql: str) -> None:
    """Each clause has its index, each group its brackets; no text can leave its quotes."""
    asked, _ = expressible(expression)
    assert asked is not None
    assert in_cql(asked) == cql


@pytest.mark.parametrize(
    ("window", "clause"),
    [
        (Window(date(2020, 1, 1), date(2021, 1, 1)), ' and pd within "20200101 20201231"'),
        (Window(date(2020, 1, 1), date(2020, 1, 2)), ' and pd within "20200101 20200101"'),
        (Window(None, date(2021, 1, 1)), " and pd<20210101"),  # finds the undated (00000000) too
        (Window(date(2020, 1, 1), None), " and pd>=20200101"),
        (ALL_DAYS, ""),
    ],
)
def test_half_open_window_becomes_inclusive_days(window: Window, clause: str) -> None:
    """The last day is the day before public_to; a window closed on both sides says what it leaves out."""
    compiled = epo_ops.compile(Text("emitter"), window)
    (request,) = compiled.requests
    query = 'ta="emitter"'
    assert dict(request.params) == {"q": f"({query}){clause}" if clause else query, "Range": "1-100"}
    assert bool(compiled.not_expressed) == bool(window.public_from and window.public_to)
    assert compiled == epo_ops.compile(Text("emitter"), window)


def test_small_words_are_left_out_and_said() -> None:
    """`method of flushing` is asked as its other words; as an exclusion it is not asked at all."""
    compiled = epo_ops.compile(And((Text("emitter"), Text("method of flushing"))), ALL_DAYS)
    assert dict(compiled.requests[0].params)["q"] == '(ta="emitter" and ta="method" and ta="flushing")'
    assert "method of flushing" in compiled.not_expressed[0]
    without = epo_ops.compile(And((Text("emitter"), Not(Text("state of the art")))), ALL_DAYS)
    assert dict(without.requests[0].params)["q"] == 'ta="emitter"'
    assert "state of the art" in without.not_expressed[0]


@pytest.mark.parametrize(
    "expression", [Text("of the"), Code("FI", "A01G 25/02"), Code("CPC", "A01G 25/02) or pd>1900"), Text("!")]
)
def test_what_ops_cannot_say_is_not_asked(expression: Expression) -> None:
    """Small words alone, other classifications and hostile symbols: no request, and why."""
    compiled = epo_ops.compile(expression, ALL_DAYS)
    assert compiled.requests == ()
    assert "not asked" in compiled.not_expressed[-1]


def test_long_concepts_are_split_within_the_limits() -> None:
    """Ten words of an index, twenty in all (support, forum 2931): every part keeps to it."""
    first = Or(tuple(Text(f"drip emitter{n}") for n in range(8)))
    second = Or(tuple(Text(f"spring{n}") for n in range(9)))
    compiled = epo_ops.compile(And((first, second, Code("CPC", "A01G"))), ALL_DAYS)
    assert len(compiled.requests) > 4
    assert compiled.splits
    for request in compiled.requests:
        query = dict(request.params)["q"]
        words = sum(len(part.split('"')[0].split()) for part in query.split('ta="')[1:])
        assert words <= 10
        assert "cpc=/low A01G" in query


def test_phrase_longer_than_the_limit_is_not_asked() -> None:
    """Eleven words in a row fit no query: said, not cut."""
    compiled = epo_ops.compile(Text(" ".join(f"w{n}" for n in range(11))), ALL_DAYS)
    assert compiled.requests == ()
    assert "ten words" in compiled.not_expressed[-1]


_TEXTS = st.sampled_from(["drip", "line of pipes", "spring", "the", "flush valve"]).map(Text)
_TREES: st.SearchStrategy[Expression] = st.recursive(
    _TEXTS | st.just(Code("CPC", "A01G 25/02")) | st.just(Code("FI", "A01G")),
    lambda inner: (
        st.lists(inner, min_size=1, max_size=3).map(lambda parts: Or(tuple(parts)))
        | st.tuples(st.lists(inner, min_size=1, max_size=3), st.lists(_TEXTS, max_size=1)).map(
            lambda both: And((*both[0], *map(Not, both[1])))
        )
    ),
    max_leaves=8,
)
_WORDS = st.lists(
    st.sampled_from(["drip", "line", "of", "pipes", "spring", "the", "flush", "valve"]), max_size=8
).map(" ".join)


@settings(derandomize=True, max_examples=200, deadline=None)
@given(_TREES, _WORDS)
def test_what_is_asked_finds_all_that_was_meant(expression: Expression, title: str) -> None:
    """Whatever is left out on the way to OPS, no document that matches is lost."""
    asked, _ = expressible(expression)
    document = Document(title, "", (("CPC", "A01G 25/02"),))
    if asked is not None and matches(expression, document):
        assert matches(asked, document)
    if asked is not None:
        assert all(isinstance(leaf, Text) or leaf.scheme == "CPC" for leaf in leaves(asked))
        assert isinstance(fits(asked), bool) and in_cql(asked)


# --- following ------------------------------------------------------------------


def test_pages_and_families_follow() -> None:
    """The next range from where the page ended, and one look-up for each family new on it."""
    (first,) = epo_ops.compile(Text("x"), ALL_DAYS).requests
    onward = epo_ops.follow(first, _page(_search(150, 100)), TODAY)
    families = [request for request in onward if request.step == "family"]
    (second,) = [request for request in onward if request.step == "search"]
    assert len(families) == 50
    assert families[0].path == "rest-services/family/publication/docdb/EP.8800000.A1/biblio"
    assert dict(second.params)["Range"] == "101-200"
    again = epo_ops.follow(second, _page(_search(150, 50), begin=101), TODAY)
    assert again == []  # 25 families, all of them looked up before; and no third page


def test_more_than_the_depth_halves_the_window() -> None:
    """2,001 results: both halves of the window, nothing else; a single day is read to the depth."""
    week = Window(date(2024, 1, 1), date(2024, 1, 8))
    (first,) = epo_ops.compile(Text("x"), week).requests
    older, newer = epo_ops.follow(first, _page(_search(2_001, 100)), TODAY)
    assert (older.window.public_from, newer.window.public_to) == (week.public_from, week.public_to)
    assert older.window.public_to == newer.window.public_from
    day = Window(date(2024, 1, 1), date(2024, 1, 2))
    (one,) = epo_ops.compile(Text("x"), day).requests
    onward = epo_ops.follow(one, _page(_search(2_001, 100)), TODAY)
    assert [dict(r.params)["Range"] for r in onward if r.step == "search"] == ["101-200"]
    last = Request("epo_ops", "x", window=day, state=(("query", "q"), ("begin", "1901")))
    assert [r for r in epo_ops.follow(last, _page(_search(2_001, 100)), TODAY) if r.step == "search"] == []


def test_nothing_follows_no_results_or_a_family() -> None:
    """Empty answers and look-ups end where they are."""
    (first,) = epo_ops.compile(Text("x"), ALL_DAYS).requests
    assert epo_ops.follow(first, _fixture("empty.xml", 404), TODAY) == []
    family = _fixture("family.xml", step="family")
    assert epo_ops.follow(family.request, family, TODAY) == []
    assert [r.step for r in epo_ops.follow(first, _fixture("last.xml"), TODAY)] == ["family", "search"]


def test_odd_numbers_are_bracketed_or_not_looked_up() -> None:
    """A number that can't stand in an address is never put into one."""
    (first,) = epo_ops.compile(Text("x"), ALL_DAYS).requests
    paths = [request.path for request in epo_ops.follow(first, _fixture("odd.xml"), TODAY)]
    assert all("(0" not in path for path in paths)
    body = _search(1, 1).replace(b'"8800000"', b'"08/921,321"')
    (slashed,) = epo_ops.follow(first, _page(body), TODAY)
    assert slashed.path.endswith("/EP.(08/921,321).A1/biblio")
    for hostile in (b"../../x", b"1?x=1", b"1%2F", b"a//b"):
        assert epo_ops.follow(first, _page(_search(1, 1).replace(b"8800000", hostile)), TODAY) == []


# --- judging --------------------------------------------------------------------

FAULT = '<fault xmlns="http://ops.epo.org"><code>{}</code><message>said</message></fault>'


def _fault(code: str) -> bytes:
    return FAULT.format(code).encode()


@pytest.mark.parametrize(
    ("page", "error", "wait_s"),
    [  # the guide's error tables, and the fact sheet's rows on quotas
        (_page(b"", 404), None, None),
        (_page(_fault("SERVER.EntityNotFound"), 404), None, None),
        (_page(_fault("SERVER.EntityNotFound"), 404, begin=101), SourceBusy, None),
        (_page(_fault("CLIENT.NotFound"), 404), SourceRefused, None),
        (_page(b"<html>not here</html>", 404), SourceRefused, None),
        (_page(_fault("CLIENT.InvalidReference"), 404, "family"), None, None),
        (_page(_fault("CLIENT.AmbiguousRequest"), 413, "family"), None, None),
        (_page(_fault("CLIENT.AmbiguousRequest"), 413), SourceRefused, None),
        (_page(_fault("CLIENT.ScopeTermsMaximumNumber"), 400), SourceRefused, None),
        (_page(_fault("SERVER.DomainAccess"), 500), SourceBusy, None),
        (_page(_fault("SERVER.LimitedServerResources"), 503, retry_after="90"), SourceBusy, 90),
        (_page(b"", 429, retry_after="60000"), SourceBusy, 60),
        (_page(b"", 408), SourceBusy, None),
        (_page(b"", 403, x_rejection_reason="IndividualQuotaPerHour"), SourceBusy, 3600),
        (_page(b"", 403, x_rejection_reason="RegisteredQuotaPerWeek"), SourceBusy, 5 * 86_400),
        (
            _page(b"", 403, x_rejection_reason="ThrottlingControlQuota", retry_after="216383"),
            SourceBusy,
            216.383,
        ),
        (_page(b"", 403, x_throttling_control="busy (search=black:0)"), SourceBusy, 60),
        (_page(_fault("CLIENT.RobotDetected"), 403), SourceRefused, None),
        (_page(b"", 401), SourceRefused, None),
        (_fixture("ordinary.xml"), None, None),
        (_fixture("torn.xml"), None, None),
    ],
)
def test_answers_are_judged(page: Page, error: type[Exception] | None, wait_s: float | None) -> None:
    """Busy with its wait, refused, or fit to be parsed."""
    judged = epo_ops.judge(page)
    assert type(judged) is (error or type(None))
    assert judged is None or judged.retry_after_s == wait_s


def test_week_quota_says_until_when_and_how_much() -> None:
    """The text names the day the volume is released, and the volumes used."""
    page = _page(
        b"", 403, x_rejection_reason="RegisteredQuotaPerWeek", x_registeredquotaperweek_used="4000000000"
    )
    assert "until Monday 2026-11-30 00:00 UTC" in str(epo_ops.judge(page))
    assert "4,000 MB in the week" in str(epo_ops.judge(page))


@pytest.mark.parametrize(
    ("header", "step", "seconds"),
    [
        ("idle (images=green:200, inpadoc=green:60, other=green:1000, search=green:30)", "search", 6.0),
        ("idle (images=green:200, inpadoc=green:60, other=green:1000, search=green:30)", "family", 1.0),
        ("busy (inpadoc=green:45, search=yellow:15)", "search", 12.0),
        ("overloaded (inpadoc=red:30, search=green:5)", "family", 8.0),
        ("overloaded (inpadoc=red:30, search=green:5)", "search", 12.0),
        ("overloaded (search=black:0)", "search", 60.0),
        ("idle (search=green:30), busy (search=red:15)", "search", 24.0),  # named twice: the worse counts
        ("idle (search=green:30), busy (search=green:5)", "search", 12.0),  # and the lower limit
        ("nonsense", "search", 0.0),
        ("search=green:0", "search", 60.0),
    ],
)
def test_throttling_colours_slow_us_down(header: str, step: str, seconds: float) -> None:
    """Ten searches a minute and a family a second at the most, slower by colour."""
    assert epo_ops.pause(_page(step=step, x_throttling_control=header)) == seconds


def test_black_waits_as_long_as_it_says_in_milliseconds() -> None:
    """Retry-After of the throttle counts milliseconds: 60000 is a minute, not 16 hours."""
    page = _page(b"", 403, x_throttling_control="busy (search=black:0)", retry_after="30000")
    assert epo_ops.pause(page) == 30.0


def test_no_header_no_pause() -> None:
    """Without the header nothing is asked for."""
    assert epo_ops.pause(_page()) == 0.0


def test_token_is_signed_and_kept_out_of_the_request(scripted_server) -> None:  # type: ignore[no-untyped-def]
    """A token is fetched beside the data's address, renewed once when it has run out, and in no request."""
    token = {"body": json.dumps({"access_token": "tok-en-one", "expires_in": "1199"}).encode()}
    renewed = {"body": json.dumps({"access_token": "tok-en-two", "expires_in": "1199"}).encode()}
    expired = {
        "status": 400,
        "body": b"<error><code>400</code><message>invalid_access_token</message></error>",
    }
    good = {"body": (FIXTURES / "last.xml").read_bytes()}
    server = scripted_server(token, expired, renewed, good)
    keys = {"EPO_OPS_KEY": "invented-key", "EPO_OPS_SECRET": "invented-secret"}
    session = Session(EPO_OPS, base_url=f"{server.url}/3.2", keys=keys)
    (request,) = epo_ops.compile(Text("hose"), ALL_DAYS).requests
    page = session.send(request)
    session.close()
    assert page.status == 200
    assert [seen.path.split("?")[0] for seen in server.seen] == [
        "/3.2/auth/accesstoken",
        "/3.2/rest-services/published-data/search/biblio",
    ] * 2
    assert "tok-en" not in repr(page.request)
    assert epo_ops.sign(request, {}, "").headers == ()


# --- reading --------------------------------------------------------------------


def test_ordinary_page_is_read_whole() -> None:
    """Titles by language, people without country, classes once each, citations with category."""
    parsed = epo_ops.parse(_fixture("ordinary.xml"))
    assert (parsed.items, parsed.stated_total, parsed.total_is_floor) == (3, 3, False)
    ep, us, dk = parsed.records
    assert (ep.native_id, ep.kind, ep.version, ep.language) == (
        "EP.8800001.A1",
        "patent application",
        "A1",
        "en",
    )
    assert ep.title == "Drip emitter that flushes itself"
    assert ("title (fr)", "GOUTTEUR") in ep.details and ("abstract (fr)", "Un goutteur.") in ep.details
    assert _stated(ep) == [
        "publication EP 8800001 A1", "application EP 20980001 A", "application EP20200980001", "family 99000001",
    ]  # fmt: skip
    assert _days(ep) == [("publication of application", "2022-03-16"), ("filed", "2020-09-15")]
    assert [(p.name, p.role) for p in ep.people] == [
        ("WERK NORD GMBH", "applicant"),
        ("QUELL ADA", "inventor"),
    ]
    assert ep.codes == (("IPC", "A01G 25/02"), ("IPC", "B05B 1/3006"), ("CPC", "A01G 25/023"))
    assert [(r.kind, r.identifier.text) for r in ep.relations] == [
        ("cites", "WO 9988001 A1"), ("cites", "10.5555/sand.1998.7"),
    ]  # fmt: skip
    assert ep.relations[0].note == (
        "category XI for patent claims 1-4; category A for patent claims 5; search; cited by examiner"
    )
    assert (
        "cites (literature)",
        "Catalogue of Werk Nord, 1997 [category Y; search; cited by examiner]",
    ) in ep.details
    assert [p.name for p in us.people] == ["SAND, Cleo"]
    assert (dk.kind, dk.title, dk.language) == ("patent", "DRYPPER", "")
    assert "translation" in dict(dk.details)["kind of document"]


def test_application_named_as_its_own_priority_claims_nothing() -> None:
    """The database puts the application itself where no earlier right exists."""
    ep, us, _ = epo_ops.parse(_fixture("ordinary.xml")).records
    assert all(kind != "priority" for kind, _ in _days(ep))
    assert "the application itself" in dict(ep.details)["priority"]
    assert _days(us) == [
        ("publication of grant", "2023-06-06"),
        ("filed", "2020-09-14"),
        ("priority", "2019-09-16"),
        ("priority", "2020-09-14"),
    ]
    assert [(r.identifier.text, "national phase" in r.note) for r in us.relations] == [
        ("US201962998001P", False), ("WO2020US98001", True),
    ]  # fmt: skip


def test_odd_documents_are_read_or_quarantined() -> None:
    """No day is not a guess, a vague day stays vague, placeholders are no records."""
    parsed = epo_ops.parse(_fixture("odd.xml"))
    assert parsed.items == 7 == len(parsed.records) + len(parsed.quarantined)
    records = {record.native_id: record for record in parsed.records}
    assert records["JP.H0698001.A"].dates == ()
    assert "00000000" in dict(records["JP.H0698001.A"].details)["day of publication"]
    assert records["JP.H0698001.A"].title == "点滴"
    assert _days(records["FR.998002.A"]) == [("publication of application", "1935")]
    assert _days(records["DE.8498003.U1"]) == [("published", "1984-03")]
    assert records["DE.8498003.U1"].kind == "utility model"
    reasons = [item.reason for item in parsed.quarantined]
    assert [("not found" in r, "publication number" in r, "no data" in r) for r in reasons] == [
        (True, False, False), (False, True, False), (False, False, True),
    ]  # fmt: skip
    assert all(item.excerpt.startswith("<exchange-document") and item.path for item in parsed.quarantined)


def test_family_brings_the_other_members() -> None:
    """Prefixes differ, members come with and without text, and a cut family says so."""
    page = _fixture("family.xml", step="family")
    parsed = epo_ops.parse(page)
    assert (parsed.items, parsed.stated_total) == (3, None)
    assert "larger" in parsed.partial
    ep, ca, grant = parsed.records
    assert ep.title and not ca.title
    assert _days(ca)[0] == ("publication of application", "2021-03-15")  # a year before the EP one
    assert [(r.kind, r.identifier.text, r.note) for r in ca.relations] == [
        ("priority", "EP 20980001 A", "regional; active")
    ]
    assert _days(grant)[0] == ("publication of grant", "2023-08-02")
    assert all(kind != "priority" for kind, _ in _days(ep) + _days(grant))


def test_refused_look_up_is_quarantined() -> None:
    """A family that can't be looked up is an item with its reason; the source goes on."""
    parsed = epo_ops.parse(_page(_fault("CLIENT.InvalidReference"), 404, "family"))
    assert (parsed.items, parsed.records) == (1, ())
    assert "404" in parsed.quarantined[0].reason
    assert "InvalidReference" in parsed.quarantined[0].excerpt


@pytest.mark.parametrize(
    "page",
    [
        _fixture("torn.xml"),
        _page(b""),
        _page(b"<!DOCTYPE html><html/>"),
        _page(b"<x/>"),
        _page(b'<o:world-patent-data xmlns:o="http://ops.epo.org"/>'),
        _page(_search(3, 1).replace(b'"3"', b'"many"')),
        _page(b'<!DOCTYPE x [<!ENTITY e "y">]><o:world-patent-data xmlns:o="http://ops.epo.org"/>'),
    ],
    ids=["torn", "empty", "html", "another root", "no documents", "no total", "entities"],
)
def test_what_the_guide_does_not_describe_is_a_changed_source(page: Page) -> None:
    """Parsing refuses it with the place."""
    with pytest.raises(SourceChanged):
        epo_ops.parse(page)


def test_total_of_ten_thousand_is_a_floor() -> None:
    """total-result-count goes no higher, whatever the truth."""
    assert epo_ops.parse(_page(_search(10_000, 1))).total_is_floor
    assert not epo_ops.parse(_page(_search(9_999, 1))).total_is_floor


def test_every_fixture_is_used() -> None:
    """No fixture lies about unread."""
    text = Path(__file__).read_text()
    assert all(f'"{path.name}"' in text for path in FIXTURES.iterdir())


# --- recorded answers -------------------------------------------------------------


@recorded
def test_recorded_family_gives_every_member_its_day() -> None:
    """EP2400812: five publications, the earliest the Canadian one of 24 December 2011."""
    for name in ("family_EP2400812", "family_biblio_EP2400812"):
        records = _by_id(_sample(name, step="family"))
        assert {key: _days(record)[0] for key, record in records.items()} == {
            "EP.2400812.A1": ("publication of application", "2011-12-28"),
            "EP.2400812.B1": ("publication of grant", "2019-11-27"),
            "CA.2744162.A1": ("publication of application", "2011-12-24"),
            "US.2012057518.A1": ("publication of application", "2012-03-08"),
            "US.9648662.B2": ("publication of grant", "2017-05-09"),
        }
        assert ("priority", "2010-06-24") not in _days(records["EP.2400812.A1"])  # its own number
        assert ("priority", "2010-06-24") in _days(records["US.9648662.B2"])
        claimed = [r.identifier.text for r in records["CA.2744162.A1"].relations if r.kind == "priority"]
        assert "EP 10167109 A" in claimed
        assert all("family 43088294" in _stated(record) for record in records.values())


@recorded
def test_recorded_search_is_read_whole() -> None:
    """Three hits, the capped total, and a Danish translation that is no grant of its own."""
    parsed = epo_ops.parse(_sample("search_biblio_pa_siemens_1-3"))
    assert (parsed.items, len(parsed.records)) == (3, 3)
    assert (parsed.stated_total, parsed.total_is_floor) == (10_000, True)
    steam = parsed.records[1]
    assert ("priority", "2023-05-04") in _days(steam)
    assert "GB20230006615" in [relation.identifier.text for relation in steam.relations]
    assert dict(parsed.records[2].details)["kind of document"].startswith("translation")


@recorded
def test_recorded_list_of_numbers_is_read_whole() -> None:
    """One hundred bare numbers: records without text or day, which say so."""
    page = _sample("search_numbers_ti_plastic_1-100")
    parsed = epo_ops.parse(page)
    assert (parsed.items, len(parsed.records), parsed.total_is_floor) == (100, 100, True)
    assert all(not record.dates and "day of publication" in dict(record.details) for record in parsed.records)
    assert epo_ops.pause(page) == 6.0


@recorded
def test_recorded_bibliography_and_abstract() -> None:
    """Three publications of two numbers; a DOI in cited literature; an abstract without family."""
    records = _by_id(_sample("biblio_two_publications_EP2400812A1_EP2533477A1"))
    assert set(records) == {"EP.2400812.A1", "EP.2533477.A1", "EP.2533477.B1"}
    (cited,) = records["EP.2533477.A1"].relations
    assert cited.identifier.text == "10.1109/WCNC.2006.1683515"
    assert "category X for patent claims 1,2,4-13" in cited.note
    (only,) = epo_ops.parse(_sample("abstract_EP2400812A1")).records
    assert only.abstract.startswith("An apparatus enabling establishment of a Bluetooth mesh network")
    assert _stated(only) == ["publication EP 2400812 A1"]


@recorded
@pytest.mark.parametrize(
    ("name", "status", "error"),
    [
        ("fault_404_no_results", 404, None),
        ("fault_404_empty_body", 404, None),
        ("error_400_invalid_access_token", 400, TokenExpired),
        ("error_401_client_id_invalid", 401, SourceRefused),
        ("error_403_fair_use_rejected", 403, SourceBusy),  # a minute's quota, by its header
    ],
)
def test_recorded_errors_are_judged(name: str, status: int, error: type[Exception] | None) -> None:
    """No results in both writings are no failure; the others are what they are."""
    page = _sample(name, status)
    assert type(epo_ops.judge(page)) is (error or type(None))
    if error is None:
        assert epo_ops.parse(page).items == 0
