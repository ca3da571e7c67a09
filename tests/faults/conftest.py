"""Every source played on loopback: a library of invented documents, read page by page as its service shows them.

A player says where a request begins in the list, from which day on it asks for what is new (None:
everything), and writes a page. A source in the registry without a player fails these tests: add one here.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl

import pytest

from connectors.connector import Connector
from connectors.registry import BY_NAME
from connectors.waiting import Clock, Limits
from pipeline.harvest import Desk, harvest_source
from pipeline.journal import read_journal
from pipeline.load import parse_page
from pipeline.matter import load_matter
from pipeline.plan import make_plan
from pipeline.responses import Responses
from pipeline.run import run_outcome

Asked = dict[str, str]
TOKEN = {"body": b'{"access_token": "a-token-of-ours", "expires_in": "1199"}'}
MATTER = """
[invention]
title = "Self-flushing emitter"
summary = "A drip emitter that flushes itself when the sun warms the line."
[invention.elements]
A = "a drip emitter"
[[concept]]
name = "emitter"
terms = [{ text = "drip emitter", plural = false, hyphen = false }]
"""


@dataclass(frozen=True)
class Document:
    """An invented document: its number, the day it became public, the day the source added it."""

    number: int
    public: date = date(2015, 5, 14)
    added: date = date(2020, 1, 1)

    @property
    def title(self) -> str:
        return f"Tröpfchen: drip emitter {self.number}"


@dataclass(frozen=True)
class Shown:
    """A page to write: its documents (None is garbage), where it begins, total, where the next one begins."""

    documents: list[Document | None]
    start: int
    total: int
    onward: int | None


@dataclass(frozen=True)
class Player:
    """How one source is played. partial: the page with the source's own mark of an answer cut short."""

    start: Callable[[Asked], int]
    write: Callable[[Shown], bytes]
    since: Callable[[Asked], date | None] = lambda _asked: None
    partial: Callable[[bytes], bytes] | None = None
    size: int = 4
    pages: int = 3


def _number(name: str) -> Callable[[Asked], int]:
    """Return what reads the place from a parameter that counts documents."""
    return lambda asked: int(asked.get(name, "0"))


def _day_in(name: str, pattern: str) -> Callable[[Asked], date | None]:
    """Return what finds the day from which on a parameter asks for what is new."""

    def since(asked: Asked) -> date | None:
        found = re.search(pattern, asked.get(name, ""))
        return date.fromisoformat(found[1]) if found else None

    return since


def _mark(name: str, first: str) -> Callable[[Asked], int]:
    """Return what reads our own cursors: `at-8` begins at the ninth."""
    return lambda asked: 0 if asked.get(name, first) == first else int(asked[name].removeprefix("at-"))


def _onward(shown: Shown) -> str | None:
    return None if shown.onward is None else f"at-{shown.onward}"


def _json(value: Any) -> bytes:
    return json.dumps(value, ensure_ascii=False).encode()


def _openalex(shown: Shown) -> bytes:
    works = [
        {"id": f"https://openalex.org/W{each.number}", "title": each.title,
         "publication_date": str(each.public), "publication_year": each.public.year} if each else {"id": 7}
        for each in shown.documents
    ]  # fmt: skip
    meta = {"count": shown.total, "timed_out": False, "next_cursor": _onward(shown)}
    return _json({"meta": meta, "results": works})


def _timed_out(body: bytes) -> bytes:
    return body.replace(b'"timed_out": false', b'"timed_out": true')


def _crossref(shown: Shown) -> bytes:
    works = [
        {"DOI": f"10.5555/c.{each.number}", "type": "journal-article", "title": [each.title],
         "published": {"date-parts": [[each.public.year]]}} if each else ["garbage"]
        for each in shown.documents
    ]  # fmt: skip
    message = {"total-results": shown.total, "items": works}
    return _json({"status": "ok", "message-type": "work-list", "message": message})


