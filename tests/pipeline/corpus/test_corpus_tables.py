"""The office's tab-separated tables joined to documents. All invented; columns as the office's tables have them."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pipeline.corpus.folder import CorpusFolder
from pipeline.corpus.handed import handed
from pipeline.corpus.load import Outcome, load_files
from pipeline.corpus.paragraphs import read_paragraphs
from pipeline.corpus.tables import Row, read_tables

PATENTS = """patent_id\tpatent_type\tpatent_date\tpatent_title\twipo_kind\tnum_claims\twithdrawn\tfilename
"19000001"\t"utility"\t"2020-01-07"\t"A ""flush"" valve"\t"B2"\t2\t0\t"a.xml"
"D999001"\t"design"\t"2020-01-14"\t"Vase"\t"S1"\t1\t0\t"b.xml"
"19000003"\t"utility"\t"2020-01-21"\t"Withdrawn emitter"\t"B1"\t1\t1\t"c.xml"
"19000004"\t"utility"\t"2020-02-30"\t"No such day"\t"B1"\t1\t0\t"d.xml"
"""
CLAIMS = """patent_id\tclaim_sequence\tclaim_text\tdependent\tclaim_number\texemplary
"19000001"\t1\t"2. The valve of claim 1."\t"claim 1"\t"00002"\t0
"19000001"\t0\t"1. A valve
with a spring."\t\t"00001"\t1
"D999001"\t0\t"The ornamental design for a vase."\t\t"00001"\t1
"19999999"\t0\t"1. A thing."\t\t"00001"\t1
"""
REST = {
    "g_patent_abstract.tsv": 'patent_id\tpatent_abstract\n"19000001"\t"A spring-loaded valve."\n',
    "g_application.tsv": 'application_id\tpatent_id\tpatent_application_type\tfiling_date\tseries_code\n"16900001"\t"19000001"\t"16"\t"2018-03-01"\t"16"\n',
    "g_cpc_at_issue.tsv": 'patent_id\tcpc_sequence\tcpc_section\tcpc_group\n"19000001"\t0\t"F"\t"F16K31/00"\n"19000001"\t1\t"A"\t"A01G25/023"\n',
    "g_us_term_of_grant.tsv": 'patent_id\tdisclaimer_date\tterm_disclaimer\tterm_grant\tterm_extension\n"19000001"\t\t"This patent is subject to a terminal disclaimer."\t\t"120"\n"D999001"\t\t\t"15"\t\n',
    "g_brf_sum_text_2020.tsv": 'patent_id\tsummary_text\n"19000001"\t"Valves clog.\n\nThis one does not."\n',
    "g_detail_desc_text_2020.tsv": 'patent_id\tdescription_text\tdescription_length\n"19000001"\t"FIG. 1 shows it."\t16\n',
}


def write(folder: Path, **tables: str) -> list[Path]:
    """Write tables into folder; return their paths."""
    for name, text in tables.items():
        (folder / name).write_text(text, encoding="utf-8")
    return sorted(folder / name for name in tables)


def rows(folder: Path, **tables: str) -> list[Row]:
    """Return what the tables give."""
    (one,) = handed(write(folder, **tables))
    return list(read_tables(one, folder / "scratch"))


def load(folder: Path, paths: list[Path]) -> list[Outcome]:
    """Load files into the corpus in folder."""
    return load_files(
        CorpusFolder(folder / "corpus"), paths, lambda: datetime(2026, 11, 25, tzinfo=UTC), lambda _: None
    )


def test_tables_join_to_documents(tmp_path: Path) -> None:
    """Number, day, kind, title, abstract, claims in order, filing, codes and term of one patent."""
    found = rows(tmp_path, **{"g_patent.tsv": PATENTS, "g_claims_2020.tsv": CLAIMS, **REST})
    document = found[0].document
    assert document
    assert (document.publication.number, document.publication.kind, document.publication.date) == (
        "19000001", "B2", "2020-01-07",
    )  # fmt: skip
    assert (document.title, document.abstract) == ('A "flush" valve', "A spring-loaded valve.")
    assert [(claim.number, claim.text, claim.names) for claim in document.claims] == [
        ("1", "1. A valve with a spring.", ()), ("2", "2. The valve of claim 1.", ("1",)),
    ]  # fmt: skip
    assert (document.application.number, document.application.date) == ("16900001", "2018-03-01")
    assert document.codes == (("CPC", "A01G 25/023"), ("CPC", "F16K 31/00"))
    assert (document.term.days, document.term.disclaimer) == (
        "120",
        "This patent is subject to a terminal disclaimer.",
    )
    assert [text for _, text in found[0].paragraphs] == [
        "Valves clog.",
        "This one does not.",
        "FIG. 1 shows it.",
    ]


def test_texts_of_a_year_choose_the_documents(tmp_path: Path) -> None:
    """The table of patents holds all years; loaded are those that the tables of texts speak of."""
    found = rows(tmp_path, **{"g_patent.tsv": PATENTS, "g_claims_2020.tsv": CLAIMS})
    assert [row.document.publication.number for row in found if row.document] == ["19000001", "D999001"]
    (lost,) = [row for row in found if row.document is None]
    assert (lost.where, lost.problem) == (
        "document 19999999", "claims of a document that no table of numbers and titles holds",
    )  # fmt: skip


def test_without_texts_every_patent_loads(tmp_path: Path) -> None:
    """A withdrawn number says so; a day that cannot be is no document."""
    found = rows(tmp_path, **{"g_patent.tsv": PATENTS})
    assert [row.document.publication.number for row in found if row.document] == [
        "19000001",
        "19000003",
        "D999001",
    ]
    notes = [row.document.notes for row in found if row.document]
    assert notes == [(), (("withdrawn", "the office took this number back"),), ()]
    assert [row.kind_of_problem for row in found if not row.document] == [
        "its day of publication can't be read"
    ]


def test_published_applications(tmp_path: Path) -> None:
    """Their tables name the number otherwise and hold the filing themselves."""
    found = rows(tmp_path, **{
        "pg_published_application.tsv": "pgpub_id\tapplication_id\tfiling_date\tpatent_application_type\tpublished_date\twipo_kind\tapplication_title\n"
        '"20209900001"\t"16900001"\t"2018-03-01"\t"utility"\t"2020-09-03"\t"A1"\t"Valve"\n',
        "pg_published_application_abstract.tsv": 'pgpub_id\tapplication_abstract\n"20209900001"\t"A valve."\n',
        "pg_claims_2020.tsv": 'pgpub_id\tclaim_sequence\tclaim_text\tdependent\tclaim_number\n"20209900001"\t1\t"1. A valve."\t\t"1"\n',
    })  # fmt: skip
    (document,) = [row.document for row in found]
    assert document
    assert (document.publication.number, document.application.number, document.abstract) == (
        "20209900001", "16900001", "A valve.",
    )  # fmt: skip
    assert len(document.claims) == 1


def test_a_torn_row_costs_no_other(tmp_path: Path) -> None:
    """It is counted, with table and line."""
    torn = PATENTS.replace(
        '"D999001"\t"design"\t"2020-01-14"\t"Vase"\t"S1"\t1\t0\t"b.xml"', '"D999001"\t"design"'
    )
    found = rows(tmp_path, **{"g_patent.tsv": torn})
    assert [row.document.publication.number for row in found if row.document] == ["19000001", "19000003"]
    assert ("g_patent.tsv, line 3", "a row of the table can't be read: missing columns") in [
        (row.where, row.problem) for row in found
    ]


def test_they_load_together_into_one_corpus(tmp_path: Path) -> None:
    """Zipped as the office hands them out; the same again is left alone; nothing of the joining stays."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("g_claims_2020.tsv", CLAIMS)
    (tmp_path / "g_claims_2020.tsv.zip").write_bytes(made.getvalue())
    paths = [tmp_path / "g_claims_2020.tsv.zip", *write(tmp_path, **{"g_patent.tsv": PATENTS, **REST})]
    (outcome,) = load(tmp_path, paths)
    assert outcome.file
    assert outcome.file.by_kind == {"patent": 1, "design": 1}
    assert sum(outcome.file.unreadable.values()) == 1
    assert [each.state for each in load(tmp_path, paths[::-1])] == ["there already"]
    assert not list((tmp_path / "corpus").rglob("scratch"))
    (rows_,) = read_paragraphs(tmp_path / "corpus", ["US.19000001.B2"]).values()
    assert rows_[0].text == "Valves clog."


@pytest.mark.parametrize(
    ("tables", "why"),
    [
        ({"g_claims_2020.tsv": CLAIMS}, "In one command"),
        ({"g_patent.tsv": PATENTS, "g_wipo.tsv": "patent_id\tfield\n1\t2\n"}, "none of the tables known"),
        ({"g_patent.tsv": ""}, "g_patent.tsv"),
        ({"g_patent.tsv": "\x00\x01\x02\n" * 9}, "g_patent.tsv"),
    ],
)
def test_tables_that_can_not_be_joined_are_refused(tmp_path: Path, tables: dict[str, str], why: str) -> None:
    """The reason says what is missing; nothing counts."""
    (outcome,) = load(tmp_path, write(tmp_path, **tables))
    assert outcome.state == "refused"
    assert why in outcome.why
    assert CorpusFolder(tmp_path / "corpus").files() == ()
    assert list((tmp_path / "corpus" / "files").iterdir()) == []
