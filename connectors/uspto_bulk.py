"""US grants and published applications in full text, out of the user's own corpus of bulk files.

No service searches this text; the office's bulk files do not answer questions. The corpus
(pipeline/corpus) stands in for a service: it answers a request with JSON lines, a line about
the answer, then a line for each document, which holds what the document states.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

from connectors.connector import Compiled, Page, Parsed, Quarantined, Request, Signed, Sought, Source
from connectors.errors import SourceChanged, SourceError
from connectors.record import Record
from connectors.uspto_facts import facts_from
from connectors.uspto_record import read_records, why_unreadable
from queries.expression import Expression
from queries.expression_json import expression_data
from queries.window import Window

SOURCE = Source(
    name="uspto_bulk",
    title="USPTO bulk full text, in your own corpus",
    kinds=("patent", "patent application", "design"),
    base_url="",
    page_size=200,
    depth=None,
    seconds_between=0.0,
    terms_of_use=(
        "The text of US patents is as a rule not under copyright (37 CFR 1.71(d), (e): exceptions bear a"
        " notice). Nothing is sent: the corpus is on this machine."
    ),
    manual="USPTO document types us-patent-grant 4.7, us-patent-application 4.6",
    manual_read=date(2026, 11, 25),
    dates_stated={
        "publication of application": "the day of publication of the application (35 USC 122(b))",
        "publication of grant": "the day of issue of the patent",
        "published": "the day of issue of a design or a statutory invention registration",
        "filed": "the day of filing; not public",
        "priority": "the day of an earlier filing that is relied on; not public",
    },
    date_filter=True,
    local=True,
)

PATH = "documents"
FIND, CITING = "numbers", "citing"
CITED = ("publication", "doi")
FIELDS = ("title", "abstract", "claims")
WITH_DESCRIPTIONS = (*FIELDS, "description")
EXCERPT = 500


def compile(expression: Expression, window: Window) -> Compiled:
    """Return the one request: the corpus is asked the expression itself, whole."""
    asked = json.dumps(expression_data(expression), ensure_ascii=False, separators=(",", ":"))
    days = [("from", window.public_from), ("to", window.public_to)]
    params = (
        ("asked", asked),
        *((name, day.isoformat()) for name, day in days if day),
        ("in", ", ".join(FIELDS)),
        ("after", ""),
    )
    return Compiled((Request(SOURCE.name, PATH, params, window=window),))


def in_descriptions_too(request: Request) -> Request:
    """Return the request asked of the descriptions as well."""
    params = tuple((name, ", ".join(WITH_DESCRIPTIONS) if name == "in" else v) for name, v in request.params)
    return replace(request, params=params)


def find(numbers: Sequence[Sought]) -> Compiled:
    """Return the request for the documents with these publication numbers."""
    return _by_number(
        FIND, [f"{number.scheme} {number.text}" for number in numbers if number.scheme == "publication"]
    )


def cited(numbers: Sequence[Sought]) -> Compiled:  # noqa: ARG001 (protocol)
    """Return nothing: a document's record lists what it cites."""
    return Compiled(())


def citing(numbers: Sequence[Sought]) -> Compiled:
    """Return the request for the documents that cite any of these."""
    return _by_number(
        CITING, [f"{number.scheme} {number.text}" for number in numbers if number.scheme in CITED]
    )


def _by_number(path: str, texts: list[str]) -> Compiled:
    if not texts:
        return Compiled(())
    params = (("numbers", json.dumps(texts, ensure_ascii=False)), ("after", ""))
    # A look-up of numbers states no total of matches; what cites a document is a search like any other.
    step = "numbers" if path == FIND else "search"
    return Compiled((Request(SOURCE.name, path, params, step=step),))


def sign(request: Request, keys: Mapping[str, str], contact: str) -> Signed:  # noqa: ARG001 (protocol)
    """Return nothing to add: the corpus knows no secrets."""
    return Signed()


def judge(page: Page) -> SourceError | None:
    """Return None: what the corpus could not answer, it does not answer."""
    return None if page.status == 200 else SourceChanged(SOURCE.name, f"answered {page.status}")


def pause(page: Page) -> float:  # noqa: ARG001 (protocol)
    """Return 0: nobody else is asked."""
    return 0.0


def follow(request: Request, page: Page, today: date) -> list[Request]:  # noqa: ARG001 (protocol)
    """Return the next page, where the answer says that there is one."""
    after = _head(page)["next"]
    if not after:
        return []
    params = tuple((name, after if name == "after" else value) for name, value in request.params)
    return [replace(request, params=params)]


def parse(page: Page) -> Parsed:
    """Return the records of every document on the page, with those of its earlier publications.

    A line that can't be read is one quarantined item.
    """
    records: list[Record] = []
    quarantined: list[Quarantined] = []
    for at, line in enumerate(page.body.split(b"\n")[1:], start=2):
        if not line:
            continue
        try:
            read = _read(line)
        except (ValueError, RecursionError) as problem:
            read = f"it is not what the corpus writes: {str(problem)[:200]}"
        if isinstance(read, str):
            excerpt = line[:EXCERPT].decode("utf-8", "replace")
            quarantined.append(Quarantined(len(records) + len(quarantined), f"line {at}", read, excerpt))
        else:
            records += read
    total = _head(page)["items"]
    return Parsed(len(records) + len(quarantined), tuple(records), tuple(quarantined), stated_total=total)


def _read(line: bytes) -> list[Record] | str:
    document = facts_from(json.loads(line)["document"] if line.startswith(b"{") else None)
    return why_unreadable(document) or read_records(SOURCE.name, document)


def _head(page: Page) -> Mapping[str, Any]:
    """Return the line about the answer. Raises SourceChanged where there is none."""
    first = page.body.split(b"\n", 1)[0]
    try:
        head = json.loads(first)
    except ValueError:
        head = None
    if (
        isinstance(head, dict)
        and isinstance(head.get("next"), str)
        and isinstance(head.get("items"), int)
        and not isinstance(head["items"], bool)
    ):
        return head
    raise SourceChanged(SOURCE.name, "the answer does not begin with a line about itself", path="line 1")