def _arxiv(shown: Shown) -> bytes:
    entries = "".join(
        f"<entry><id>http://arxiv.org/abs/{each.public:%y%m}.{each.number:05d}v1</id><title>{each.title}</title>"
        f"<updated>{each.added}T09:00:00Z</updated><published>{each.public}T09:00:00Z</published>"
        "<summary>s</summary></entry>" if each else "<entry><id>urn:garbage</id></entry>"
        for each in shown.documents
    )  # fmt: skip
    return (
        '<?xml version="1.0" encoding="UTF-8"?><feed xmlns="http://www.w3.org/2005/Atom"'
        f' xmlns:o="http://a9.com/-/spec/opensearch/1.1/"><title>t</title><o:totalResults>{shown.total}</o:totalResults>'
        f"<o:startIndex>{shown.start}</o:startIndex>{entries}</feed>"
    ).encode()


def _europepmc(shown: Shown) -> bytes:
    results = [
        {"id": str(each.number), "source": "MED", "title": each.title, "firstPublicationDate": str(each.public)}
        if each else "garbage"
        for each in shown.documents
    ]  # fmt: skip
    mark = _onward(shown) or f"at-{shown.start + len(results)}"  # at the end it stands still
    return _json({"hitCount": shown.total, "nextCursorMark": mark, "resultList": {"result": results}})


def _datacite(shown: Shown) -> bytes:
    items = [
        {"id": f"10.5555/d.{each.number}", "type": "dois", "attributes": {
            "doi": f"10.5555/d.{each.number}", "titles": [{"title": each.title}],
            "dates": [{"date": str(each.public), "dateType": "Issued"}]}} if each else {"id": None}
        for each in shown.documents
    ]  # fmt: skip
    links = (
        {"next": f"https://elsewhere.example/dois?page%5Bcursor%5D={mark}"}
        if (mark := _onward(shown))
        else {}
    )
    return _json({"data": items, "meta": {"total": shown.total}, "links": links})


def _semanticscholar(shown: Shown) -> bytes:
    papers = [
        {"paperId": f"{each.number:040x}", "corpusId": each.number, "title": each.title,
         "publicationDate": str(each.public), "year": each.public.year} if each else None
        for each in shown.documents
    ]  # fmt: skip
    return _json({"total": shown.total, "token": _onward(shown), "data": papers})


def _epo_ops(shown: Shown) -> bytes:
    found = "".join(_patent(each) for each in shown.documents)
    return _ops(
        f'<ops:biblio-search total-result-count="{shown.total}"><ops:search-result><exchange-documents>{found}'
        "</exchange-documents></ops:search-result></ops:biblio-search>"
    )


def _ops(inner: str) -> bytes:
    names = 'xmlns="http://www.epo.org/exchange" xmlns:ops="http://ops.epo.org"'
    return f'<?xml version="1.0" encoding="UTF-8"?><ops:world-patent-data {names}>{inner}</ops:world-patent-data>'.encode()


def _patent(each: Document | None) -> str:
    number = f"<country>EP</country><doc-number>{each.number}</doc-number><kind>A1</kind>" if each else ""
    day = f"<date>{each.public:%Y%m%d}</date>" if each else ""
    attributes = (
        f' family-id="{each.number}" country="EP" doc-number="{each.number}" kind="A1"' if each else ""
    )
    return (
        f"<exchange-document{attributes}><bibliographic-data><publication-reference>"
        f'<document-id document-id-type="docdb">{number}{day}</document-id></publication-reference>'
        f'<invention-title lang="en">{each.title if each else ""}</invention-title></bibliographic-data>'
        "</exchange-document>"
    )


def _family(number: str) -> dict[str, Any]:
    one = Document(int(number))
    inner = (
        f'<ops:patent-family total-result-count="1"><ops:family-member family-id="{number}">{_patent(one)}'
    )
    return {"body": _ops(f"{inner}</ops:family-member></ops:patent-family>")}


