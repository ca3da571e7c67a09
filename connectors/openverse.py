"""Openverse: openly licensed pictures of photo sites and museums.

Read 2026-11-25: github.com/WordPress/openverse (search controller, API documentation of 2023
to 2025), its terms of service of 2022-05-05, recorded answers of 2022 and 2024. The search is
a simple query string with AND between words. No answer holds a day of publication.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from connectors.boolean_query import Signs, write_query
from connectors.connector import Compiled, Page, Parsed, Request, Signed, Source
from connectors.days import Days, parse_days
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceError, SourceRefused
from connectors.json_answer import Node, OddShape, read_items, read_json, said
from connectors.record import Person, Record, StatedDate, StatedIdentifier
from connectors.without_symbols import without_symbols
from queries.expression import Code, Expression, Text
from queries.split import CannotSplit, split
from queries.window import Window
from queries.words import words

SOURCE = Source(
    name="openverse",
    title="Openverse",
    kinds=("picture",),
    base_url="https://api.openverse.org/v1",
    page_size=20,
    depth=400,  # 20 pages; fewer where the answer says so
    seconds_between=3.0,  # 20 a minute and 200 a day without a key, says each answer's header
    terms_of_use="Results come from the Openverse API, which does not endorse this program; licences are as"
    " the hosting sites state them, not verified. No copying of the catalogue."
    " https://docs.openverse.org/terms_of_service.html",
    manual="https://api.openverse.org/v1/",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "indexed": "Openverse listed the picture in a batch of that time, so its page was likely public by"
        " then; no copy is kept, so it is a hint and no proof"
    },
)

_LONGEST = 200  # characters of q
_SIGNS = Signs(" + ", " | ", " + -")
_FIRST_PAGE = (("page_size", str(SOURCE.page_size)), ("page", "1"))
FLOOR = 10_000  # result_count goes no higher


def compile(expression: Expression, window: Window) -> Compiled:
    """Return one search of title, description and tags for each part of 200 characters at most."""
    left, left_out = without_symbols(SOURCE.title, expression, _searchable)
    if left is None:
        return Compiled((), left_out)
    notes = [*left_out]
    try:
        cut = split(left, lambda part: len(_query(part)) <= _LONGEST)
    except CannotSplit as problem:
        return Compiled((), (*notes, f"Openverse takes {_LONGEST} characters: {problem}"))
    if window.public_from or window.public_to:
        notes.append("Openverse holds no day of publication: all days are searched.")
    requests = tuple(
        Request(SOURCE.name, "images/", (("q", _query(part)), *_FIRST_PAGE), window=window)
        for part in cut.parts
    )
    return Compiled(requests, tuple(notes), cut.notes)


def sign(request: Request, keys: Mapping[str, str], contact: str) -> Signed:  # noqa: ARG001
    """Return nothing: it is asked without a key."""
    return Signed()


def judge(page: Page) -> SourceError | None:
    """Return what is wrong; None too for a refusal of a later page, which ends the search there."""
    if page.status == 200:
        return None
    what = f"answered {page.status}: {said(page.body)}"
    if page.status == 429:
        if page.headers.get("x-ratelimit-available-anon_sustained", "").strip() == "0":
            what = "the day's 200 requests without a key are spent"
        return SourceBusy(SOURCE.name, what)
    if page.status == 503:
        return SourceBusy(SOURCE.name, what)
    if page.status in (400, 401) and _number(page.request) > 1:
        return None
    return SourceDown(SOURCE.name, what) if page.status >= 500 else SourceRefused(SOURCE.name, what)


def pause(page: Page) -> float:
    """Return a minute where the headers say that this minute's requests are used up, else 0."""
    left = page.headers.get("x-ratelimit-available-anon_burst", "").strip()
    return 60.0 if left == "0" else 0.0


def follow(request: Request, page: Page, today: date) -> list[Request]:  # noqa: ARG001
    """Return the next page while the answer says there is one, 20 pages at most."""
    if page.status != 200:
        return []
    try:
        answer = read_json(SOURCE.name, page.body)
        pages, found = answer.at("page_count").whole() or 0, len(answer.at("results").each())
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    here = _number(request)
    if not found or here >= min(pages, (SOURCE.depth or 0) // SOURCE.page_size):
        return []
    others = tuple(pair for pair in request.params if pair[0] != "page")
    return [replace(request, params=(*others, ("page", str(here + 1))))]


def parse(page: Page) -> Parsed:
    """Return the pictures of a page of results, or the one of a look-up."""
    if page.status != 200:
        return Parsed(0, (), partial=f"a further page was refused: {said(page.body)}")
    answer = read_json(SOURCE.name, page.body)
    try:
        if "results" not in answer.object() and answer.at("id").raw():
            records, quarantined = read_items([answer], _read_picture)
            return Parsed(1, records, quarantined)
        if not isinstance(answer.at("results").value, list):
            answer.at("results").odd("a list")
        pictures, total = answer.at("results").each(), answer.at("result_count").whole()
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    records, quarantined = read_items(pictures, _read_picture)
    floor = total is not None and total >= FLOOR
    return Parsed(len(pictures), records, quarantined, total, floor)


def _number(request: Request) -> int:
    return int(dict(request.params).get("page", "1"))


def _query(expression: Expression) -> str:
    """Return the expression in the simple query string: + for and, | for or, - for not."""
    return write_query(expression, _term, _SIGNS)


def _term(text: str) -> str:
    return '"' + " ".join(words(text)) + '"'


def _searchable(leaf: Text | Code) -> bool:
    return isinstance(leaf, Text) and bool(words(leaf.text))


# --- reading ---------------------------------------------------------------------


def _read_picture(picture: Node) -> Record:
    """Return the record of a picture. Raises OddShape, naming the place, where it is none."""
    number = picture.at("id").text()
    if not number:
        raise OddShape(picture.at("id").path, "is missing, so the picture has no name to keep it under")
    file, landing = picture.at("url").text(), picture.at("foreign_landing_url").text()
    creator = picture.at("creator").text()
    named = [
        tag.at("name").plain() for tag in picture.at("tags").each() if tag.at("accuracy").number() is None
    ]
    return Record(
        source="openverse",
        native_id=number,
        kind="picture",
        title=picture.at("title").plain(),
        abstract=", ".join(dict.fromkeys(filter(None, named))),
        people=(Person(creator),) if creator else (),
        venue=picture.at("source").text() or picture.at("provider").text(),
        url=landing or file,
        identifiers=(StatedIdentifier("url", file),) if file else (),
        dates=_indexed(picture.at("indexed_on").text()),
        details=_details(picture, file),
    )


def _indexed(text: str) -> tuple[StatedDate, ...]:
    days: Days | None = parse_days(text[:10]) if text else None
    return (StatedDate("indexed", text, days, "indexed_on"),) if days else ()


def _details(picture: Node, file: str) -> tuple[tuple[str, str], ...]:
    licence = " ".join(picture.at(name).text() for name in ("license", "license_version"))
    width, height = picture.at("width").whole(), picture.at("height").whole()
    guessed = [
        tag.at("name").plain() for tag in picture.at("tags").each() if tag.at("accuracy").number() is not None
    ]
    facts = [
        ("licence", f"{licence} {picture.at('license_url').text()}".strip()),
        ("creator's page", picture.at("creator_url").text()),
        ("file", file),
        ("size", f"{width} x {height}" if width and height else ""),
        ("tags that a machine guessed", ", ".join(guessed)),
        ("attribution", picture.at("attribution").text()),
    ]
    return tuple((name, text[:2_000]) for name, text in facts if text)
