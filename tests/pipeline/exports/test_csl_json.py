"""The CSL-JSON list, held to the 1.0.2 schema's rules and read back."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from typing import Any

import jsonschema
import pytest

from connectors.days import Days
from connectors.files import read_file
from pipeline.cited_reference import CitedReference
from pipeline.exports import FORMATS

# What csl-data.json of CSL 1.0.2 demands of the fields we write, in our own words: an array;
# items need type and id; no field and no part of a date beyond the schema's own.
_TEXT = {"type": "string"}
_DATE = {
    "type": "object",
    "properties": {
        "date-parts": {
            "type": "array", "minItems": 1, "maxItems": 2,
            "items": {"type": "array", "minItems": 1, "maxItems": 3, "items": {"type": "integer"}},
        },
        "literal": _TEXT,
    },
    "additionalProperties": False,
    "minProperties": 1,
}  # fmt: skip
_NAMES = {
    "type": "array",
    "items": {
        "type": "object",
        "properties": {"family": _TEXT, "given": _TEXT, "literal": _TEXT},
        "additionalProperties": False,
    },
}
_TEXTS = ("id", "title", "number", "authority", "jurisdiction", "publisher", "genre", "container-title", "volume",
          "issue", "page", "DOI", "ISSN", "ISBN", "URL", "language", "note")  # fmt: skip
_TYPES = ["article", "article-journal", "book", "chapter", "dataset", "document", "graphic", "paper-conference",
          "patent", "report", "software", "standard", "thesis", "webpage"]  # fmt: skip
SCHEMA: dict[str, Any] = {
    "type": "array",
    "items": {
        "type": "object",
        "required": ["type", "id"],
        "properties": {
            "type": {"enum": _TYPES},
            **dict.fromkeys(_TEXTS, _TEXT),
            **dict.fromkeys(("issued", "accessed", "submitted", "original-date"), _DATE),
            **dict.fromkeys(("author", "editor"), _NAMES),
            "custom": {"type": "object"},
        },
        "additionalProperties": False,
    },
}


def written(*references: CitedReference) -> list[dict[str, Any]]:
    """Return the items, which the schema must accept."""
    items: list[dict[str, Any]] = json.loads(FORMATS["json"](references))
    jsonschema.validate(items, SCHEMA)
    return items


def test_a_patent_stands_in_the_vocabulary(listed: tuple[CitedReference, ...]) -> None:
    """A patent keeps number with kind, office, inventors, applicant, and each of its days in its field."""
    assert written(listed[0]) == [{
        "id": "US9999999B2", "type": "patent", "title": "Lattice reader", "number": "US9999999B2",
        "authority": "US", "jurisdiction": "US",
        "author": [{"family": "Moravec", "given": "Ida"}, {"literal": "ŠTĚPÁN ØDEGÅRD"}],
        "publisher": "Holloway Instruments, Inc.", "genre": "Patent",
        "submitted": {"date-parts": [[2016, 3, 2]]}, "original-date": {"date-parts": [[2015, 3, 4]]},
        "custom": {"application-number": "US15/999999"}, "issued": {"date-parts": [[2018, 6, 5]]},
        "URL": "https://patents.example/US9999999B2", "note": "Other versions: EP3999999A1",
    }]  # fmt: skip


def test_every_section_is_valid_and_ids_are_unique(listed: tuple[CitedReference, ...]) -> None:
    """The whole list validates; a document listed twice gets two ids; non-ASCII is written as it is."""
    items = written(*listed, replace(listed[0], reference_id="zz"))
    assert len({item["id"] for item in items}) == len(items)
    assert "格子の読取装置".encode() in FORMATS["json"](listed)
    assert items[3]["DOI"] == "10.5555/jas.2021.0143"
    assert items[4]["author"] == [{"literal": "Sealed Bearings, Ltd"}]


@pytest.mark.parametrize(
    ("days", "issued"),
    [
        # CSL 1.0.2 date-variable: one to three parts; two lists are a range.
        (Days.of_year(2021), {"date-parts": [[2021]]}),
        (Days.of_month(2021, 3), {"date-parts": [[2021, 3]]}),
        (Days.of_day(date(2021, 3, 4)), {"date-parts": [[2021, 3, 4]]}),
        (Days(date(2021, 3, 4), date(2021, 4, 3)), {"date-parts": [[2021, 3, 4], [2021, 4, 3]]}),
        (Days(None, date(2021, 4, 3)), {"literal": "on or before 2021-04-03"}),
        (None, None),
    ],
)
def test_a_date_keeps_its_parts(
    listed: tuple[CitedReference, ...], days: Days | None, issued: dict[str, Any] | None
) -> None:
    """A month stays a month, a range a range, an open one words, an unknown one absent."""
    assert written(replace(listed[3], published=days))[0].get("issued") == issued


def test_the_list_can_be_handed_in_again(listed: tuple[CitedReference, ...]) -> None:
    """Our own reader finds titles, days, names and numbers again."""
    parsed = read_file("list.json", FORMATS["json"](listed))
    assert parsed.items == len(parsed.records) == len(listed)
    assert [record.title for record in parsed.records] == [one.title for one in listed]
    published = [next(d.days for d in record.dates if d.kind == "published") for record in parsed.records]
    assert published == [one.published for one in listed]
    assert [p.name for p in parsed.records[4].people] == ["Sealed Bearings, Ltd"]
