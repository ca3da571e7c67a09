"""Handed-in files: everything in them comes out, dates no more exact than written."""

from __future__ import annotations

import csv
import io
import json
import logging
from datetime import date
from pathlib import Path
from typing import Any

import bibtexparser
import edtf
import pytest
import rispy
from bibtexparser.library import Library
from bibtexparser.model import Entry, Field
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors.days import Days
from connectors.errors import AnswerTooLarge, SourceChanged, SourceRefused
from connectors.file_dates import stated_date
from connectors.files import MOST_BYTES, READERS, SOURCE, bounded_bytes, read_file
from connectors.record import PUBLIC_EVENTS, Record

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures" / "files"
FIXED = settings(derandomize=True, max_examples=60, deadline=None)
OPEN = Days(None, None)
# Words without marks that a format gives a meaning of its own.
WORDS = (
    st.text(st.sampled_from("abcdeéßжλ字 0123456789"), min_size=1, max_size=30).map(str.strip).filter(bool)
)


def read(name: str) -> Any:
    """Return what the fixture of that name holds."""
    return read_file(name, (FIXTURES / name).read_bytes())


def titled(parsed: Any, title: str) -> Record:
    """Return the one record of that title."""
    (found,) = [record for record in parsed.records if record.title == title]
    return found


def days(record: Record) -> dict[str, str]:
    """Return the record's dates as kind -> days in text."""
    return {stated.kind: stated.days.text() for stated in record.dates}


def one(name: str, text: str) -> Record:
    """Return the only record of a file with that text."""
    parsed = read_file(name, text.encode())
    assert (parsed.items, parsed.quarantined) == (1, ())
    return parsed.records[0]


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2021", date(2021, 1, 1), date(2021, 12, 31)),
        ("2021-03", date(2021, 3, 1), date(2021, 3, 31)),
        ("20210304", date(2021, 3, 4), date(2021, 3, 4)),
        ("2021/03/04", date(2021, 3, 4), date(2021, 3, 4)),  # RIS
        ("2021/03/04/", date(2021, 3, 4), date(2021, 3, 4)),  # RIS with its last slash
        ("2021/03//", date(2021, 3, 1), date(2021, 3, 31)),  # RIS, day unknown
        ("2018///Spring", date(2018, 1, 1), date(2018, 12, 31)),  # RIS, other information
        ("2021//05/", date(2021, 1, 1), date(2021, 12, 31)),  # a day without a month
        ("2021/03", date(2021, 3, 1), date(2021, 3, 31)),
        ("2021-03-04/2021-04-03", date(2021, 3, 4), date(2021, 4, 3)),  # ISO 8601 interval
        ("2021/2022", date(2021, 1, 1), date(2022, 12, 31)),  # ISO 8601 interval of years
        ("4 March 2021", date(2021, 3, 4), date(2021, 3, 4)),
        ("March 4th, 2021", date(2021, 3, 4), date(2021, 3, 4)),
        ("Sept. 2021", date(2021, 9, 1), date(2021, 9, 30)),
        ("25.3.2021", date(2021, 3, 25), date(2021, 3, 25)),
        ("3.4.2021", date(2021, 4, 3), date(2021, 4, 3)),  # dots: day first
        ("25/03/2021", date(2021, 3, 25), date(2021, 3, 25)),
        ("03/25/2021", date(2021, 3, 25), date(2021, 3, 25)),
        ("03/04/2021", date(2021, 1, 1), date(2021, 12, 31)),  # either may be the month
        ("05/05/2021", date(2021, 5, 5), date(2021, 5, 5)),
        ("circa 1990", None, None),
        ("ca. 1990", None, None),
        ("c. 1990", None, None),
        ("1990?", None, None),  # EDTF: uncertain
        ("[1990]", None, None),  # cataloguing rules: supplied
    ],
)
def test_a_date_says_no_more_than_its_text(text: str, first: date | None, last: date | None) -> None:
    """Partial dates stay partial, ranges stay ranges, doubtful ones are open."""
    stated = stated_date("published", text, "PY")
    assert stated is not None and (stated.days, stated.text) == (Days(first, last), text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "in press",
        "2021-02-30",
        "2021/13/01",
        "31.4.2021",
        "March",
        "12",
        "2022/2021",
        "99/99/2021",
        "20",
        "2021-3-4-5",
    ],
)
def test_what_is_no_date_gives_none(text: str) -> None:
    """Impossible and unreadable dates are not guessed at."""
    assert stated_date("published", text, "PY") is None


