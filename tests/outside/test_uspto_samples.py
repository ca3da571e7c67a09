"""Real US documents as the office issued them: all read, and the facts their SAMPLES.md and fact sheet state.

The documents lie in ../shared/sources/samples/uspto_bulk. A weekly file is played by putting
several of them behind one another, as SAMPLES.md asks, since none is public as a whole.
"""

from __future__ import annotations

import gzip
import io
import itertools
from functools import cache
from pathlib import Path

import pytest

from connectors.record import PUBLIC_EVENTS, Record
from connectors.uspto_bulk_file import Item, read_items
from connectors.uspto_claims import standing
from connectors.uspto_record import read_records
from pipeline.identifiers import normalise

SAMPLES = Path(__file__).resolve().parents[2] / "../shared/sources/samples/uspto_bulk"
pytestmark = pytest.mark.skipif(not SAMPLES.is_dir(), reason="the real documents are not beside the checkout")
FILES = {
    "US.10000000.B2": "grant_v45_US10000000B2.xml",
    "US.11646472.B2": "grant_v47_US11646472B2.xml",
    "US.D701016.S1": "grant_v44_USD701016S1_design.xml",
    "US.7997973.B2": "grant_v42_US7997973B2_terminal_disclaimer.xml.gz",
    "US.6442728.B1": "grant_patdoc25_US6442728B1.xml",
    "US.3937375.A": "grant_aps_US3937375.txt",
    "US.20180000016.A1": "application_v44_US20180000016A1.xml",
    "US.20220159901.A1": "application_v45_US20220159901A1.xml",
    "US.20150075015.A2": "application_v44_US20150075015A2.xml",
    "US.20010000044.A1": "application_pap15_US20010000044A1.xml",
}


def body(name: str) -> bytes:
    """Return a document's bytes as issued."""
    raw = (SAMPLES / name).read_bytes()
    return gzip.decompress(raw) if name.endswith(".gz") else raw


@cache
def item(native_id: str) -> Item:
    """Return a document as read from its own file."""
    (found,) = read_items(io.BytesIO(body(FILES[native_id])).read)
    assert found.document, found.problem
    return found


def record(native_id: str) -> Record:
    """Return the document's own record."""
    found = item(native_id).document
    assert found
    return read_records("uspto_bulk", found)[0]


@pytest.mark.parametrize("native_id", FILES)
def test_every_document_is_read(native_id: str) -> None:
    """None is set aside; number, kind and day come out, and the office's numbering knows the numbers."""
    own = record(native_id)
    assert own.native_id == native_id
    assert [normalise(each.scheme, each.text).problem for each in own.identifiers] == [""] * len(
        own.identifiers
    )
    assert sum(PUBLIC_EVENTS[each.kind] and each.days.exact for each in own.dates) == 1
    assert "claims" not in dict(own.details), "another number of claims was read than is stated"


def test_a_week_of_them_in_one_file_is_the_same() -> None:
    """Behind one another they are read as from files of their own, whatever stands between."""
    whole = [name for name in FILES.values() if not name.endswith(".txt")]
    week = b"\n".join(body(name) for name in whole)
    found = list(read_items(io.BytesIO(week).read))
    assert [each.document for each in found] == [item(key).document for key in FILES if FILES[key] in whole]
    assert [week[each.offset : each.offset + 9] for each in found] == [body(name)[:9] for name in whole]


def test_a_week_cut_anywhere_loses_no_whole_document() -> None:
    """For cuts all along the file: every document before the cut is read, and at most the one cut is not."""
    names = [FILES["US.D701016.S1"], FILES["US.20150075015.A2"], FILES["US.20220159901.A1"]]
    week = b"".join(body(name) for name in names)
    ends = list(itertools.accumulate(len(body(name)) for name in names))
    for cut in range(200, len(week), 7_001):
        found = list(read_items(io.BytesIO(week[:cut]).read))
        whole = sum(end <= cut for end in ends)
        assert sum(each.document is not None for each in found) >= whole
        assert sum(each.document is None for each in found) <= 1


@pytest.mark.parametrize(
    ("native_id", "claims", "independent"),  # uspto_bulk.md, recorded counts
    [("US.10000000.B2", 20, ("1", "9", "11")), ("US.11646472.B2", 17, ("1",)),
     ("US.20180000016.A1", 11, ("1",)), ("US.D701016.S1", 1, ("1",))],
)  # fmt: skip
def test_claims_counted(native_id: str, claims: int, independent: tuple[str, ...]) -> None:
    """How many, and which stand alone."""
    found = item(native_id).document
    assert found
    assert len(found.claims) == claims
    assert standing(found.claims).independent == independent


