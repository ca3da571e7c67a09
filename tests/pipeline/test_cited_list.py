"""The cited-reference list from tag to file, read back by other programs' libraries."""

from __future__ import annotations

import io
import json
from datetime import UTC, date, datetime
from pathlib import Path

import jsonschema
import openpyxl
import pytest
import rispy

from connectors.connector import Page, Request
from connectors.files import SOURCE
from pipeline.cited import read_cited
from pipeline.decisions import Decisions
from pipeline.exports import FORMATS
from pipeline.listing import read_hits
from pipeline.load import load_answers
from pipeline.matter import load_matter
from pipeline.references import resolve_references
from pipeline.responses import Responses

NOW = datetime(2026, 11, 25, 2, tzinfo=UTC)
MATTER = """
[invention]
title = "Emitter"
summary = "An emitter that flushes itself."
[invention.elements]
A = "an emitter"
[[concept]]
name = "emitter"
terms = ["emitter"]
"""
HANDED_IN = """TY  - JOUR
AU  - Moravec, Ida
TI  - =HYPERLINK("http://x.example") Lattice readers, 点滴
T2  - Journal of Applied Sensing
PY  - 2021/03//
DO  - 10.5555/jas.2021.0143
ER  -

TY  - PAT
AU  - Okafor, B.
TI  - Emitter with a gate
PB  - Holloway Instruments Inc.
A2  - US
DA  - 2024/06/04
PY  - 2024
SN  - US99999998B2
ER  -
"""
# CSL-JSON 1.0.2 as the schema's published rules have it (facts, own words): an array of
# items with id and type; dates are objects of date-parts, one or two, of one to three numbers.
DATE = {
    "type": "object",
    "properties": {
        "date-parts": {
            "type": "array", "minItems": 1, "maxItems": 2,
            "items": {"type": "array", "minItems": 1, "maxItems": 3, "items": {"type": ["integer", "string"]}},
        },
        "season": {}, "circa": {}, "literal": {}, "raw": {},
    },
    "additionalProperties": False,
}  # fmt: skip
CSL = {
    "type": "array",
    "items": {"type": "object", "required": ["id", "type"],
              "properties": dict.fromkeys(("issued", "submitted", "accessed", "original-date"), DATE)},
}  # fmt: skip


@pytest.fixture
def cited(tmp_path: Path) -> tuple[object, ...]:
    """Give the list of two references handed in and tagged relevant."""
    (tmp_path / "matter.toml").write_text(MATTER, encoding="utf-8")
    request = Request(SOURCE.name, "own.ris", step="file")
    body = HANDED_IN.replace("ER  -\n", "ER  - \n").encode()
    Responses(tmp_path).keep(Page(request, 200, {}, body, date(2026, 11, 25)), "run", "own.ris", NOW)
    load_answers(tmp_path)
    resolve_references(tmp_path, "")
    for hit in read_hits(tmp_path):
        facts = {"tag": "relevant", "note": "not for the list", "elements": ["A"], "category": "X"}
        Decisions(tmp_path).add("tag", (hit.reference_id,), facts, "ada", NOW)
    return read_cited(load_matter(tmp_path), NOW.date(), ("relevant",))


def test_sections_keep_us_patents_apart(cited: tuple[object, ...]) -> None:
    """37 CFR 1.98(a)(1): US patents stand in a section separate from other publications."""
    assert sorted(one.section for one in cited) == ["US patents", "other publications"]  # type: ignore[attr-defined]


def test_ris_reads_back_with_its_partial_date(cited: tuple[object, ...]) -> None:
    """A month stays a month, numbers and letters of any script survive (rispy reads it back)."""
    read = rispy.loads(FORMATS["ris"](cited).decode("utf-8"))  # type: ignore[arg-type]
    by_type = {entry["type_of_reference"]: entry for entry in read}
    assert by_type["JOUR"]["doi"] == "10.5555/jas.2021.0143"
    assert "点滴" in str(by_type["JOUR"])
    text = FORMATS["ris"](cited).decode("utf-8")  # type: ignore[arg-type]
    assert "DA  - 2021/03//" in text
    assert "SN  - US99999998B2" in text
    assert "not for the list" not in text


def test_csl_json_keeps_the_published_rules(cited: tuple[object, ...]) -> None:
    """CSL-JSON 1.0.2: an array, id and type in each, dates as date-parts no finer than stated."""
    items = json.loads(FORMATS["json"](cited))  # type: ignore[arg-type]
    jsonschema.validate(items, CSL)
    by_type = {item["type"]: item for item in items}
    assert by_type["article-journal"]["issued"]["date-parts"] == [[2021, 3]]
    assert by_type["patent"]["number"] == "US99999998B2"


def test_spreadsheets_hold_text_not_formulas(cited: tuple[object, ...]) -> None:
    """A title that begins with = is text in the workbook and neutralised in the CSV."""
    book = openpyxl.load_workbook(io.BytesIO(FORMATS["xlsx"](cited)))  # type: ignore[arg-type]
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value]
    assert not [cell for cell in cells if cell.data_type == "f"]
    assert any("HYPERLINK" in str(cell.value) for cell in cells)
    assert not [
        cell for cell in FORMATS["csv"](cited).decode("utf-8-sig").split(",") if cell.startswith(("=", '"='))
    ]  # type: ignore[arg-type]