def _uspto_odp(shown: Shown) -> bytes:
    files = [
        {"applicationNumberText": f"18{each.number:06d}", "applicationMetaData": {
            "inventionTitle": each.title, "earliestPublicationNumber": f"US{each.public.year}{each.number:07d}A1",
            "earliestPublicationDate": str(each.public)}} if each else {"applicationNumberText": "?"}
        for each in shown.documents
    ]  # fmt: skip
    return _json({"count": shown.total, "patentFileWrapperDataBag": files})


def _wikimedia(shown: Shown) -> bytes:
    pages = [
        {"pageid": each.number, "title": f"File:{each.title}.jpg", "imageinfo": [
            {"timestamp": f"{each.public}T01:02:03Z", "url": f"https://upload.example/{each.number}.jpg"}]}
        if each else {"title": "File:Garbage.jpg"}
        for each in shown.documents
    ]  # fmt: skip
    onward = (
        {} if shown.onward is None else {"continue": {"gsroffset": shown.onward, "continue": "gsroffset||"}}
    )
    return _json({"batchcomplete": True, **onward, "query": {"pages": pages}})


def _openverse(shown: Shown) -> bytes:
    pictures = [
        {"id": f"picture-{each.number}", "title": each.title, "indexed_on": f"{each.added}T00:00:00Z"}
        if each else {"title": "garbage"}
        for each in shown.documents
    ]  # fmt: skip
    pages = 1_000 if shown.onward is not None else 1
    return _json({"result_count": shown.total, "page_count": pages, "results": pictures})


PLAYERS = {
    "openalex": Player(_mark("cursor", "*"), _openalex, partial=_timed_out),
    # It only ranks: two pages of a hundred are read by design.
    "crossref": Player(_number("offset"), _crossref, _day_in("filter", r"from-index-date:([\d-]+)"), size=100, pages=2),
    "arxiv": Player(_number("start"), _arxiv, _day_in("search_query", r"lastUpdatedDate:\[(\d{8})")),
    "europepmc": Player(_mark("cursorMark", "*"), _europepmc, _day_in("query", r"UPDATE_DATE:\[([\d-]+)")),
    "datacite": Player(_mark("page[cursor]", "1"), _datacite, _day_in("query", r"updated:\[([\d-]{10})")),
    # Its total is an estimate: a page lost is noticed by its size.
    "semanticscholar": Player(_mark("token", ""), _semanticscholar, size=150, pages=2),
    "epo_ops": Player(lambda asked: int(asked["Range"].split("-")[0]) - 1, _epo_ops),
    "uspto_odp": Player(lambda asked: int(json.loads(asked["body"])["pagination"]["offset"]), _uspto_odp),
    "wikimedia": Player(_number("gsroffset"), _wikimedia),
    "openverse": Player(lambda asked: (int(asked["page"]) - 1) * 4, _openverse),
}  # fmt: skip


@dataclass
class Service:
    """One source, played. fault: what becomes of an answer. asked: how often each page. torn: bad look-ups."""

    name: str
    documents: list[Document]
    fault: Callable[[Service, int, dict[str, Any]], dict[str, Any]] | None = None
    asked: dict[int, int] = field(default_factory=dict)
    size: int = 0
    target: str = ""
    torn: int = 0

    @property
    def player(self) -> Player:
        """Return how it is played."""
        if self.name not in PLAYERS:
            pytest.fail(f"source {self.name} is in the registry: add its player to tests/faults/conftest.py")
        return PLAYERS[self.name]

    @property
    def page_size(self) -> int:
        """Return how many documents stand on a page."""
        return self.size or self.player.size

    def __call__(self, seen: Any) -> dict[str, Any]:
        """Answer a request: the token, a family, or a page of the search, as the fault leaves it."""
        if "auth/accesstoken" in seen.path:
            return dict(TOKEN)
        if family := re.search(r"/family/publication/docdb/EP\.(\d+)\.A1/", seen.path):
            self.torn -= 1
            return _family(family[1]) if self.torn < 0 else {"body": b"<html>"}
        asked = {**seen.query, **dict(parse_qsl(seen.body.decode())), "body": seen.body.decode()}
        since = self.player.since(asked)
        found = [each for each in self.documents if since is None or each.added >= since]
        start = self.player.start(asked)
        self.target = seen.target
        self.asked[start] = self.asked.get(start, 0) + 1
        end = start + self.page_size
        answer = self.page(list(found[start:end]), start, len(found), end if end < len(found) else None)
        return self.fault(self, start, answer) if self.fault else answer

    def page(
        self, documents: list[Document | None], start: int, total: int, onward: int | None
    ) -> dict[str, Any]:
        """Return an answer with that page."""
        kind = (
            "application/json" if self.player.write(Shown([], 0, 0, None))[:1] == b"{" else "application/xml"
        )
        return {
            "body": self.player.write(Shown(documents, start, total, onward)),
            "headers": {"Content-Type": kind},
        }