FORMS = st.sampled_from(["%Y", "%Y-%m", "%Y-%m-%d"])


@FIXED
@given(st.dates(date(1000, 1, 1), date(9999, 12, 28)), FORMS)
def test_dates_agree_with_the_edtf_library(day: date, form: str) -> None:
    """The first and last day are those that a library for EDTF level 0 gives."""
    text = f"{day.year:04d}{day.strftime(form[2:])}"
    judge = edtf.parse_edtf(text)
    stated = stated_date("published", text, "date")
    assert stated and stated.days.first and stated.days.last
    assert stated.days.first.timetuple()[:3] == judge.lower_strict()[:3]
    assert stated.days.last.timetuple()[:3] == judge.upper_strict()[:3]


@FIXED
@given(st.lists(st.dates(date(1000, 1, 1), date(9999, 12, 28)), min_size=2, max_size=2), *[FORMS] * 2)
def test_ranges_agree_with_the_edtf_library(days: list[date], form: str, other: str) -> None:
    """An EDTF level 0 interval runs from the first day of its start to the last of its end."""
    first, last = sorted(days)
    text = "/".join(f"{day.year:04d}{day.strftime(how[2:])}" for day, how in ((first, form), (last, other)))
    judge = edtf.parse_edtf(text)
    lower, upper = judge.lower_strict()[:3], judge.upper_strict()[:3]
    stated = stated_date("published", text, "date")
    assert stated and stated.days == Days(date(*lower), date(*upper))


@pytest.mark.parametrize(
    "text",
    ["2019~", "2019?", "2019%", "2019-21", "2019-24", "201X", "20XX", "2019-XX", "2019-03-XX", "2019-03/..",
     "../2019", "/2019", "2019-03~", "[1667,1668]", "Y170000002"],
)  # fmt: skip
def test_what_edtf_leaves_vague_is_never_read_narrower(text: str) -> None:
    """EDTF level 1 and 2 forms give no date, or days that hold all that the library allows."""
    stated = stated_date("published", text, "date")
    if stated is None:
        return
    judge = edtf.parse_edtf(text)
    first, last = stated.days.first, stated.days.last
    assert first is None or first.timetuple()[:3] <= judge.lower_strict()[:3]
    assert last is None or last.timetuple()[:3] >= judge.upper_strict()[:3]


def test_a_ris_record_comes_whole() -> None:
    """Known tags go to their place, continued lines are joined, unknown tags are kept."""
    record = titled(read("lattice.ris"), "Phase-locked reading of weak lattices")
    assert record.native_id == "doi:10.5555/jas.2021.0143" and record.kind == "article"
    assert (record.venue, record.volume, record.issue, record.pages) == (
        "Journal of Applied Sensing",
        "14",
        "3",
        "201-214",
    )
    assert [(p.family, p.given, p.role) for p in record.people] == [
        ("Moravec", "Ida", "author"),
        ("Okafor", "Bem", "author"),
    ]
    assert record.abstract == "We read weak lattices. It goes on here."
    assert record.url == "https://jas.example/143;jsessionid=7"
    assert ("ZZ", "an unknown tag") in record.details and ("KW", "phase") in record.details


def test_the_day_in_the_year_is_one_event() -> None:
    """PY 2021 and DA 2021/03// are one publication: the narrower stands, the other is kept as a detail."""
    record = titled(read("lattice.ris"), "Phase-locked reading of weak lattices")
    assert days(record) == {"published": "2021-03"} and ("PY (says less)", "2021") in record.details


def test_dates_that_disagree_are_both_kept() -> None:
    """A year that the day does not lie in is a second statement, not dropped."""
    record = one("a.ris", "TY  - JOUR\nTI  - T\nPY  - 2020\nDA  - 2021/03/04\nER  - \n")
    assert [stated.days.text() for stated in record.dates] == ["2021-03-04", "2020"]


