"""What was received: an answer shown as text or saved byte for byte, an evidence file saved."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import datetime

import duckdb
from fastapi import APIRouter
from lxml import etree
from starlette.requests import Request
from starlette.responses import Response

from pipeline.errors import NotFound
from pipeline.responses import Responses
from pipeline.review.site import Site, site_of

router = APIRouter()
MOST_SHOWN = 400_000  # characters on the page; the whole body can be saved

_ANSWER = """
SELECT seq, run_id, source, sweep, request, status, received_at, body_sha256, size_bytes,
       items, records, quarantined
FROM response WHERE seq = ?
"""


@dataclass(frozen=True)
class Answer:
    """An answer in the journal: what was asked of whom in which run, and what came."""

    seq: int
    run_id: str
    source: str
    sweep: str
    request: str
    status: int
    received_at: datetime
    body_sha256: str
    size_bytes: int
    items: int
    records: int
    quarantined: int


@dataclass(frozen=True)
class AnswerPage:
    """What the page shows. text: the body laid out. left_out: characters beyond MOST_SHOWN."""

    answer: Answer
    text: str
    left_out: int


@router.get("/answer/{seq}")
def show_answer(request: Request, seq: int) -> Response:
    """Show the answer as text, laid out where it is JSON or XML. It is never drawn as a page."""
    site = site_of(request)
    answer, body = _read(site, seq)
    text = readable(body)
    left_out = max(0, len(text) - MOST_SHOWN)
    return site.page(request, "answer.html", AnswerPage(answer, text[:MOST_SHOWN], left_out))


@router.get("/answer/{seq}/body")
def save_answer(request: Request, seq: int) -> Response:
    """Give the body byte for byte, to be saved and never shown."""
    answer, body = _read(site_of(request), seq)
    source = re.sub(r"[^a-z0-9_]", "", answer.source)
    return _to_save(body, f"{source}-{answer.seq}.bin")


@router.get("/evidence/{day}/{name}")
def save_evidence(request: Request, day: str, name: str) -> Response:
    """Give an evidence file (WARC) to be saved; a captured page is never drawn here."""
    path = site_of(request).folder / "evidence" / day / name
    if not (
        re.fullmatch(r"\d{4}-\d\d-\d\d", day) and re.fullmatch(r"[\w-]+\.warc\.gz", name) and path.is_file()
    ):
        raise NotFound(f"no evidence file evidence/{day}/{name} is kept in this matter")
    return _to_save(path.read_bytes(), name)


def _to_save(data: bytes, name: str) -> Response:
    """Return the data as a download that no browser renders, whatever it holds."""
    headers = {
        "Content-Disposition": f'attachment; filename="{name}"',
        "Content-Security-Policy": "sandbox; default-src 'none'",
    }
    return Response(data, media_type="application/octet-stream", headers=headers)


def _read(site: Site, seq: int) -> tuple[Answer, bytes]:
    with site.store() as con:
        answer = read_answer(con, seq)
    return answer, Responses(site.folder).body(answer.body_sha256)


def read_answer(con: duckdb.DuckDBPyConnection, seq: int) -> Answer:
    """Return what the store knows of the answer. Raises NotFound."""
    rows = con.execute(_ANSWER, [seq]).fetchall()
    if not rows:
        raise NotFound(f"no answer {seq} was received; the search log lists them")
    return Answer(*rows[0])


def readable(body: bytes) -> str:
    """Return the body as text: JSON and XML with a line a value, anything else as it came."""
    text = body.decode("utf-8", "replace")
    try:
        return json.dumps(json.loads(text), ensure_ascii=False, indent=2)
    except (ValueError, RecursionError):
        pass
    try:
        parser = etree.XMLParser(
            resolve_entities=False, no_network=True, load_dtd=False, remove_blank_text=True
        )
        tree: bytes = etree.tostring(etree.fromstring(body, parser), pretty_print=True, encoding="utf-8")
    except (etree.XMLSyntaxError, ValueError):
        return text
    return tree.decode("utf-8")
