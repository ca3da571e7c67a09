"""Wikimedia Commons: pictures and other media files, by the text of their description pages.

Read 2026-11-25: mediawiki.org API:Imageinfo, API:Etiquette, Help:CirrusSearch (it knows no
brackets and no OR within an AND), github.com/wikimedia/mediawiki-extensions-CommonsMetadata,
recorded answers. Each upload of a file is a record of its own: its day covers what that
upload shows, and the newest one hides the first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from connectors.connector import Compiled, Page, Parsed, Request, Signed, Source
from connectors.errors import SourceBusy, SourceChanged, SourceDown, SourceError, SourceRefused
from connectors.json_answer import Node, OddShape, read_groups, read_json, said
from connectors.wikimedia_file import read_file
from connectors.without_symbols import without_symbols
from queries.combinations import Texts, combinations, wanted_parts
from queries.expression import And, Code, Expression, Not, Text, leaves
from queries.window import Window
from queries.words import words

SOURCE = Source(
    name="wikimedia",
    title="Wikimedia Commons",
    kinds=("picture",),
    base_url="https://commons.wikimedia.org",
    page_size=50,
    depth=10_000,
    seconds_between=1.0,
    terms_of_use="Each file under its own free licence, shown with it; one request after another, with a"
    " contact address. https://foundation.wikimedia.org (terms of use)",
    manual="https://www.mediawiki.org/wiki/API:Imageinfo",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "posted": "Wikimedia's server logged this upload, in UTC: that version was public from then on; the"
        " log of a file taken over from another wiki is that wiki's"
    },
    contact_wanted=True,
)

MOST_REQUESTS = 40
_LONGEST = 300  # characters of a search
_ONE_FORM = (
    "Commons knows no OR within an AND: each request asks for one form of each concept, in the whole text"
    " of the description page.",
)
_PROPS = "timestamp|user|url|size|sha1|mime|archivename|extmetadata"
_BUSY = ("maxlag", "ratelimited", "cirrussearch-too-busy-error", "readonly")
_DOWN = ("internal_api_error", "cirrussearch-backend-error", "search-error")


def compile(expression: Expression, window: Window) -> Compiled:
    """Return one search of the files' pages for each combination of one form of each concept.

    Windows are not expressed: the search knows no day of upload.
    """
    left, left_out = without_symbols("Commons", expression, _searchable)
    if left is None:
        return Compiled((), left_out)
    combined = combinations(wanted_parts(left), MOST_REQUESTS)
    barred, too_many = _barred(left)
    notes = [*left_out, *filter(None, (*_ONE_FORM, combined.unsent, too_many))]
    if window.public_from or window.public_to:
        notes.append("Commons can't be asked by day of upload: all days are searched.")
    asked = [_search(f"{_phrases(chosen)}{barred}", window) for chosen in combined.chosen]
    fit = [request for request in asked if request]
    if len(fit) < len(asked):
        notes.append(f"{len(asked) - len(fit)} combinations are longer than {_LONGEST} characters: not sent.")
    return Compiled(tuple(fit), tuple(notes))


def sign(request: Request, keys: Mapping[str, str], contact: str) -> Signed:  # noqa: ARG001
    """Return nothing: reading needs no key, and the contact stands in the User-Agent."""
    return Signed()


def judge(page: Page) -> SourceError | None:
    """Return what is wrong: errors come with status 200 and a code."""
    if page.status in (429, 503):
        return SourceBusy(SOURCE.name, f"answered {page.status}: {said(page.body)}")
    if page.status != 200:
        kind = SourceDown if page.status >= 500 else SourceRefused
        return kind(SOURCE.name, f"answered {page.status}: {said(page.body)}")
    try:
        error = read_json(SOURCE.name, page.body).at("error")
        code, what = error.at("code").text(), error.at("info").text()
    except OddShape as odd:
        return SourceChanged(SOURCE.name, odd.reason, path=odd.path)
    except SourceChanged as changed:
        return changed
    if not code and not what:
        return None
    told = f"answered with the error {code}: {what}"[:300]
    if code in _BUSY:
        return SourceBusy(SOURCE.name, told)
    return SourceDown(SOURCE.name, told) if code in _DOWN else SourceRefused(SOURCE.name, told)


def pause(page: Page) -> float:  # noqa: ARG001
    """Return 0: no header tells a rate."""
    return 0.0


def follow(request: Request, page: Page, today: date) -> list[Request]:  # noqa: ARG001
    """Return the request with all that `continue` names put in; nothing after the last or the 10,000th."""
    try:
        onward = read_json(SOURCE.name, page.body).at("continue")
        added = {name: _text(onward.at(name)) for name in onward.object()}
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    offset = added.get("gsroffset", "")
    if not added or (offset.isdigit() and int(offset) >= (SOURCE.depth or 0)):
        return []
    kept = dict(_first(request))
    return [replace(request, params=tuple((kept | added).items()))]


def parse(page: Page) -> Parsed:
    """Return a record for each upload of each file on the page.

    A file whose uploads stand in another answer of the same batch counts there. items
    counts uploads and what was set aside, matched counts files. No total is stated.
    """
    answer = read_json(SOURCE.name, page.body)
    try:
        found = sorted(_pages(answer), key=_rank)
        whole = "batchcomplete" in answer.object() and not _goes_on(page.request)
        here = [each for each in found if whole or each.at("imageinfo").value is not None]
    except OddShape as odd:
        raise SourceChanged(SOURCE.name, odd.reason, path=odd.path) from None
    records, quarantined = read_groups(here, read_file)
    return Parsed(len(records) + len(quarantined), records, quarantined, matched=len(here))


def _pages(answer: Node) -> list[Node]:
    """Return the pages: a list, or in the older format an object by page number."""
    query = answer.at("query")
    if query.value is None and not {"batchcomplete", "continue"} & answer.object().keys():
        answer.odd("an answer to a query")
    pages = query.at("pages")
    if isinstance(pages.value, dict):
        return [pages.at(key) for key in pages.value]
    return pages.each()


def _rank(page: Node) -> int:
    return page.at("index").whole() or 0


def _text(node: Node) -> str:
    return str(node.value) if isinstance(node.value, int) else node.raw()


def _first(request: Request) -> tuple[tuple[str, str], ...]:
    """Return the parameters without those an earlier `continue` added."""
    names = dict(request.state).get("asked", "").split()
    return tuple(pair for pair in request.params if pair[0] in names)


def _goes_on(request: Request) -> bool:
    """Say whether the request asks for the rest of a batch, and not for the next one."""
    asked = {*dict(request.state).get("asked", "").split(), "gsroffset", "continue"}
    return not {name for name, _ in request.params} <= asked


def _search(text: str, window: Window) -> Request | None:
    """Return the request, None for a text that is too long."""
    if len(text) > _LONGEST:
        return None
    params = (
        ("action", "query"), ("format", "json"), ("formatversion", "2"), ("maxlag", "5"),
        ("generator", "search"), ("gsrsearch", text), ("gsrnamespace", "6"),
        ("gsrlimit", str(SOURCE.page_size)), ("prop", "imageinfo"), ("iiprop", _PROPS), ("iilimit", "max"),
    )  # fmt: skip
    asked = " ".join(name for name, _ in params)
    return Request(SOURCE.name, "w/api.php", params, window=window, state=(("asked", asked),))


def _searchable(leaf: Text | Code) -> bool:
    return isinstance(leaf, Text) and bool(words(leaf.text))


def _phrases(chosen: Texts) -> str:
    """Return the texts as phrases, all of which must be found."""
    return " ".join(dict.fromkeys(f'"{" ".join(words(text))}"' for text in chosen))


def _barred(expression: Expression) -> tuple[str, str]:
    """Return the exclusions as they are sent, and a sentence for those that can't be."""
    parts = expression.parts if isinstance(expression, And) else ()
    texts = [leaf for part in parts if isinstance(part, Not) for leaf in leaves(part)]
    plain = all(not isinstance(leaf, Code) for leaf in texts) and not any(
        isinstance(inner, And) for part in parts if isinstance(part, Not) for inner in (part.part,)
    )
    written = "".join(f' -"{" ".join(words(leaf.text))}"' for leaf in texts if isinstance(leaf, Text))
    if plain and len(written) <= _LONGEST // 2:
        return written, ""
    return "", "The exclusions do not fit into a search of Commons: what holds them is found too."