@pytest.mark.parametrize(
    ("native_id", "name", "text"),
    [
        ("US.10000000.B2", "term: days added for slow grant", "430"),  # uspto_bulk.md, us-term-of-grant
        ("US.7997973.B2", "term: disclaimer", "This patent is subject to a terminal disclaimer."),
        ("US.D701016.S1", "term: years from grant", "14"),
        ("US.D701016.S1", "class (Locarno)", "01-01 (edition 10)"),
        ("US.20150075015.A2", "claims cancelled", "1-18"),
        ("US.20150075015.A2", "kind of document", "corrected or repeated print: the first print is older"),
        ("US.20220159901.A1", "national phase entered", "20210908"),
        ("US.11646472.B2", "term: earliest application relied on, filed", "2004-04-14"),
    ],
)  # fmt: skip
def test_stated_facts(native_id: str, name: str, text: str) -> None:
    """Facts that SAMPLES.md and the fact sheet name."""
    assert dict(record(native_id).details)[name] == text


def test_thirteen_related_documents_and_554_citations() -> None:
    """SAMPLES.md on US 11646472: continuations, a continuation in part, a division, three provisionals."""
    found = item("US.11646472.B2").document
    assert found
    kinds = [link.kind for link in found.chain]
    assert (kinds.count("continuation"), kinds.count("continuation in part"), kinds.count("division")) == (
        7,
        1,
        1,
    )
    assert len(kinds) + len(found.provisionals) + len(found.earlier) == 13
    assert len(found.cites) == 554


@pytest.mark.parametrize(
    ("native_id", "earlier", "day"),
    [("US.20150075015.A2", "US 20140237828 A1", "2014-08-28"), ("US.11646472.B2", "US 20210210819 A1", "2021-07-08"),
     ("US.7997973.B2", "US 20090291732 A1", "2009-11-26"), ("US.10000000.B2", "US 20160266243 A1", "2016-09-15")],
)  # fmt: skip
def test_the_earlier_publication(native_id: str, earlier: str, day: str) -> None:
    """SAMPLES.md on the A2: its earlier A1 is the related publication; the same holds for grants."""
    found = item(native_id).document
    assert found
    (_, first) = read_records("uspto_bulk", found)
    assert (first.identifiers[0].text, first.dates[0].days.text()) == (earlier, day)


def test_foreign_and_international_priorities() -> None:
    """A Japanese, a European design and an international application, read as the offices number them."""
    for native_id, key in (
        ("US.20180000016.A1", "JP-2016-128835"),
        ("US.D701016.S1", "EM-1184956-0001"),
        ("US.20220159901.A1", "PCT-IB-2019-57948"),
    ):
        stated = [each.identifier for each in record(native_id).relations if each.kind == "priority"]
        assert key in [normalise(each.scheme, each.text).match_key for each in stated]


def test_the_check_digit_goes() -> None:
    """uspto_bulk.md: WKU 039373754 is patent 3,937,375; its application is 05/518,454."""
    own = record("US.3937375.A")
    assert [normalise(each.scheme, each.text).match_key for each in own.identifiers] == [
        "US-3937375",
        "US-05-518454",
    ]
    assert own.kind == "patent"
    assert own.codes == (("IPC", "B60R 9/00"),)
    assert own.people[0].name == "Everette E. Daniels"


def test_characters_of_the_old_files() -> None:
    """PATDOC's named Greek letters and signs come out as characters, what is lowered joins its word."""
    own = record("US.6442728.B1")
    assert "N1×N2 index array" in own.abstract
    assert "α" in own.abstract
    assert "&" not in own.abstract
    assert len(own.claims) == 35


def test_paragraphs_are_whole() -> None:
    """Numbers as printed, nothing of instructions or pictures, and small capitals joined to their words."""
    paragraphs = item("US.11646472.B2").paragraphs
    assert paragraphs[0] == ("", "CROSS-REFERENCE TO RELATED APPLICATIONS")
    assert paragraphs[1][0] == "0001"
    assert "PROTECTED LITHIUM ELECTRODES" in paragraphs[1][1]
    assert len(item("US.10000000.B2").paragraphs) == 35


def test_most_citations_are_read_as_numbers() -> None:
    """Of some six hundred citations of the samples nearly every patent number fits its office's numbering."""
    stated = [each.identifier for key in FILES for each in record(key).relations if each.kind == "cites"]
    odd = [each.text for each in stated if normalise(each.scheme, each.text).problem]
    assert len(stated) > 600
    assert len(odd) <= 3, odd
