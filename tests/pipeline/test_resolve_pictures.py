"""Pictures: many bear one title and one name, and show different things."""

from __future__ import annotations

import pyarrow as pa
import pytest

from pipeline.resolve import Shelf, group, links

COLUMNS = ("source", "venue", "volume", "issue", "pages", "version", "language")
PERSON = pa.struct([(name, pa.string()) for name in ("name", "role", "family", "given")])
RULINGS = pa.schema([("record_a", pa.string()), ("record_b", pa.string()), ("same", pa.bool_())])


def references(urls: list[str], pages: list[str]) -> list[tuple[str, str]]:
    """Return reference and version of pictures of one title and creator, each with a file and a page."""
    names, count = [f"p{n}" for n in range(len(urls))], len(urls)
    years = pa.array([2019] * count, pa.int32())
    maker = [{"name": "Mats Orr", "role": "author", "family": "", "given": ""}]
    records = pa.table(
        {"record_id": names, "seq": list(range(count)), "kind": ["picture"] * count, "title": ["Drip emitter"] * count,
         "people": pa.array([maker] * count, pa.list_(PERSON)), "year_from": years, "year_to": years}
        | {name: [""] * count for name in COLUMNS}
    )  # fmt: skip
    identifiers = pa.table({"record_id": names, "scheme": ["url"] * count, "value": urls, "match_key": urls})
    stated = [(name, page) for name, page in zip(names, pages, strict=True) if page]
    relations = pa.table(
        {"record_id": pa.array([name for name, _ in stated], pa.string()), "kind": ["version of"] * len(stated),
         "scheme": ["url"] * len(stated), "match_key": pa.array([page for _, page in stated], pa.string())}
    )  # fmt: skip
    vectors = pa.table(
        {"record_id": pa.array([], pa.string()), "vector": pa.array([], pa.list_(pa.float32()))}
    )
    none = RULINGS.empty_table()
    found = links(names, records, identifiers, relations, vectors, none)
    members = group(found, Shelf(records, identifiers, relations), none).to_pylist()
    return [(member["reference_id"], member["version_id"]) for member in members]


@pytest.mark.parametrize(
    ("urls", "pages", "result"),
    [
        (["files.example/1.jpg", "files.example/2.jpg"], ["", ""], [("p0", "p0"), ("p1", "p1")]),
        (["files.example/1.jpg", "files.example/1.jpg"], ["", ""], [("p0", "p0"), ("p0", "p0")]),
        (
            ["files.example/new.jpg", "files.example/old.jpg"],
            ["wiki.example/f"] * 2,
            [("p0", "p0"), ("p0", "p1")],
        ),
    ],
    ids=["two files of one title and creator", "one file in two catalogues", "two uploads of one page"],
)
def test_pictures_are_one_by_their_file_or_their_page_only(
    urls: list[str], pages: list[str], result: list[tuple[str, str]]
) -> None:
    """A shared title and creator joins nothing; one file is one document, two uploads of a page two versions."""
    assert references(urls, pages) == result
