"""Openverse: what is sent, what errors mean, and what its pictures become."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from connectors import openverse
from connectors.connector import Page, Request
from connectors.errors import SourceBusy, SourceChanged, SourceRefused
from connectors.fetch import fetch
from connectors.record import PUBLIC_EVENTS
from queries.expression import And, Code, Not, Or, Text
from queries.window import ALL_DAYS

HERE = Path(__file__).resolve()
# All invented. ordinary: page 1 of 3. last: the only one. odd: five items, three of no known shape.
FIXTURES = HERE.parents[2] / "fixtures" / "openverse"
SAMPLES = HERE.parents[2] / ".." / "shared" / "sources" / "samples" / "pictures"
TODAY = date(2026, 11, 25)
REQUEST = openverse.compile(Text("emitter"), ALL_DAYS).requests[0]
needs_samples = pytest.mark.skipif(not SAMPLES.is_dir(), reason="no recorded samples beside the checkout")


def page(
    body: bytes, status: int = 200, headers: dict[str, str] | None = None, request: Request = REQUEST
) -> Page:
    """Return an answer with that body."""
    return Page(request, status, headers or {}, body, TODAY)


def fixture(name: str) -> Page:
    """Return the invented page of that name."""
    return page((FIXTURES / f"{name}.json").read_bytes())


def sample(name: str) -> Page:
    """Return a recorded answer."""
    return page((SAMPLES / f"{name}.json").read_bytes())


def numbered(number: int) -> Request:
    """Return the request for that page."""
    return replace(REQUEST, params=(*REQUEST.params[:2], ("page", str(number))))


# --- what is sent -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("expression", "text"),
    [
        # The service's search controller: a simple query string of the search engine, AND by default.
        (Text("emitter"), '"emitter"'),
        (Text('drip-emitter* | "x"'), '"drip emitter x"'),
        (
            And((Or((Text("a b"), Text("c"))), Text("d"), Not(Or((Text("e"), Text("f")))))),
            '("a b" | "c") + "d" + -("e" | "f")',
        ),
        (Or((Text("a"), And((Text("b"), Text("c"))))), '"a" | ("b" + "c")'),
    ],
)
def test_an_expression_is_written_as_the_service_reads_it(expression: Any, text: str) -> None:
    """Plus, bar, minus and brackets; every text is a phrase."""
    [request] = openverse.compile(expression, ALL_DAYS).requests
    assert dict(request.params)["q"] == text


def test_long_expressions_are_cut_into_parts_of_200_characters() -> None:
    """The union of the parts means the whole, and each cut is told."""
    compiled = openverse.compile(
        And((Or(tuple(Text(f"emitter number {n}") for n in range(40))), Text("valve"))), ALL_DAYS
    )
    texts = [dict(request.params)["q"] for request in compiled.requests]
    assert len(texts) > 5 and max(map(len, texts)) <= 200
    assert all(any(f'"emitter number {n}"' in text for text in texts) for n in range(40))
    assert all('"valve"' in text for text in texts)
    assert compiled.splits


def test_a_symbol_with_one_concept_is_not_sent() -> None:
    """It would ask for the concept alone."""
    compiled = openverse.compile(And((Code("cpc", "A01G"), Text("a"))), ALL_DAYS)
    assert not compiled.requests and "one concept alone" in " ".join(compiled.not_expressed)


# --- errors and paging ------------------------------------------------------------


def test_the_headers_of_the_minute_are_obeyed() -> None:
    """Recorded: x-ratelimit-available-anon_burst; at 0 a minute's rest is due. A spent day is said so."""
    assert openverse.pause(page(b"", headers={"x-ratelimit-available-anon_burst": "0"})) == 60
    assert openverse.pause(page(b"", headers={"x-ratelimit-available-anon_burst": "7"})) == 0
    spent = openverse.judge(page(b"{}", 429, {"x-ratelimit-available-anon_sustained": "0"}))
    assert isinstance(spent, SourceBusy) and "200 requests" in str(spent)


def test_pages_follow_as_far_as_the_answer_says_and_no_further_than_20() -> None:
    """page_count says how many there are; the deepest page is the twentieth."""
    [onward] = openverse.follow(REQUEST, fixture("ordinary"), TODAY)
    assert dict(onward.params)["page"] == "2"
    assert openverse.follow(numbered(3), fixture("ordinary"), TODAY) == []
    deep = json.loads(fixture("ordinary").body) | {"page_count": 250}
    assert openverse.follow(numbered(20), page(json.dumps(deep).encode()), TODAY) == []


