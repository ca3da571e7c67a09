"""OpenAlex: works of all fields, from publishers, repositories and libraries.

Read 2026-11-25: its service code of 2026-08, developers.openalex.org, recorded answers.
Searched by exact words: the forms of a term are spelled out in the expression, and a
stemmed search would shut out more than an exclusion says.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from urllib.parse import urlencode

from connectors.boolean_query import Signs, write_query
from connectors.connector import Compiled, Page, Parsed, Request, Signed, Sought, Source
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceError, SourceRefused
from connectors.json_answer import OddShape, read_items, read_json, said
from connectors.openalex_work import read_work
from connectors.phrase import bare_phrase
from connectors.without_symbols import without_symbols
from queries.expression import Expression
from queries.split import CannotSplit, split
from queries.window import Window

SOURCE = Source(
    name="openalex",
    title="OpenAlex",
    kinds=("article", "preprint", "conference paper", "chapter", "book", "thesis", "report", "standard",
           "dataset", "software", "web page", "other"),
    base_url="https://api.openalex.org",
    page_size=100,
    depth=None,
    # A search of more than 5 operators may be sent once a second without a key.
    seconds_between=1.0,
    terms_of_use="Metadata are CC0. https://help.openalex.org (terms of service)",
    manual="https://developers.openalex.org",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "published": "the publication day of the version OpenAlex shows first, as far as it knows; 1 January"
        " may stand for a year alone; a preprint among its other locations may be older"
    },
    optional_key_variables=("OPENALEX_API_KEY",),
    how_to_get_a_key="A free key at https://openalex.org/settings/api reads ten times as many pages a day.",
    date_filter=True,
)  # fmt: skip

_FIELD = "title_and_abstract.search.exact"
# The service refuses a request line over 8,190 bytes; the rest is for address and cursor.
_MOST_BYTES = 7_000
_LONG_PHRASE, _MOST_LONG_PHRASES = 80, 3  # more quoted phrases of over 80 characters are refused
_MOST_VALUES = 50  # in one filter: half of what the service takes
_OPERATORS = {"and", "or", "not"}
_PLAN_NEEDED = "Plan upgrade required"


def compile(expression: Expression, window: Window) -> Compiled:
    """Return searches of title and abstract, read from end to end by cursor.

    The expansion corpus (repositories, data centres) is asked too. Symbols are left out
    and named; an expression too long for one address is split.
    """
    said_part, left_out = without_symbols(SOURCE.title, expression)
    if said_part is None:
        return Compiled((), left_out)
    try:
        parts = split(said_part, lambda part: _fits(part, window))
    except CannotSplit as error:
        return Compiled((), (*left_out, f"OpenAlex: {error}"))
    if window.public_from and _first_day(window.public_from) != window.public_from:
        since = _first_day(window.public_from)
        left_out += (f"OpenAlex writes a year alone as 1 January, so it is asked from {since} on.",)
    return Compiled(tuple(_request(part, window) for part in parts.parts), left_out, parts.notes)


def find(numbers: Sequence[Sought]) -> Compiled:
    """Return lists of works by DOI, PubMed or OpenAlex number, fifty a request; an arXiv number goes
    by the DOI that arXiv gives it."""
    asked = []
    for name in ("openalex", "doi", "pmid"):
        values = dict.fromkeys(_value(each) for each in numbers if _filter_name(each) == name)
        plain = [value for value in values if not {",", "|"} & {*value}]  # signs of the filter
        asked += [
            _listed(f"{name}:{'|'.join(plain[at : at + _MOST_VALUES])}", "numbers")
            for at in range(0, len(plain), _MOST_VALUES)
        ]
    return Compiled(tuple(asked))


def cited(numbers: Sequence[Sought]) -> Compiled:  # noqa: ARG001 (protocol)
    """Return nothing: a work's record lists what it cites."""
    return Compiled(())


def citing(numbers: Sequence[Sought]) -> Compiled:
    """Return a list of the works that cite any of these OpenAlex works, oldest first."""
    works = [each.text for each in numbers if each.scheme == "openalex"][:_MOST_VALUES]
    return Compiled((_listed(f"cites:{'|'.join(works)}", "search"),) if works else ())


def sign(request: Request, keys: Mapping[str, str], contact: str) -> Signed:  # noqa: ARG001
    """Return the key as a header where one is set; a blank one would be refused."""
    key = keys.get("OPENALEX_API_KEY", "").strip()
    return Signed(headers=(("api_key", key),) if key else ())