@pytest.mark.parametrize("name", ["lattice.ris", "lattice.bib", "lattice.json"])
def test_a_patent_reads_alike_in_every_format(name: str) -> None:
    """One invented patent, three formats: number, people, filing and publication day are the same."""
    record = titled(read(name), "Lattice reader")
    assert (record.native_id, record.kind) == ("publication:US99999998B2", "patent")
    assert days(record)["published"] == "2024-06-04" and days(record)["filed"] == "2020-03-02"
    assert {(p.name, p.role) for p in record.people} == {
        ("Ida Moravec", "inventor"),
        ("Holloway Instruments Inc.", "applicant"),
    }
    if name != "lattice.bib":
        assert days(record)["priority"] == "2019-03-04"
        assert [i.text for i in record.identifiers if i.scheme == "application"] == ["US99/999,999"]


@pytest.mark.parametrize(
    ("name", "read_count", "unread"),
    [
        ("lattice.ris", 4, [("record 4, line 41", "no closing line"), ("record 6, line 48", "no TY line")]),
        (
            "lattice.bib",
            5,
            [("record 3, line 14", "key"), ("record 4, line 15", "title"), ("record 8, line 19", "brace")],
        ),
        ("lattice.json", 8, [("record 9", "not an object"), ("record 10", "neither a title")]),
        ("shelf.csv", 4, [("record 4, line 7", "10 cells under 8"), ("record 5, line 8", "neither a title")]),
    ],
)
def test_nothing_in_a_file_is_lost(name: str, read_count: int, unread: list[tuple[str, str]]) -> None:
    """Items are records and quarantined items; those name file, record and line, the reason and the text."""
    parsed = read(name)
    assert parsed.items == len(parsed.records) + len(parsed.quarantined) and len(parsed.records) == read_count
    for found, (where, reason) in zip(parsed.quarantined, unread, strict=True):
        assert found.path == f"{name}, {where}" and reason in found.reason and found.excerpt
    assert len({record.native_id for record in parsed.records}) == read_count


def test_bibtex_text_is_made_plain() -> None:
    """Macros, accents, escapes and braces are read as people read them; an organisation stays whole."""
    record = titled(read("lattice.bib"), "Phase-locked reading of Weak lattices & more")
    assert [p.name for p in record.people] == ["Ida Moravec", "Holloway and Sons Inc.", "Jörg Müller"]
    assert (record.venue, days(record)) == ("Journal of Applied Sensing", {"published": "2021-03"})
    assert ("keywords", "lattice") in record.details


def test_bibtex_identifiers_survive_byte_for_byte() -> None:
    """Two hyphens in a DOI are no dash, an escaped underscore is an underscore."""
    record = one(
        "a.bib", r"@article{k, title={T}, doi={10.5555/a--b\_c}, url={\url{https://a.example/x\%20~y}}}"
    )
    assert [i.text for i in record.identifiers] == ["10.5555/a--b_c", "https://a.example/x%20~y"]


@pytest.mark.parametrize(
    ("month", "expected"),
    [
        ("mar", "2021-03"),
        ("{March}", "2021-03"),
        ("3", "2021-03"),
        ("{03}", "2021-03"),
        ("{Spring}", "2021"),
        ("{13}", "2021"),
    ],
)
def test_a_bibtex_month_is_a_month_or_nothing(month: str, expected: str) -> None:
    """A month that can't be read leaves the year, and the text keeps it."""
    record = one("a.bib", f"@article{{k, title={{T}}, year=2021, month={month}}}")
    assert days(record) == {"published": expected} and month.strip("{}") in record.dates[0].text


@pytest.mark.parametrize(
    ("title", "expected"),
    [
        ("A range", {"published": "2021-03-04..2021-04-03"}),
        ("About then", {"published": "?..?"}),
        ("A season", {"published": "2018"}),
        ("Raw", {"published": "2021-03-04"}),
        ("Words", {}),
        ("Impossible", {}),
        ("Reading H2O < ice", {"published": "2021-03"}),
    ],
)
def test_csl_dates_keep_their_doubt(title: str, expected: dict[str, str]) -> None:
    """Ranges, circa, seasons, raw and literal dates (CSL-JSON 1.0.2, date-variable)."""
    record = titled(read("lattice.json"), title)
    assert days(record) == expected
    assert expected or any(name == "issued (not a date)" for name, _ in record.details)


