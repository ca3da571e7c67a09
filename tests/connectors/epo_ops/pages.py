"""Answers of EPO OPS, invented and recorded, as pages."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from connectors import epo_ops
from connectors.connector import Connector, Page, Request
from connectors.record import Record

EPO_OPS: Connector = epo_ops
ROOT = Path(__file__).resolve().parents[3]
FIXTURES = ROOT / "fixtures" / "epo_ops"
SAMPLES = ROOT / ".." / "shared" / "sources" / "samples" / "epo_ops"
TODAY = date(2026, 11, 25)  # a Wednesday

recorded = pytest.mark.skipif(not SAMPLES.is_dir(), reason="no recorded answers beside the checkout")


def page_of(
    body: bytes = b"", status: int = 200, step: str = "search", begin: int = 1, **headers: str
) -> Page:
    """Return an answer to a search that began there."""
    request = Request("epo_ops", "x", step=step, state=(("query", 'ta="x"'), ("begin", str(begin))))
    return Page(request, status, {k.replace("_", "-"): v for k, v in headers.items()}, body, TODAY)


def fixture(name: str, status: int = 200, step: str = "search") -> Page:
    """Return an invented answer."""
    return page_of((FIXTURES / name).read_bytes(), status, step)


def sample(name: str, status: int = 200, step: str = "search") -> Page:
    """Return a recorded answer with the headers that were recorded."""
    path = SAMPLES / f"{name}.headers.txt"
    lines = path.read_text().splitlines()[2:] if path.exists() else []
    headers: dict[str, str] = {}
    for name_text, _, value in (line.partition(":") for line in lines):
        key = name_text.lower()
        headers[key] = f"{headers[key]}, {value.strip()}" if key in headers else value.strip()
    page = page_of((SAMPLES / f"{name}.xml").read_bytes(), status, step)
    return Page(page.request, status, headers, page.body, TODAY)


def search_answer(total: int, documents: int) -> bytes:
    """Return a search's answer that states the total and holds so many documents."""
    document = '<exchange-document country="EP" doc-number="{}" kind="A1" family-id="{}"/>'
    inside = "".join(document.format(8_800_000 + n, 99_000_000 + n // 2) for n in range(documents))
    return (
        '<ops:world-patent-data xmlns="http://www.epo.org/exchange" xmlns:ops="http://ops.epo.org">'
        f'<ops:biblio-search total-result-count="{total}"><ops:search-result><exchange-documents>{inside}'
        "</exchange-documents></ops:search-result></ops:biblio-search></ops:world-patent-data>"
    ).encode()


def days_of(record: Record) -> list[tuple[str, str]]:
    """Return the record's dates: kind and days."""
    return [(stated.kind, stated.days.text()) for stated in record.dates]


def stated(record: Record) -> list[str]:
    """Return the record's identifiers as scheme and text."""
    return [f"{identifier.scheme} {identifier.text}" for identifier in record.identifiers]


def by_id(page: Page) -> dict[str, Record]:
    """Return the page's records by their native ids."""
    return {record.native_id: record for record in epo_ops.parse(page).records}


FAULT = '<fault xmlns="http://ops.epo.org"><code>{}</code><message>said</message></fault>'


def fault(code: str) -> bytes:
    """Return the body of a refusal with that code."""
    return FAULT.format(code).encode()
