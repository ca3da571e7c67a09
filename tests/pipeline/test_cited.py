"""The cited-reference list: which document stands for a reference, in which section, with what to check."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from connectors.connector import Parsed
from connectors.days import Days
from connectors.record import Person, Record, Relation, StatedDate, StatedIdentifier
from pipeline.cited import read_cited
from pipeline.cited_checks import FilingDay, checked
from pipeline.cited_reference import FOREIGN, OTHER, US_APPLICATIONS, US_PATENTS, CitedReference, Name
from pipeline.decisions import Decisions
from pipeline.errors import NotFound
from pipeline.matter import Matter, load_matter
from pipeline.normalise import ReadPage, normalise_pages, record_id
from pipeline.references import resolve_references
from pipeline.store import open_store

TODAY = date(2026, 11, 25)
MATTER = """
[invention]
title = "Emitter"
summary = "A drip emitter that flushes itself."
[invention.elements]
A = "a spring"
[[concept]]
name = "emitter"
terms = ["emitter"]
[[date]]
kind = "first filing"
day = 2022-05-10
office = "GB"
"""


def said(kind: str, text: str) -> StatedDate:
    """Return a dated event of a day, month or year."""
    parts = [int(part) for part in text.split("-")]
    days = Days.of_day(date(*parts)) if len(parts) == 3 else Days.of_month(*parts) if parts[1:] else Days.of_year(*parts)  # fmt: skip
    return StatedDate(kind, text, days, "date")


def rec(name: str, identifier: str = "", *dates: StatedDate, **more: Any) -> Record:
    """Return a record; identifier as scheme:text."""
    scheme, _, text = identifier.partition(":")
    ids = (StatedIdentifier(scheme, text),) if text else ()
    made = Record("files", name, "article", f"Title of {name}", identifiers=ids, dates=dates)
    return replace(made, **more)


@pytest.fixture
def matter(tmp_path: Path) -> Matter:
    """Return a matter first filed in 2022."""
    (tmp_path / "matter.toml").write_text(MATTER, encoding="utf-8")
    return load_matter(tmp_path)


def keep(matter: Matter, *records: Record) -> None:
    """Store the records through the real stages and make references of them."""
    page = ReadPage(1, "2026-11-25T02:00:00Z", "files", "handed in", "file", Parsed(len(records), records))
    with open_store(matter.folder) as con:
        for name, table in normalise_pages([page]).items():
            con.register(f"new_{name}", table)
        for name in ("response", "quarantine"):
            con.execute(f"CREATE TEMP TABLE new_{name} AS FROM {name} LIMIT 0")
        con.execute(files("pipeline").joinpath("load.sql").read_text(encoding="utf-8"))
    resolve_references(matter.folder, "")


def decide(matter: Matter, kind: str, names: tuple[str, ...], **facts: Any) -> None:
    """Write a decision on the records of those names."""
    records = tuple(record_id("files", name) for name in names)
    Decisions(matter.folder).add(kind, records, facts, "ada", datetime(2026, 11, 25, tzinfo=UTC))


def tag(matter: Matter, *names: str, tag: str = "relevant") -> None:
    """Tag each record's reference."""
    for name in names:
        decide(matter, "tag", (name,), tag=tag, note="secret note", elements=["A"], category="X")


def test_the_tag_in_force_decides_what_is_listed(matter: Matter) -> None:
    """Listed is what the latest standing tag says; untagged references are not, whatever the format."""
    keep(matter, rec("a", "doi:10.5555/a"), rec("b", "doi:10.5555/b"), rec("c", "doi:10.5555/c"))
    tag(matter, "a", "b")
    tag(matter, "b", tag="not relevant")
    assert [one.doi for one in read_cited(matter, TODAY, ("relevant",))] == ["10.5555/a"]
    both = read_cited(matter, TODAY, ("relevant", "not relevant"))
    assert [one.doi for one in both] == ["10.5555/a", "10.5555/b"]
    assert "secret note" not in repr(both)
    assert read_cited(matter, TODAY, ("undecided",)) == ()


def test_nothing_searched_is_said(matter: Matter) -> None:
    """Before the first run the error says what to do."""
    with pytest.raises(NotFound, match="antedate run"):
        read_cited(matter, TODAY, ("relevant",))