def test_csv_columns_are_known_by_name_and_others_are_kept() -> None:
    """Semicolons part the cells, quotes hold; unknown columns are details under their name."""
    parsed = read("shelf.csv")
    record = titled(parsed, "Drip; drop")
    assert (record.kind, days(record), record.url) == (
        "article",
        {"published": "2021-03"},
        "https://a.example/",
    )
    assert [p.name for p in record.people] == ["Ida Moravec", "Bem Okafor"]
    assert record.details == (("Shelf mark", "K 12"),)
    assert titled(parsed, "Lattice reader").native_id == "publication:US99999998B2"
    assert ("number", "7") in titled(parsed, "On two lines").details


def test_an_open_quotation_mark_does_not_swallow_the_rest_in_silence() -> None:
    """The rows it would swallow come back as an unread item, with the line."""
    parsed = read_file("a.csv", b'title,year\nfine,2001\n"open,2002\nlost?,2003\n')
    assert [r.title for r in parsed.records] == ["fine"]
    assert [(q.path, q.reason[:14]) for q in parsed.quarantined] == [
        ("a.csv, record 2, line 3", "a quotation ma")
    ]


@FIXED
@given(st.lists(st.tuples(WORDS, WORDS, st.integers(1000, 2999)), min_size=1, max_size=5))
def test_what_other_libraries_write_is_read_back(rows: list[tuple[str, str, int]]) -> None:
    """RIS by rispy, BibTeX by bibtexparser, CSV by csv, CSL by json: titles, names and years return."""
    ris = rispy.dumps(
        [{"type_of_reference": "JOUR", "title": t, "authors": [a], "year": str(y)} for t, a, y in rows]
    )
    bib = Library(
        [
            Entry("book", f"k{i}", [Field("title", t), Field("author", f"{{{a}}}"), Field("year", str(y))])
            for i, (t, a, y) in enumerate(rows)
        ]
    )
    table = io.StringIO()
    csv.writer(table).writerows([("title", "authors", "year"), *((t, a, y) for t, a, y in rows)])
    csl = [
        {"type": "book", "id": i, "title": t, "author": [{"literal": a}], "issued": {"date-parts": [[y]]}}
        for i, (t, a, y) in enumerate(rows)
    ]
    written = {
        "a.ris": ris,
        "a.bib": bibtexparser.write_string(bib),
        "a.csv": table.getvalue(),
        "a.json": json.dumps(csl),
    }
    expected = [(" ".join(t.split()), " ".join(a.split()), f"{y}") for t, a, y in rows]
    for name, text in written.items():
        parsed = read_file(name, text.encode())
        back = [(r.title, " ".join(r.people[0].name.split()), r.dates[0].days.text()) for r in parsed.records]
        assert (name, back, parsed.quarantined) == (name, expected, ())


@FIXED
@given(
    st.sampled_from(sorted(READERS)),
    st.one_of(
        st.binary(max_size=200),
        st.text(st.sampled_from('TYER  -\n{}[]",;@a1=:\\\x00'), max_size=120).map(str.encode),
    ),
)
def test_any_bytes_end_in_items_or_a_clear_error(suffix: str, body: bytes) -> None:
    """No input brings anything but records, quarantined items or an error that names the file."""
    name = f"a{suffix}"
    try:
        parsed = read_file(name, body)
    except SourceChanged as error:
        assert name in str(error)
    else:
        assert parsed.items == len(parsed.records) + len(parsed.quarantined)
        for record in parsed.records:
            repr(record).encode()


@pytest.mark.parametrize(
    ("encoding", "guessed"),
    [
        ("utf-8", None),
        ("utf-8-sig", None),
        ("utf-16", None),
        ("utf-32", None),
        ("cp1252", "guessed: windows-1252"),
    ],
)
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends_are_told_apart(encoding: str, guessed: str | None, newline: str) -> None:
    """Marks are honoured, UTF-8 is taken for granted, and a guess is said on the record."""
    text = newline.join(["TY  - JOUR", "TI  - Größe – “quoted”", "ER  - ", ""])
    (record,) = read_file("a.ris", text.encode(encoding)).records
    assert record.title == "Größe – “quoted”" and dict(record.details).get("encoding") == guessed