@dataclass(frozen=True)
class Ended:
    """How a night's one sweep ended, as the journal says."""

    outcome: str
    reason: str
    requests: int
    items: int
    records: int
    quarantined: int


@dataclass
class Nights:
    """A matter with one source on, and the nights run over it."""

    folder: Path
    connector: Connector
    url: str
    matter: str = MATTER

    def run(self, at: datetime) -> Ended:
        """Ask the source its one sweep at that time, as a run does."""
        source = self.connector.SOURCE
        table = f'[source.{source.name}]\non = true\nbase_url = "{self.url}/{source.name}"\n'
        (self.folder / "matter.toml").write_text(self.matter + table, encoding="utf-8")
        responses = Responses(self.folder)
        journal = read_journal(responses, at)
        keys = dict.fromkeys(source.key_variables, "a-key-of-ours")
        [planned] = make_plan(load_matter(self.folder), (self.connector,), keys, journal.completed, at)
        now = [0.0]

        def sleep(wait_s: float) -> None:
            now[0] += wait_s

        pace = Clock(now=lambda: now[0], sleep=sleep, today=lambda: at, chance=lambda: 0.5)
        limits = Limits(total_s=0.25, attempts=3)
        desk = Desk(responses, journal, f"{at:%Y-%m-%dT%H:%M:%SZ}", lambda: at, lambda _: None, pace, limits)
        desk.write("run started")
        desk.write("run ended", outcome=run_outcome(list(harvest_source(planned, desk))))
        [line] = [each for _, each in responses.journal.lines() if each["line"] == "sweep ended"][-1:]
        return Ended(**{name: line[name] for name in Ended.__dataclass_fields__})

    def answers(self) -> list[dict[str, Any]]:
        """Return the journal's line of every answer kept, each with its body still readable."""
        responses = Responses(self.folder)
        lines = [line for _, line in responses.answers()]
        assert all(len(responses.body(line["sha256"])) == line["size"] for line in lines)
        return lines

    def names(self) -> set[str]:
        """Return the names of all records on the answers kept, as the store would read them."""
        responses = Responses(self.folder)
        pages = (parse_page(responses.page(line)) for line in self.answers())
        return {record.native_id for parsed in pages for record in parsed.records}


@pytest.fixture
def play(scripted_server: Any, tmp_path: Path) -> Callable[..., tuple[Service, Nights]]:
    """Give a function that starts a played source with a library, and a matter that asks it."""

    def start(name: str, documents: list[Document], **named: Any) -> tuple[Service, Nights]:
        service = Service(name, documents, **named)
        return service, Nights(tmp_path, BY_NAME[name], scripted_server(route=service).url)

    return start


@pytest.fixture
def library() -> Callable[..., list[Document]]:
    """Give a function that makes as many documents as a source's pages hold, or so many."""

    def make(name: str, count: int = 0) -> list[Document]:
        player = Service(name, []).player
        return [Document(10_001 + n) for n in range(count or player.size * player.pages)]

    return make


@pytest.fixture
def document() -> type[Document]:
    """Give the class of the invented documents."""
    return Document