@pytest.mark.parametrize(
    ("number", "kind", "section", "office", "printed", "code"),
    [
        # 37 CFR 1.98(b)(1): US patents; designs and reissues keep their letters.
        ("US 9,999,999 B2", "patent", US_PATENTS, "US", "9,999,999", "B2"),
        ("US D999,999 S", "design", US_PATENTS, "US", "D999,999", "S"),
        ("US RE45,678 E", "patent", US_PATENTS, "US", "RE45,678", "E"),
        ("US 5,123,456 A", "patent", US_PATENTS, "US", "5,123,456", "A"),
        # 1.98(b)(2): US application publications, year and seven digits.
        ("US 2021/0999999 A1", "patent application", US_APPLICATIONS, "US", "2021/0999999", "A1"),
        ("US 2021/0999999", "patent application", US_APPLICATIONS, "US", "2021/0999999", ""),
        # 1.98(b)(4): foreign documents; WO is the office of an international publication.
        ("WO 2020/123456 A1", "patent application", FOREIGN, "WO", "2020/123456", "A1"),
        ("JP S59-144825 A", "patent application", FOREIGN, "JP", "S59-144825", "A"),
        ("DE 202019101234 U1", "utility model", FOREIGN, "DE", "20 2019 101 234", "U1"),
        ("EP 12 B9", "patent", FOREIGN, "EP", "EP 12 B9", ""),
    ],
)  # fmt: skip
def test_a_number_decides_the_section(
    matter: Matter, number: str, kind: str, section: str, office: str, printed: str, code: str
) -> None:
    """The document number puts a line into its section of 37 CFR 1.98(b)."""
    keep(matter, rec("a", f"publication:{number}", kind=kind))
    tag(matter, "a")
    (one,) = read_cited(matter, TODAY, ("relevant",))
    assert (one.section, one.office, one.printed, one.kind_code) == (section, office, printed, code)
    bad = any("not in its office's form" in flag for flag in one.flags)
    assert bad == (number == "EP 12 B9")


def test_the_earliest_version_with_a_number_is_listed(matter: Matter) -> None:
    """Preprint before article: the preprint is listed with its day, the article named, its text warned of."""
    same = Relation("preprint of", StatedIdentifier("doi", "10.5555/article"))
    keep(
        matter,
        rec("article", "doi:10.5555/article", said("published", "2021-03"), abstract="Long text", venue="J"),
        rec("preprint", "arxiv:2001.00001", said("posted", "2020-01-02"), kind="preprint", relations=(same,)),
    )
    tag(matter, "article")
    (one,) = read_cited(matter, TODAY, ("relevant",))
    assert (one.arxiv, one.doi, one.published) == ("2001.00001", "", Days.of_day(date(2020, 1, 2)))
    assert one.others == ("10.5555/article",)
    assert any("another version's: 10.5555/article, 2021-03" in flag for flag in one.flags)


@pytest.mark.parametrize(("version", "warned"), [("v1", False), ("", False), ("v2", True), ("v12", True)])
def test_a_later_text_beside_the_first_day_is_warned_of(matter: Matter, version: str, warned: bool) -> None:
    """Where the source shows a later version of a preprint, its day may be the first version's."""
    keep(matter, rec("a", "arxiv:2001.00001", said("posted", "2020-01-02"), kind="preprint", version=version))
    tag(matter, "a")
    (one,) = read_cited(matter, TODAY, ("relevant",))
    assert any(f"the source shows {version}" in flag for flag in one.flags if version) == warned


def test_a_version_without_number_gives_way_and_is_named(matter: Matter) -> None:
    """An earlier version that has neither number nor DOI is not listed, and a flag names it."""
    slides = rec("talk", "url:https://talks.example/1", said("posted", "2020-01-02"), kind="web page")
    keep(matter, slides, rec("paper", "doi:10.5555/p", said("published", "2021-03-04")))
    decide(matter, "ruling", ("talk", "paper"), same=True)
    with open_store(matter.folder) as con:
        con.execute("INSERT INTO unresolved SELECT record_id FROM record")
    keep(matter)
    tag(matter, "paper")
    (one,) = read_cited(matter, TODAY, ("relevant",))
    assert one.doi == "10.5555/p"
    assert any("neither number nor DOI" in flag and "2020-01-02" in flag for flag in one.flags)


@pytest.mark.parametrize(("wins", "day"), [(True, "2021-05-06"), (False, "2021-03-04")])
def test_a_date_entered_by_hand_counts(matter: Matter, wins: bool, day: str) -> None:
    """A later date of the user's is listed only where it is ruled to go before the sources' own."""
    keep(matter, rec("a", "doi:10.5555/a", said("published", "2021-03-04")))
    tag(matter, "a")
    decide(matter, "date", ("a",), day_from="2021-05-06", day_to="2021-05-06", wins=wins, why="stamp")
    (one,) = read_cited(matter, TODAY, ("relevant",))
    says = "entered by hand" if wins else "files: published"
    assert (one.published, one.public_says) == (Days.of_day(date.fromisoformat(day)), says)


def test_a_date_no_longer_stated_is_not_listed(matter: Matter) -> None:
    """Where a source takes a date back, the list has the one it states now."""
    keep(matter, rec("a", "doi:10.5555/a", said("published", "2020-01-02")))
    keep(matter, rec("a", "doi:10.5555/a", said("published", "2021-03-04")))
    tag(matter, "a")
    (one,) = read_cited(matter, TODAY, ("relevant",))
    assert one.published == Days.of_day(date(2021, 3, 4))