def test_characters_no_store_can_hold_are_replaced() -> None:
    """NUL and half a surrogate pair become U+FFFD; the rest of the text stays."""
    record = one(
        "a.json",
        r'[{"type":"book","title":"a\u0000b\ud800c","author":[{"literal":"d\ud800"}],"DOI":"10.5555/\u0000"}]',
    )
    assert (record.title, record.people[0].name) == ("a\ufffdb\ufffdc", "d\ufffd")


def test_the_same_document_twice_in_a_file_is_kept_twice() -> None:
    """Equal native ids get a number; the id does not depend on the order or the rest of the file."""
    item = "TY  - JOUR\nTI  - {}\nDO  - https://doi.org/10.5555/ABC\nER  - \n"
    parsed = read_file("a.ris", (item.format("x") + item.format("y")).encode())
    assert [r.native_id for r in parsed.records] == ["doi:10.5555/abc", "doi:10.5555/abc#2"]
    plain = "TY  - JOUR\nTI  - {}\nPY  - 2001\nAU  - Berg, Bo\nER  - \n"
    a, b = plain.format("A title."), plain.format("Another")
    ids = [
        {r.title: r.native_id for r in read_file("a.ris", text.encode()).records} for text in (a + b, b + a)
    ]
    assert (
        ids[0] == ids[1]
        and one("b.bib", "@book{k,title={a Title},year=2001,author={Berg, Bo}}").native_id
        == ids[0]["A title."]
    )


@pytest.mark.parametrize(
    ("name", "body", "error", "words"),
    [
        ("a.docx", b"x", SourceRefused, ".ris, .bib, .json, .csv"),
        ("noname", b"x", SourceRefused, "noname"),
        ("a.ris", b"hello", SourceChanged, "not RIS"),
        ("a.bib", b"hello", SourceChanged, "not BibTeX"),
        ("a.csv", b"colour,size\nred,5\n", SourceChanged, "title, doi"),
        ("a.json", b'[{"type": "book",\n "title" "x"}]', SourceChanged, "line 2"),
        ("a.json", b'{"a": 1}', SourceChanged, "not a list"),
        ("a.json", b"[" * 100_000, SourceChanged, "nested too deeply"),
        ("a.json", b"[" + b"1" * 5000 + b"]", SourceChanged, "number too long"),
        ("a.ris", b"\xff\xfea", SourceChanged, "UTF-16"),
        ("a.ris", b" " * (MOST_BYTES + 1), AnswerTooLarge, "20 MB"),
    ],
)
def test_a_file_that_is_not_what_it_says_is_refused(name: str, body: bytes, error: Any, words: str) -> None:
    """The error names the file and how to mend it."""
    with pytest.raises(error, match=name) as caught:
        read_file(name, body)
    assert words in str(caught.value)


@pytest.mark.parametrize("suffix", sorted(READERS))
def test_an_empty_file_holds_nothing(suffix: str) -> None:
    """No bytes, or blanks alone, are no items and no error; JSON wants its brackets."""
    for body in (b"", b"\n \n"):
        if suffix == ".json":
            body = b"[]"
        assert read_file(f"a{suffix}", body).items == 0


def test_a_large_file_is_not_read_to_its_end(tmp_path: Path) -> None:
    """bounded_bytes gives the bytes, or stops at the limit."""
    small, large = tmp_path / "s.ris", tmp_path / "l.ris"
    small.write_bytes(b"abc")
    with large.open("wb") as file:
        file.truncate(200_000_000)
    assert bounded_bytes(small) == b"abc"
    with pytest.raises(AnswerTooLarge, match=r"l.ris is larger than 20 MB"):
        bounded_bytes(large)


def test_the_library_keeps_silent(caplog: pytest.LogCaptureFixture) -> None:
    """What is wrong with a file is said once, by us, not in the BibTeX library's log lines too."""
    with caplog.at_level(logging.DEBUG):
        read("lattice.bib")
    assert caplog.records == []


def test_every_date_kind_read_is_declared() -> None:
    """What the source says it states are kinds that the record knows."""
    assert set(SOURCE.dates_stated) <= set(PUBLIC_EVENTS)
    stated = {
        d.kind
        for name in ("lattice.ris", "lattice.bib", "lattice.json")
        for r in read(name).records
        for d in r.dates
    }
    assert stated <= set(SOURCE.dates_stated)