def test_a_refused_further_page_ends_the_search_and_not_the_source() -> None:
    """How deep one may read without a key has changed: the answers so far are kept, the sweep is incomplete."""
    assert isinstance(openverse.judge(page(b"{}", 401)), SourceRefused)
    refused = page(b'{"detail": "page depth"}', 401, request=numbered(2))
    assert openverse.judge(refused) is None

    def send(request: Request) -> Page:
        return replace(fixture("ordinary"), request=request) if request == REQUEST else refused

    result = fetch(
        openverse, send, [REQUEST], keep=lambda _: None, recall=lambda _: None, today=TODAY, progress=lambda _: None
    )  # fmt: skip
    assert (result.outcome, result.items, result.error) == ("incomplete", 2, None)
    assert "page depth" in result.reason and "2 of 42" in result.reason


def test_ten_thousand_is_a_floor() -> None:
    """result_count goes no higher, whatever the truth."""
    body = json.loads(fixture("ordinary").body) | {"result_count": 10_000}
    assert openverse.parse(page(json.dumps(body).encode())).total_is_floor
    assert not openverse.parse(fixture("ordinary")).total_is_floor


@pytest.mark.parametrize("body", [b"{}", b'{"results": {}}', b'{"detail": "x"}'])
def test_an_answer_of_another_shape_is_a_change(body: bytes) -> None:
    """It is not taken for 'nothing found'."""
    with pytest.raises(SourceChanged):
        openverse.parse(page(body))


# --- records ----------------------------------------------------------------------


def test_a_picture_becomes_a_record_without_a_public_date() -> None:
    """indexed_on is the time of a batch, and no copy was kept: a hint, no proof."""
    first, second = openverse.parse(fixture("ordinary")).records
    assert (first.kind, first.title, first.venue) == ("picture", "Drip emitter on a line", "photosite")
    assert [(s.kind, s.days.text(), PUBLIC_EVENTS[s.kind]) for s in first.dates] == [
        ("indexed", "2020-04-16", False)
    ]
    assert second.dates == ()
    assert second.title == "Emitter, cut open"
    assert second.people == ()


def test_the_file_names_the_picture_and_not_its_page() -> None:
    """One page of a museum may show several pictures: they are not one."""
    first = openverse.parse(fixture("ordinary")).records[0]
    assert [i.text for i in first.identifiers] == ["https://files.example.org/1.jpg"]
    assert first.url == "https://photos.example.org/p/1"


def test_tags_are_text_and_a_machines_guesses_are_told_apart() -> None:
    """A tag with an accuracy was guessed from the picture."""
    first = openverse.parse(fixture("ordinary")).records[0]
    assert first.abstract == "emitter, irrigation"
    details = dict(first.details)
    assert details["tags that a machine guessed"] == "garden"
    assert details["licence"] == "by-sa 4.0 https://creativecommons.org/licenses/by-sa/4.0/"


def test_odd_items_are_set_aside_with_their_place() -> None:
    """A date that can't be read is none; an item without an id is no record."""
    parsed = openverse.parse(fixture("odd"))
    assert [bad.path for bad in parsed.quarantined] == ["results[2].id", "results[3]", "results[4].tags"]
    assert [record.dates for record in parsed.records] == [(), ()]


# --- recorded answers -------------------------------------------------------------


@needs_samples
def test_recorded_answers_are_read_whole() -> None:
    """SAMPLES.md: 20 results without any date and a capped count; nothing found; two single pictures."""
    birds = openverse.parse(sample("openverse_search_birds_2022"))
    assert (birds.items, len(birds.records), birds.stated_total, birds.total_is_floor) == (
        20,
        20,
        10_000,
        True,
    )
    assert not [record for record in birds.records if record.dates]
    none = openverse.parse(sample("openverse_search_no_result_2022"))
    assert (none.items, none.stated_total) == (0, 0)
    [bicycle] = openverse.parse(sample("openverse_detail_olympic_bicycle_2022")).records
    assert (bicycle.title, bicycle.dates) == ("Olympic Games Seoul ´88", ())
    [cat] = openverse.parse(sample("openverse_detail_with_indexed_on_2024")).records
    assert [(s.kind, s.days.text()) for s in cat.dates] == [("indexed", "2020-04-16")]
    assert dict(cat.details)["licence"].startswith("by-nc-sa 2.0")