def test_a_patents_people_and_days_stand_in_their_places(matter: Matter) -> None:
    """Inventors, applicants, filing and priority days come from the document's own record."""
    people = (Person("KAWANE SEIKI KK", "applicant"), Person("Mori Aoi", "inventor", "Mori", "Aoi"))
    dates = (said("publication of application", "2019-07-25"), said("filed", "2018-01-02"), said("priority", "2017-01-03"))  # fmt: skip
    keep(matter, rec("a", "publication:JP 2019-123456 A", *dates, people=people, kind="patent application"))
    tag(matter, "a")
    (one,) = read_cited(matter, TODAY, ("relevant",))
    assert (one.inventors, one.applicants) == ((Name("Mori Aoi", "Mori", "Aoi"),), (Name("KAWANE SEIKI KK"),))
    assert [days and days.text() for days in (one.published, one.filed, one.priority)] == [
        "2019-07-25",
        "2018-01-02",
        "2017-01-03",
    ]
    assert (one.copy, one.translation, one.flags) == ("to get", "to get", ())


def test_hostile_text_is_made_plain(matter: Matter) -> None:
    """Control and direction marks go, and an address that is no web address is not listed."""
    keep(
        matter,
        rec("a", "doi:10.5555/a", title="A\u202e\x1b[2J\nB", url="javascript:alert(1)", retracted=True),
    )
    tag(matter, "a")
    (one,) = read_cited(matter, TODAY, ("relevant",))
    assert (one.title, one.url) == ("A[2J B", "")
    assert any(flag.startswith("retracted") for flag in one.flags)


ARTICLE = CitedReference(
    "aa", OTHER, "article", "T", doi="10.5555/a", container="J", pages="1", published=Days.of_month(2020, 3)
)
PATENT = CitedReference(
    "bb", US_PATENTS, "patent", "T", number="US9999999B2", kind_code="B2", inventors=(Name("A"),),
    published=Days.of_day(date(2018, 6, 5)),
)  # fmt: skip
PUBLICATION = replace(PATENT, section=US_APPLICATIONS, number="US20210999999A1", kind_code="A1")
FILING = FilingDay(date(2022, 5, 10), "the earliest filing date")


@pytest.mark.parametrize(
    ("one", "says"),
    [
        (ARTICLE, ""),
        (PATENT, ""),  # 2018-06-05 is a Tuesday
        # MPEP 609.04(a): month and year; a year alone only where it is clearly early enough.
        (replace(ARTICLE, published=Days.of_year(2021)), "must point out that this is earlier than"),
        (replace(ARTICLE, published=Days.of_year(2022)), "not clearly earlier than the earliest filing"),
        (replace(ARTICLE, published=Days(None, date(2022, 6, 1))), "only on or before 2022-06-01"),
        (replace(ARTICLE, published=Days(date(2022, 4, 1), None)), "only on or after 2022-04-01"),
        (replace(ARTICLE, published=None), "no source states a public date"),
        (replace(ARTICLE, published=Days.of_month(2022, 6)), "public only after the earliest filing date"),
        (replace(ARTICLE, published=Days.of_month(2027, 1)), "in the future"),
        # 37 CFR 1.98(b)(5): publisher or place of publication, title, relevant pages.
        (replace(ARTICLE, container=""), "no source states: publisher"),
        (replace(ARTICLE, pages="", title=""), "no source states: title; relevant pages"),
        (replace(ARTICLE, kind="patent"), "without a publication number"),
        # 1.98(b)(1), (2): inventor; applicant. Issue days are Tuesdays, publication days Thursdays.
        (replace(PATENT, inventors=()), "no source states: inventor"),
        (replace(PATENT, published=Days.of_day(date(2018, 6, 6))), "Wednesday; US patents issue on Tuesdays"),
        (replace(PUBLICATION, published=Days.of_day(date(2021, 3, 5))), "Friday; US applications"),
        (replace(PUBLICATION, published=Days.of_day(date(2021, 3, 4))), ""),
        (replace(PATENT, published=Days.of_month(2018, 6)), "needs its full day"),
        (replace(PATENT, kind_code=""), "kind code"),
        (replace(PATENT, number="US12"), "not in its office's form"),
    ],
)
def test_a_line_says_what_is_to_be_checked(one: CitedReference, says: str) -> None:
    """Each rule of the list flags its case, and a whole line bears no flag."""
    (line,) = checked([one], TODAY, FILING)
    assert bool(line.flags) == bool(says), line.flags
    assert says in " ".join(line.flags)


def test_a_document_listed_twice_is_seen() -> None:
    """Two lines with one number or DOI, however written, each point at the other."""
    first, second, third = checked(
        [ARTICLE, replace(ARTICLE, reference_id="cc", doi="10.5555/A"), PATENT], TODAY, FILING
    )
    assert first.flags == ("10.5555/a is listed twice; see also cc",)
    assert second.flags == ("10.5555/a is listed twice; see also aa",)
    assert third.flags == ()
