"""How EPO OPS is gone on with: pages, families, refusals, quotas and the pace it asks for."""

from __future__ import annotations

import json
from datetime import date

import pytest

from connectors import epo_ops
from connectors.connector import Page, Request
from connectors.errors import SourceBusy, SourceRefused
from connectors.session import Session
from queries.expression import Text
from queries.window import ALL_DAYS, Window
from tests.connectors.epo_ops.pages import EPO_OPS, FIXTURES, TODAY, fault, fixture, page_of, search_answer


def test_pages_and_families_follow() -> None:
    """The next range from where the page ended, and one look-up for each family new on it."""
    (first,) = epo_ops.compile(Text("x"), ALL_DAYS).requests
    onward = epo_ops.follow(first, page_of(search_answer(150, 100)), TODAY)
    families = [request for request in onward if request.step == "family"]
    (second,) = [request for request in onward if request.step == "search"]
    assert len(families) == 50
    assert families[0].path == "rest-services/family/publication/docdb/EP.8800000.A1/biblio"
    assert dict(second.params)["Range"] == "101-200"
    again = epo_ops.follow(second, page_of(search_answer(150, 50), begin=101), TODAY)
    assert again == []  # 25 families, all of them looked up before; and no third page


def test_more_than_the_depth_halves_the_window() -> None:
    """2,001 results: both halves of the window, nothing else; a single day is read to the depth."""
    week = Window(date(2024, 1, 1), date(2024, 1, 8))
    (first,) = epo_ops.compile(Text("x"), week).requests
    older, newer = epo_ops.follow(first, page_of(search_answer(2_001, 100)), TODAY)
    assert (older.window.public_from, newer.window.public_to) == (week.public_from, week.public_to)
    assert older.window.public_to == newer.window.public_from
    day = Window(date(2024, 1, 1), date(2024, 1, 2))
    (one,) = epo_ops.compile(Text("x"), day).requests
    onward = epo_ops.follow(one, page_of(search_answer(2_001, 100)), TODAY)
    assert [dict(r.params)["Range"] for r in onward if r.step == "search"] == ["101-200"]
    last = Request("epo_ops", "x", window=day, state=(("query", "q"), ("begin", "1901")))
    assert [
        r for r in epo_ops.follow(last, page_of(search_answer(2_001, 100)), TODAY) if r.step == "search"
    ] == []


def test_nothing_follows_no_results_or_a_family() -> None:
    """Empty answers and look-ups end where they are."""
    (first,) = epo_ops.compile(Text("x"), ALL_DAYS).requests
    assert epo_ops.follow(first, fixture("empty.xml", 404), TODAY) == []
    family = fixture("family.xml", step="family")
    assert epo_ops.follow(family.request, family, TODAY) == []
    assert [r.step for r in epo_ops.follow(first, fixture("last.xml"), TODAY)] == ["family", "search"]


def test_odd_numbers_are_bracketed_or_not_looked_up() -> None:
    """A number that can't stand in an address is never put into one."""
    (first,) = epo_ops.compile(Text("x"), ALL_DAYS).requests
    paths = [request.path for request in epo_ops.follow(first, fixture("odd.xml"), TODAY)]
    assert all("(0" not in path for path in paths)
    body = search_answer(1, 1).replace(b'"8800000"', b'"08/921,321"')
    (slashed,) = epo_ops.follow(first, page_of(body), TODAY)
    assert slashed.path.endswith("/EP.(08/921,321).A1/biblio")
    for hostile in (b"../../x", b"1?x=1", b"1%2F", b"a//b"):
        assert epo_ops.follow(first, page_of(search_answer(1, 1).replace(b"8800000", hostile)), TODAY) == []


@pytest.mark.parametrize(
    ("page", "error", "wait_s"),
    [  # the guide's error tables, and the fact sheet's rows on quotas
        (page_of(b"", 404), None, None),
        (page_of(fault("SERVER.EntityNotFound"), 404), None, None),
        (page_of(fault("SERVER.EntityNotFound"), 404, begin=101), SourceBusy, None),
        (page_of(fault("CLIENT.NotFound"), 404), SourceRefused, None),
        (page_of(b"<html>not here</html>", 404), SourceRefused, None),
        (page_of(fault("CLIENT.InvalidReference"), 404, "family"), None, None),
        (page_of(fault("CLIENT.AmbiguousRequest"), 413, "family"), None, None),
        (page_of(fault("CLIENT.AmbiguousRequest"), 413), SourceRefused, None),
        (page_of(fault("CLIENT.ScopeTermsMaximumNumber"), 400), SourceRefused, None),
        (page_of(fault("SERVER.DomainAccess"), 500), SourceBusy, None),
        (page_of(fault("SERVER.LimitedServerResources"), 503, retry_after="90"), SourceBusy, 90),
        (page_of(b"", 429, retry_after="60000"), SourceBusy, 60),
        (page_of(b"", 408), SourceBusy, None),
        (page_of(b"", 403, x_rejection_reason="IndividualQuotaPerHour"), SourceBusy, 3600),
        (page_of(b"", 403, x_rejection_reason="RegisteredQuotaPerWeek"), SourceBusy, 5 * 86_400),
        (
            page_of(b"", 403, x_rejection_reason="ThrottlingControlQuota", retry_after="216383"),
            SourceBusy,
            216.383,
        ),
        (page_of(b"", 403, x_throttling_control="busy (search=black:0)"), SourceBusy, 60),
        (page_of(fault("CLIENT.RobotDetected"), 403), SourceRefused, None),
        (page_of(b"", 401), SourceRefused, None),
        (fixture("ordinary.xml"), None, None),
        (fixture("torn.xml"), None, None),
    ],
)
def test_answers_are_judged(page: Page, error: type[Exception] | None, wait_s: float | None) -> None:
    """Busy with its wait, refused, or fit to be parsed."""
    judged = epo_ops.judge(page)
    assert type(judged) is (error or type(None))
    assert judged is None or judged.retry_after_s == wait_s


def test_week_quota_says_until_when_and_how_much() -> None:
    """The text names the day the volume is released, and the volumes used."""
    page = page_of(
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
    assert epo_ops.pause(page_of(step=step, x_throttling_control=header)) == seconds


def test_black_waits_as_long_as_it_says_in_milliseconds() -> None:
    """Retry-After of the throttle counts milliseconds: 60000 is a minute, not 16 hours."""
    page = page_of(b"", 403, x_throttling_control="busy (search=black:0)", retry_after="30000")
    assert epo_ops.pause(page) == 30.0


def test_no_header_no_pause() -> None:
    """Without the header nothing is asked for."""
    assert epo_ops.pause(page_of()) == 0.0


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