def judge(page: Page) -> SourceError | None:
    """Return what is wrong: over the rate or budget is busy; plan, key and query are refused."""
    if page.status == 200:
        return None
    try:
        answer = read_json(SOURCE.name, page.body)
        error, wait_s = answer.at("error").text(), answer.at("retryAfter").number()
        spent = answer.at("dailyRemainingUsd").number() == 0
    except (SourceChanged, OddShape):
        error, wait_s, spent = "", None, False
    what = f"answered {page.status}: {said(page.body)}"
    if page.status in (401, 403):
        return SourceRefused(SOURCE.name, f"{what}. Check OPENALEX_API_KEY, or unset it to ask without a key")
    if page.status == 429 and error == _PLAN_NEEDED:
        return SourceRefused(SOURCE.name, what)
    if page.status == 429 and spent:
        why = "the day's free budget is spent; it begins anew at 00:00 UTC, and with a key is larger"
        return SourceBusy(SOURCE.name, why, wait_s)
    if page.status in (429, 503):
        return SourceBusy(SOURCE.name, what, wait_s)
    if page.status >= 500:
        return SourceDown(SOURCE.name, what, wait_s)
    return SourceRefused(SOURCE.name, what)


def pause(page: Page) -> float:  # noqa: ARG001
    """Return 0: what its headers tell is the day's budget, and running out is answered by 429."""
    return 0.0


def follow(request: Request, page: Page, today: date) -> list[Request]:  # noqa: ARG001
    """Return the next page by its cursor; nothing after the last one or an empty one."""
    try:
        answer = read_json(SOURCE.name, page.body)
        cursor = answer.at("meta").at("next_cursor").raw()
        if not cursor or not answer.at("results").each():
            return []
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    others = tuple(pair for pair in request.params if pair[0] != "cursor")
    return [replace(request, params=(*others, ("cursor", cursor)))]


def parse(page: Page) -> Parsed:
    """Return the works of a page of results, or the one work of a look-up."""
    answer = read_json(SOURCE.name, page.body)
    try:
        if "results" not in answer.object() and answer.at("id").raw():
            records, quarantined = read_items([answer], read_work)
            return Parsed(1, records, quarantined)
        if not isinstance(answer.at("results").value, list):
            answer.at("results").odd("a list")
        works, meta = answer.at("results").each(), answer.at("meta")
        total, timed_out = meta.at("count").whole(), meta.at("timed_out").flag()
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    records, quarantined = read_items(works, read_work)
    partial = "the search took over 5 s and was cut short (meta.timed_out)" if timed_out else ""
    return Parsed(len(works), records, quarantined, total, partial=partial)


def _filter_name(number: Sought) -> str:
    return "doi" if number.scheme == "arxiv" else number.scheme


def _value(number: Sought) -> str:
    bare = re.sub(r"v\d+$", "", number.text)
    return f"10.48550/arxiv.{bare}" if number.scheme == "arxiv" else number.text


def _listed(filter_: str, step: str) -> Request:
    params = (("filter", filter_), ("include_xpac", "true"), ("per_page", str(SOURCE.page_size)),
              *((("sort", "publication_date"),) if step == "search" else ()), ("cursor", "*"))  # fmt: skip
    return Request(SOURCE.name, "works", params, step=step)


def _request(part: Expression, window: Window) -> Request:
    filters = [f"{_FIELD}:{_query(part)}"]
    if window.public_from:
        filters.append(f"from_publication_date:{_first_day(window.public_from)}")
    if window.public_to:
        filters.append(f"to_publication_date:{window.public_to - timedelta(days=1)}")
    params = (
        ("filter", ",".join(filters)),
        ("include_xpac", "true"),
        ("per_page", str(SOURCE.page_size)),
        ("cursor", "*"),
    )
    return Request(SOURCE.name, "works", params, window=window)


def _first_day(day: date) -> date:
    """Return 1 January of its year: works dated by the year alone stand there."""
    return day.replace(month=1, day=1)


def _fits(part: Expression, window: Window) -> bool:
    query = _query(part)
    long = [phrase for phrase in re.findall(r'"([^"]*)"', query) if len(phrase) > _LONG_PHRASE]
    return len(urlencode(_request(part, window).params)) <= _MOST_BYTES and len(long) <= _MOST_LONG_PHRASES


def _query(expression: Expression) -> str:
    return write_query(expression, _term, Signs())


def _term(text: str) -> str:
    phrase = bare_phrase(text)
    plain = phrase.isascii() and phrase.isalnum() and phrase.casefold() not in _OPERATORS
    return phrase if plain else f'"{phrase}"'
