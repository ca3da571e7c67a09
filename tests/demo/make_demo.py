"""Write fixtures/demo: what each source would answer to the demo matter's requests.

Run from anywhere: `python tests/demo/make_demo.py [FOLDER]`. Reads fixtures/demo/matter.toml and
corpus.toml; asks the connectors what they would send, answers as the service would from the
invented corpus, and follows as far as they follow. The same input gives the same files.
"""

from __future__ import annotations

import json
import re
import shutil
import sys
import tomllib
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

import render  # noqa: E402 - beside this file

from connectors.connector import Page, Request  # noqa: E402
from connectors.registry import CONNECTORS  # noqa: E402
from pipeline.by_number import number_sweeps, with_numbers  # noqa: E402
from pipeline.matter import load_matter  # noqa: E402
from pipeline.plan import PlannedSource, make_plan  # noqa: E402
from queries.expression import Code, Document, Text, matches  # noqa: E402
from queries.words import words  # noqa: E402

DEMO = ROOT / "fixtures" / "demo"
KEYS = {"EPO_OPS_KEY": "demo-key-one", "EPO_OPS_SECRET": "demo-key-two"}
PLAYED = ("openalex", "crossref", "arxiv", "epo_ops")  # the demo switches the other sources off
PAGE = 12  # works on a page of OpenAlex, so that the demo turns pages
TODAY = date(2026, 11, 25)
TORN = ("openalex", "emitter + flushing", 2)
TOLD_TO_WAIT = ("crossref", "all concepts", 1)
FAMILY = ("Abara", "Bystrom", "Castellane", "Dvorzak", "Eskelin", "Farouk", "Grimaldo", "Halvorsen", "Ibarrola",
          "Jankauskas", "Kealoha", "Lundqvist", "Mbeki", "Novotna", "Ocampo", "Pereyra", "Quist")  # fmt: skip
GIVEN = (
    "Amara",
    "Bruno",
    "Chiyo",
    "Dag",
    "Esra",
    "Fiona",
    "Goran",
    "Hind",
    "Ivo",
    "Jaya",
    "Kofi",
    "Lena",
    "Milo",
)
VENUES = (
    "Irrigation Devices and Practice",
    "Smart Materials Notes",
    "Biosystem Equipment",
    "Water and Machine",
)


# --- the corpus ------------------------------------------------------------------


def read_corpus() -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Return works (each with a number) and patents."""
    data = tomllib.loads((Path(__file__).parent / "corpus.toml").read_text(encoding="utf-8"))
    works = [*data["work"], *_noise(data["noise"])]
    for place, work in enumerate(works):
        work["number"] = 9_900_000_001 + place * 37
    return works, data["patent"]


def _noise(themes: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    place = 0
    for theme in themes:
        for shift in (0, 1):
            for at in range(4):
                yield _noise_work(theme, at, (at + shift) % 4, place)
                place += 1


def _noise_work(theme: dict[str, Any], at: int, other: int, place: int) -> dict[str, Any]:
    said = {"a": theme["a"][at], "b": theme["b"][other]}
    year, month, day = 2005 + place * 7 % 20, 1 + place * 5 % 12, 2 + place * 11 % 26
    authors = [
        f"{GIVEN[(place + n * 5) % 13]} {FAMILY[(place * 3 + n * 4) % 17]}" for n in range(1 + place % 3)
    ]
    work: dict[str, Any] = {
        "title": (title := theme["title"].format(**said))[:1].upper() + title[1:],
        "abstract": f"{theme['abstract'].format(**said)} {theme['tail'][(at + other) % 4]}".strip(),
        "authors": authors,
        "venue": VENUES[place % 4],
        "doi": f"10.5555/demo.{year}.{place:03d}",
    }
    if place % 8 == 5:
        del work["doi"]
        stamp = f"{year}-{month:02d}-{day:02d}T09:30:00Z"
        number = f"{year % 100:02d}{month:02d}.{90000 + place if year > 2014 else 9000 + place}"
        if year < 2008:
            number, stamp = f"08{month:02d}.{9000 + place}", f"2008-{month:02d}-{day:02d}T09:30:00Z"
        work["arxiv"] = {"id": number, "submitted": stamp, "version": 1}
        return work
    if place % 3 != 2:
        whole = f"{year}-{month:02d}-{day:02d}"
        work["openalex"] = {"date": f"{year}-01-01" if place % 6 == 0 else whole}
    if place % 3 != 1:
        parts = ([year], [year, month], [year, month, day])[place // 3 % 3]
        work["crossref"] = {
            "print" if len(parts) < 3 else "online": parts,
            "created": f"{year}-{month:02d}-{day:02d}",
        }
    return work


# --- what a service makes of a query ---------------------------------------------

_TOKEN = re.compile(
    r"\s*(?:(?P<bracket>[()])|(?P<join>(?:ANDNOT|AND|OR|NOT)\b)|cpc=/low (?P<code>[A-Z0-9/]+)"
    r'|(?:ti:|abs:|ta=)?"(?P<phrase>[^"]*)"|(?P<word>[^\s()"]+))',
    re.IGNORECASE,
)


def finds(query: str, document: Document) -> bool:
    """Return whether a query, in the language of OpenAlex, arXiv or OPS, holds for the document.

    Joins bind from left to right, as all three connectors bracket every mixture.
    """
    tokens = [match for match in _TOKEN.finditer(query) if match[0].strip()]
    held, rest = _group(tokens, document)
    assert not rest, f"left over of {query}: {rest}"
    return held


def _group(tokens: list[re.Match[str]], document: Document) -> tuple[bool, list[re.Match[str]]]:
    held, tokens = _leaf(tokens, document)
    while tokens and tokens[0]["join"]:
        join = tokens[0]["join"].upper()
        other, tokens = _leaf(tokens[1:], document)
        held = (held or other) if join == "OR" else held and (other if join == "AND" else not other)
    return held, tokens


def _leaf(tokens: list[re.Match[str]], document: Document) -> tuple[bool, list[re.Match[str]]]:
    first, rest = tokens[0], tokens[1:]
    if first["bracket"] == "(":
        held, rest = _group(rest, document)
        assert rest[0]["bracket"] == ")"
        return held, rest[1:]
    if first["code"]:
        symbol = re.sub(r"^([A-Z]\d\d[A-Z])", r"\1 ", first["code"])
        return matches(Code("CPC", symbol), document), rest
    return matches(Text(first["phrase"] or first["word"]), document), rest


# --- answers ---------------------------------------------------------------------


class Services:
    """The four services, each answering from the corpus."""

    def __init__(self) -> None:
        self.works, self.patents = read_corpus()

    def answer(self, request: Request) -> tuple[int, bytes, str]:
        """Return status, body and the ending of its file's name."""
        asked = dict(request.params) or dict(parse_qsl(request.body))
        if request.source == "openalex":
            return 200, self._openalex(asked), "json"
        if request.source == "crossref":
            if request.step == "numbers":
                return 200, render.crossref_page(self._numbered("crossref", asked["filter"])), "json"
            return 200, self._crossref(asked["query.bibliographic"]), "json"
        if request.source == "arxiv":
            query = asked["search_query"]
            return 200, render.arxiv_feed([w for w in self._at("arxiv") if finds(query, _document(w))]), "xml"
        return (*self._ops(request, asked), "xml")

    def _at(self, source: str) -> list[dict[str, Any]]:
        return [work for work in self.works if source in work]

    def _numbered(self, source: str, filter_: str) -> list[dict[str, Any]]:
        """Return the works whose DOI stands in a filter of DOIs."""
        dois = {*re.split(r"[|,]?doi:|[|,]", filter_)}
        return [work for work in self._at(source) if work.get("doi") in dois]

    def _openalex(self, asked: dict[str, str]) -> bytes:
        if asked["filter"].startswith("doi:"):
            found = self._numbered("openalex", asked["filter"])
            return render.openalex_page(found, len(found), None)
        query = asked["filter"].split(":", 1)[1]
        found = [work for work in self._at("openalex") if finds(query, _document(work))]
        start = 0 if asked["cursor"] == "*" else int(asked["cursor"].removeprefix("demo-"))
        onward = f"demo-{start + PAGE}" if start + PAGE < len(found) else None
        return render.openalex_page(found[start : start + PAGE], len(found), onward)

    def _crossref(self, query: str) -> bytes:
        """Rank by words shared; what shares too few is not in the answer, as far down the list."""
        wanted = set(words(query))
        shared = [(len(wanted & _all_words(work)), work["number"], work) for work in self._at("crossref")]
        enough = max(2, -(-len(wanted) * 4 // 5))
        ranked = sorted((row for row in shared if row[0] >= enough), key=lambda row: (-row[0], row[1]))
        return render.crossref_page([work for _, _, work in ranked])

    def _ops(self, request: Request, asked: dict[str, str]) -> tuple[int, bytes]:
        if request.step == "family":
            family = dict(request.state)["family"]
            return 200, render.ops_family(next(p for p in self.patents if p["family"] == family))
        if request.step == "numbers":
            names = dict(request.state)["numbers"].split()
            known = [(patent, m) for patent in self.patents for m in patent["members"] if docdb(m) in names]
            return (200, render.ops_documents(known)) if known else (404, render.ops_nothing())
        found = [
            (patent, member)
            for patent in self.patents
            if finds(asked["q"], _document(patent))
            for member in patent["members"]
            if member.get("found")
        ]
        return (200, render.ops_search(found)) if found else (404, render.ops_nothing())


def docdb(member: dict[str, Any]) -> str:
    """Return the document's number as an address takes it."""
    return f"{member['country']}.{member['number']}.{member['kind']}"


def _document(work: dict[str, Any]) -> Document:
    return Document(work["title"], work["abstract"], tuple(("CPC", code) for code in work.get("cpc", ())))


def _all_words(work: dict[str, Any]) -> set[str]:
    return {*words(work["title"]), *words(work["abstract"])}


# --- the script ------------------------------------------------------------------


class Script:
    """The rules and files written so far."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.rules: list[dict[str, Any]] = []
        self.names: dict[bytes, str] = {}
        self.asked: set[str] = set()

    def add(self, told: str, request: Request, status: int, body: bytes, ending: str) -> None:
        """Add the rule that answers the request; one that is asked again needs no second rule."""
        rule = _rule(told, request)
        key = json.dumps([rule["source"], rule["path"], rule["asks"]])
        if key not in self.asked:
            self.asked.add(key)
            self.rules.append({**rule, "status": status, "file": self.file(request, body, ending)})

    def once(self, told: str, request: Request, status: int, body: bytes, file: str, **headers: str) -> None:
        """Add a rule that is used up by its first answer."""
        (self.folder / file).write_bytes(body)
        self.rules.append(
            {**_rule(told, request), "times": 1, "status": status, "headers": headers, "file": file}
        )

    def file(self, request: Request, body: bytes, ending: str) -> str:
        """Return the name of the file that holds the body, the same for the same body."""
        if body not in self.names:
            place = 1 + sum(
                name.startswith(f"{request.source}/{request.step}") for name in self.names.values()
            )
            self.names[body] = f"{request.source}/{request.step}-{place:02d}.{ending}"
            (self.folder / self.names[body]).write_bytes(body)
        return self.names[body]


def _rule(told: str, request: Request) -> dict[str, Any]:
    asks = dict(request.params) or dict(parse_qsl(request.body))
    return {"for": told, "source": request.source, "path": request.path, "asks": asks}


def write_source(planned: PlannedSource, services: Services, script: Script) -> None:
    """Ask a source all its sweeps and write what it answers."""
    for sweep in planned.sweeps:
        queue, page_number, known = list(sweep.compiled.requests), 0, set[Request]()
        while queue:
            request = queue.pop(0)
            if request in known:
                continue
            known.add(request)
            page_number += request.step == "search"
            status, body, ending = services.answer(request)
            told = f"{sweep.sweep.name}, {request.step} {page_number if request.step == 'search' else ''}".strip()
            here = (planned.name, sweep.sweep.name, page_number)
            if here == TORN:
                script.once(told + ", torn", request, 200, body[: len(body) * 3 // 5], "openalex/torn.json")
            if here == TOLD_TO_WAIT:
                busy = b"<html><body><h1>429 Too Many Requests</h1></body></html>\n"
                script.once(
                    told + ", asked to wait", request, 429, busy, "crossref/busy.html", **{"Retry-After": "1"}
                )
            script.add(told, request, status, body, ending)
            page = Page(request, status, {}, body, TODAY)
            queue[:0] = planned.connector.follow(request, page, TODAY)


def write_truth(services: Services, folder: Path) -> None:
    """Write what must come of the demo: the truths of the corpus, by the records they are about."""
    by_key = {work["key"]: work for work in services.works if "key" in work}
    rows = tomllib.loads((Path(__file__).parent / "corpus.toml").read_text(encoding="utf-8"))["truth"]
    truths = [
        {
            "records": sorted(_records(row, by_key, services.patents)),
            "titles": row.get("handed_in_titles", []),
            "versions": row["versions"],
            "public": [day or None for day in row["public"]],
            "verdicts": dict(zip(("US", "EP", "JP"), row["verdicts"], strict=True)),
            "why": row["why"],
        }
        for row in rows
    ]
    text = ",\n".join(json.dumps(row, ensure_ascii=False) for row in truths)
    (folder / "truth.json").write_text(f"[\n{text}\n]\n", encoding="utf-8")


def _records(row: dict[str, Any], works: dict[str, Any], patents: list[dict[str, Any]]) -> Iterator[str]:
    """Yield source:native_id of every record that the row's reference consists of."""
    yield from (f"files:{name}" for name in row.get("handed_in", ()))
    for work in (works[key] for key in row.get("works", ())):
        own = {
            "openalex": f"W{work['number']}",
            "crossref": work.get("doi"),
            "arxiv": work.get("arxiv", {}).get("id"),
        }
        yield from (f"{source}:{name}" for source, name in own.items() if source in work)
    for patent in patents:
        if patent["family"] == row.get("family"):
            yield from (f"epo_ops:{docdb(m)}" for m in patent["members"])


def main(folder: Path = DEMO) -> None:
    """Write every answer, the script and the truth into folder."""
    services, script = Services(), Script(folder)
    for name in PLAYED:
        shutil.rmtree(folder / name, ignore_errors=True)
        (folder / name).mkdir(parents=True)
    token = {"access_token": "demo-token-not-a-secret", "token_type": "BearerToken", "expires_in": "1199"}
    (folder / "epo_ops" / "token.json").write_text(json.dumps(token) + "\n")
    at = {"source": "epo_ops", "path": "auth/accesstoken", "asks": {}}
    script.rules.append({"for": "the token", **at, "status": 200, "file": "epo_ops/token.json"})
    matter, now = load_matter(DEMO), datetime(2026, 11, 25, tzinfo=UTC)
    plan = make_plan(matter, CONNECTORS, KEYS, {}, now)
    for planned in with_numbers(plan, number_sweeps(matter), {}, now):
        if planned.name in PLAYED:
            write_source(planned, services, script)
    write_truth(services, folder)
    text = ",\n".join(json.dumps(rule, ensure_ascii=False) for rule in script.rules)
    (folder / "script.json").write_text(f"[\n{text}\n]\n", encoding="utf-8")


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
