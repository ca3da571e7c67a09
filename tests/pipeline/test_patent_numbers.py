"""Patent numbers, read and printed: the offices' own forms, recorded pairs, the traps."""

from __future__ import annotations

import re
import time
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.patent_kinds import kind_level
from pipeline.patent_numbers import (
    PatentNumber,
    UnknownNumber,
    parse_application,
    parse_publication,
)
from pipeline.patent_offices import APPLICATIONS, PUBLICATIONS, ST3, Shape

OPS_SAMPLES = Path(__file__).resolve().parents[2] / "../shared/sources/samples/epo_ops"

# no, what it rests on, role, input, normal form, docdb, epodoc, office's print.
# "" in docdb or epodoc: no published or recorded writing to hold it to.
PUB, APP = "publication", "application"
WORKED = [
    (1, "USPTO kind codes", PUB, "US 9,123,456 B2", "US9123456B2", "US.9123456.B2", "US9123456", "US 9,123,456 B2"),
    (2, "grant text of 1976", PUB, "U.S. Patent No. 3,937,375", "US3937375", "US.3937375.A", "", "US 3,937,375"),
    (3, "USPTO kind codes, recorded zero rule", PUB, "US 2015/0123456 A1", "US20150123456A1", "US.2015123456.A1", "", "US 2015/0123456 A1"),
    (4, "recorded OPS", PUB, "US20120057518A1", "US20120057518A1", "US.2012057518.A1", "", "US 2012/0057518 A1"),
    (5, "recorded OPS, zero put back", PUB, "US 2012057518 A1", "US20120057518A1", "US.2012057518.A1", "", "US 2012/0057518 A1"),
    (6, "recorded OPS", PUB, "US 2003/0060222 A1", "US20030060222A1", "US.2003060222.A1", "", "US 2003/0060222 A1"),
    (7, "USPTO kind codes", PUB, "D789,012 S", "USD789012S", "", "", "US D789,012 S"),
    (8, "design grant XML", PUB, "USD0701016S1", "USD701016S1", "", "", "US D701,016 S1"),
    (9, "USPTO kind codes", PUB, "RE45,678 E", "USRE45678E", "", "", "US RE45,678 E"),
    (10, "USPTO kind codes", PUB, "Plant Pat. PP25,123 P3", "USPP25123P3", "", "", "US PP25,123 P3"),
    (11, "recorded OPS", APP, "12/942,680 (US application)", "US12942680", "US.94268010.A", "US20100942680", "US 12/942,680"),
    (12, "recorded OPS", APP, "13/167,395", "US13167395", "US.201113167395.A", "", "US 13/167,395"),
    (13, "recorded OPS", APP, "61/761,070 (provisional)", "US61761070", "US.201361761070.P", "", "US 61/761,070"),
    (14, "EPO kind codes", PUB, "EP 1 234 567 A1", "EP1234567A1", "EP.1234567.A1", "EP1234567", "EP 1 234 567 A1"),
    (15, "recorded OPS", PUB, "EP 680812 A1", "EP0680812A1", "EP.0680812.A1", "EP0680812", "EP 0 680 812 A1"),
    (16, "recorded OPS", APP, "EP 10167109.7", "EP10167109", "EP.10167109.A", "EP20100167109", "EP 10167109.7"),
    (17, "EPO kind codes", PUB, "WO 2015/123456 A1", "WO2015123456A1", "WO.2015123456.A1", "", "WO 2015/123456 A1"),
    (18, "recorded OPS", PUB, "WO 2010/050748 A2", "WO2010050748A2", "WO.2010050748.A2", "WO2010050748", "WO 2010/050748 A2"),
    (19, "OPS guide 4.4", PUB, "WO 99/12345", "WO9912345", "WO.9912345", "", "WO 99/12345"),
    (20, "recorded OPS", PUB, "WO 02/054790 A2", "WO02054790A2", "WO.02054790.A2", "WO02054790", "WO 02/054790 A2"),
    (21, "year expanded", PUB, "WO 2002/054790", "WO02054790", "", "WO02054790", "WO 02/054790"),
    (22, "recorded OPS number service", APP, "PCT/GB02/04635", "PCTGB2002004635", "GB.0204635.W", "", "PCT/GB02/04635"),
    (23, "recorded OPS", APP, "PCT/KR2009/006271", "PCTKR2009006271", "KR.2009006271.W", "WO2009KR06271", "PCT/KR2009/006271"),
    (24, "EPO Asian numbering, recorded shape", PUB, "JP H10-123456 A", "JPH10123456A", "JP.H10123456.A", "", "JP H10-123456 A"),
    (25, "EPO Asian numbering, recorded shape", PUB, "JP 2005-123456", "JP2005123456", "JP.2005123456.A", "", "JP 2005-123456"),
    (26, "recorded OPS, MPEP 901.05(a)", PUB, "特開平6-279146", "JPH06279146A", "JP.H06279146.A", "JPH06279146", "JP H6-279146 A"),
    (27, "kokai began in 1971", PUB, "JP-A-63-123456", "JPS63123456A", "JP.S63123456.A", "", "JP S63-123456 A"),
    (28, "OPS guide 4.3", PUB, "特許第3000014号", "JP3000014B", "", "JP3000014B", "JP 3000014 B"),
    (29, "application XML", APP, "特願2016-128835 (priority)", "JP2016128835", "", "", "JP 2016-128835"),
    (30, "EPO Asian numbering", PUB, "CN 102345678 B", "CN102345678B", "CN.102345678.B", "CN102345678B", "CN 102345678 B"),
    (31, "EPO Asian numbering", PUB, "CN 102345678 A", "CN102345678A", "CN.102345678.A", "", "CN 102345678 A"),
    (32, "OPS guide 4.3", PUB, "CN 100520025 C", "CN100520025C", "", "CN100520025C", "CN 100520025 C"),
    (33, "EPO Asian numbering", APP, "201010123456.7 (CN application)", "CN201010123456", "", "", "CN 201010123456.7"),
    (34, "recorded OPS", APP, "KR 10-2008-0107376 (application)", "KR1020080107376", "KR.20080107376.A", "", "KR 10-2008-0107376"),
    (35, "EPO Asian numbering", PUB, "KR 10-1234567 B1", "KR101234567B1", "KR.101234567.B1", "", "KR 10-1234567 B1"),
    (36, "OPS guide 4.3", PUB, "KR 20-0142084 Y1", "KR200142084Y1", "", "KR200142084Y", "KR 20-0142084 Y1"),
    (37, "OPS guide 4.5", PUB, "DE 10 2006 032 425 A1", "DE102006032425A1", "", "DE102006032425", "DE 10 2006 032 425 A1"),
    (38, "recorded OPS", PUB, "DE 35 46 191 A1", "DE3546191A1", "DE.3546191.A1", "", "DE 35 46 191 A1"),
    (39, "recorded OPS", APP, "DE 20 2007 016 308.8 (application)", "DE202007016308", "DE.202007016308.U", "DE200720016308U", "DE 20 2007 016 308.8"),
    (40, "DPMA kind codes", PUB, "DE 698 12 345 T2", "DE69812345T2", "DE.69812345.T2", "", "DE 698 12 345 T2"),
    (41, "practice", PUB, "GB 2 123 456 A", "GB2123456A", "GB.2123456.A", "", "GB 2 123 456 A"),
    (42, "recorded OPS", APP, "GB 2306615.2 (priority)", "GB2306615", "", "GB20230006615", "GB 2306615.2"),
    (43, "practice", PUB, "FR 2 890 123 - A1", "FR2890123A1", "FR.2890123.A1", "", "FR 2 890 123 A1"),
    (44, "recorded OPS", PUB, "CA 2,744,162 A1", "CA2744162A1", "CA.2744162.A1", "CA2744162", "CA 2,744,162 A1"),
    (45, "recorded OPS, IP Australia", PUB, "AU 2013290010 A1", "AU2013290010A1", "AU.2013290010.A1", "", "AU 2013290010 A1"),
    (46, "EPO Asian numbering", PUB, "TW I345678 B", "TWI345678B", "TW.I345678.B", "TWI345678B", "TW I345678 B"),
    (47, "EPO Asian numbering", PUB, "TW 201234567 A", "TW201234567A", "", "", "TW 201234567 A"),
    (48, "EPO Asian numbering", APP, "201611012345 (IN)", "IN201611012345", "", "", "IN 201611012345"),
    (49, "recorded OPS", PUB, "AT E 232441 T1", "ATE232441T1", "AT.E232441.T1", "ATE232441T", "AT E 232441 T1"),
    (50, "recorded OPS", PUB, "DK/EP 3740998 T3", "DK3740998T3", "DK.3740998.T3", "DK3740998T", "DK/EP 3740998 T3"),
    (51, "design grant XML", APP, "EM 001184956-0001 (priority of a design)", "EM001184956-0001", "", "", "EM 001184956-0001"),
    (52, "OPS guide 4.3", PUB, "JP 3000014 U", "JP3000014U", "", "JP3000014U", "JP 3000014 U"),
]  # fmt: skip
FILED = {11: 2010, 12: 2011, 13: 2013}  # DOCDB's US application numbers hold the filing year


def read(role: str, text: str) -> PatentNumber:
    """Return the number in its role."""
    return parse_publication(text) if role == PUB else parse_application(text)


@pytest.mark.parametrize("row", WORKED, ids=[f"{row[0]}: {row[1]}" for row in WORKED])
class TestWorkedPairs:
    def test_the_input_reads_to_the_normal_form(self, row: tuple) -> None:
        """A writing found in the wild comes out in ST.3 and ST.16 form."""
        assert read(row[2], row[3]).normal() == row[4]

    def test_the_number_prints_as_databases_and_the_office_write_it(self, row: tuple) -> None:
        """DOCDB, epodoc and the office's own print come out of the same number."""
        no, _, role, text, _, docdb, epodoc, face = row
        number = read(role, text)
        if no in FILED:
            number = replace(number, year=FILED[no])
        assert number.office_form() == face
        assert docdb in ("", number.docdb())
        assert epodoc in ("", number.epodoc())

    def test_every_writing_reads_back_to_one_number(self, row: tuple) -> None:
        """Normal form, DOCDB and the office's print of one number have its key."""
        number = read(row[2], row[3])
        if row[0] in FILED:
            number = replace(number, year=FILED[row[0]])
        assert read(row[2], number.normal()).normal() == number.normal()
        assert read(row[2], number.office_form()).normal() == number.normal()
        if row[5] and row[0] not in FILED:  # a US serial without its series has a key by its year
            assert read(row[2], row[5]).match_key() == number.match_key()


@pytest.mark.parametrize(
    ("role", "one", "other"),
    [
        (PUB, "WO 02/054790 A2", "WO 2002/054790"),
        (PUB, "AT.E232441.T1", "AT.232441.T"),
        (PUB, "US 2012057518 A1", "US20120057518A1"),
        (PUB, "EP00012345", "EP 12345"),
        (PUB, "KR 10-2024-0056344 A", "KR.20240056344.A"),
        (PUB, "特表2005-512345", "JP.2005512345.A"),
        (PUB, "特表平8-501234", "JP.H08501234.A"),
        (PUB, "JP 1994-279146 A", "JP.H06279146.A"),
        (PUB, "UK 2,123,456", "GB2123456A"),
        (PUB, "ＵＳ９，１２３，４５６Ｂ２", "US 9123456"),
        (PUB, "US 9‑123‑456\u00a0B2", "US9123456B2"),
        (APP, "PCT/EP2024/063512", "EP2024/063512"),
        (APP, "PCT/GB02/04635", "GB.0204635.W"),
        (APP, "PCTUS2024012345", "PCT/US2024/012345"),
        (APP, "TW 105123456", "TW20160123456"),
        (APP, "ZL201010123456.7", "CN 201010123456"),
        (APP, "US.94268010.A", "US20100942680"),
        (APP, "U.S. Ser. No. 13/167,395", "US.201113167395.A"),
        (APP, "特願平10-123456", "JP H10-123456"),
    ],
)
def test_two_writings_of_one_number_have_one_key(role: str, one: str, other: str) -> None:
    """What differs only in writing is met by its key."""
    assert read(role, one).match_key() == read(role, other).match_key()


@pytest.mark.parametrize(
    ("role", "one", "other"),
    [
        (PUB, "JP 3000014 B", "JP 3000014 U"),  # row 52
        (PUB, "JP 3000014", "JP 3000014 B"),  # may be the utility model: not decided here
        (PUB, "CN 102345678 B", "CN 102345678 A"),  # one application, two documents
        (PUB, "CN 1234567 A", "CN 1234567 C"),  # before 2007 numbered apart
        (PUB, "US 5,123,456 B1", "US 5,123,456 A"),  # a reexamination certificate, and the patent
        (PUB, "EP 1234567 A1", "EP 1234567 B1"),
        (PUB, "JP H06-012345 A", "JP H06-12345 B"),  # kokai and kokoku count apart
        (PUB, "PL 131036 U1", "PL 131036 B1"),
        (PUB, "US 9123456", "US 2015/0123456"),
        (APP, "12/942,680", "13/942,680"),
        (APP, "12/942,680", "US.94268010.A"),  # the series alone does not tell the year
        (APP, "特願2005-001234", "実願2005-001234"),
    ],
)
def test_two_documents_are_not_taken_for_one(role: str, one: str, other: str) -> None:
    """Keys differ, or the kinds beside a shared key do."""
    one_read, other_read = read(role, one), read(role, other)
    assert (one_read.match_key(), one_read.kind) != (other_read.match_key(), other_read.kind)
    apart_by_kind = {
        ("CN 102345678 B", "CN 102345678 A"),
        ("US 5,123,456 B1", "US 5,123,456 A"),
        ("EP 1234567 A1", "EP 1234567 B1"),
    }
    assert (one_read.match_key() == other_read.match_key()) is ((one, other) in apart_by_kind)


def test_eight_digits_with_a_kind_are_docdb_s_serial_and_year() -> None:
    """12345609 alone is series 12; with DOCDB's kind it is serial 123456 of 2009."""
    assert parse_application("US 12345609").match_key() == "US-12-345609"
    assert parse_application("US.12345609.A").match_key() == "US-2009-123456"
    assert parse_application(parse_application("US.12345609.A").normal()).year == 2009


@pytest.mark.parametrize(
    ("docdb", "epodoc", "plain"),
    [
        ("US.54253204.P", "US20040542532P", "60/542,532"),
        ("US.90000007.P", "US20070900000P", "60/900,000"),
        ("US.1723408.P", "US20080017234P", "61/017,234"),
        ("US.201361761070.P", "US201361761070P", "61/761,070"),
    ],
)
def test_a_provisional_by_serial_and_year_is_the_one_of_its_series(
    docdb: str, epodoc: str, plain: str
) -> None:
    """The EPO's data and the Office's write one provisional; an application of that serial is another."""
    number = parse_application(docdb)
    assert {parse_application(text).match_key() for text in (docdb, epodoc, plain)} == {number.match_key()}
    assert (number.docdb(), number.epodoc()) == (docdb, epodoc)
    ordinary = parse_application(docdb.replace(".P", ".A"))
    assert ordinary.series or ordinary.match_key() != number.match_key()  # since 2011 the series is told


def test_a_provisional_whose_series_cannot_be_told_keeps_its_own_key() -> None:
    """There was no provisional before 1995, and none of serial 600,000 in 2010: nothing is guessed."""
    for text in ("US.54253294.P", "US.60000010.P"):
        number = parse_application(text)
        assert "-P-" in number.match_key()
        assert number.match_key() != parse_application(text.replace("P", "A")).match_key()


@pytest.mark.parametrize("kind", ["P", "F", "D", "E"])
def test_filings_of_other_kinds_count_apart_from_ordinary_ones(kind: str) -> None:
    """US 900000 of 2007 is an application, and a provisional, and perhaps a design: never one."""
    keys = {parse_application(f"US.90000007.{letter}").match_key() for letter in ("A", kind)}
    assert len(keys) == 2


@pytest.mark.parametrize(
    "text",
    ["1234567", "9,123,456", "EN 12345", "ISO 9001", "DE 123", "R01 CA123456", "ISBN 978-3-16-148410-0",
     "10.5555/12345678", "US", "", "   ", "EP 123456789", "WO 2015", "JP 13-123456", "JP 30-123456",
     "JP 10-123456 B", "No. 3,937,375", "DM/012345", "PCT/US2024/012345", "EP 10167109.7", "US 0",
     "DE 12 34 56 78 90 12 34 56", "US 9123456 S", "MD 20050130", "🦆", "US９１２３４５６é"],
)  # fmt: skip
def test_what_fits_no_office_is_refused_as_a_publication(text: str) -> None:
    """A bare number, a standard, a grant number or a wrong length is not guessed at."""
    with pytest.raises(UnknownNumber):
        parse_publication(text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("EP 12345678901", ["EP publication", "EP 1 234 567 A1", "Tried"]),
        ("EP 10167109.7", ["application number"]),
        ("EN 12345", ["EN is not an office"]),
        ("1234567", ["no office"]),
        ("PCT/US2024/012345", ["WO and a year"]),
        ("US 20150123456 B2", ["US published application", "Tried: US patent"]),
        ("MD 20050130", ["kind code"]),
        ("US" + "1" * 500, ["longer than 120 characters"]),
    ],
)
def test_a_refusal_says_what_was_tried_and_what_came_nearest(text: str, says: list[str]) -> None:
    """The user learns what was read, which forms were compared, and a good example."""
    with pytest.raises(UnknownNumber) as refused:
        parse_publication(text)
    assert all(part in str(refused.value) for part in says), str(refused.value)


def test_twelve_bare_digits_fit_two_offices_and_are_refused() -> None:
    """201611012345 may be Chinese or Indian: only an office or a check digit decides."""
    with pytest.raises(UnknownNumber):
        parse_application("201611012345")


def test_letters_read_as_digits_are_flagged_and_only_read_so_where_nothing_else_fits() -> None:
    """O and l become 0 and 1 with a note; D, PP and other real letters stay."""
    mended = parse_publication("US 9l23O56 B2")
    assert (mended.normal(), len(mended.notes)) == ("US9123056B2", 1)
    assert parse_publication("US 9123456 B2").notes == ()


@pytest.mark.parametrize(
    ("text", "year"),
    [("WO 78/00001", 1978), ("WO 99/12345", 1999), ("WO 00/12345", 2000), ("WO 03/012345", 2003),
     ("JP S46-123456", 1971), ("JP S63-123456", 1988), ("JP H01-123456", 1989), ("JP 11-123456", 1999),
     ("US 2001/0000044 A1", 2001), ("DE 10 2006 032 425", 2006)],
)  # fmt: skip
def test_a_short_year_is_expanded_as_its_office_counted(text: str, year: int) -> None:
    """Two-digit years and emperor years become Western years (MPEP 901.05(a), WIPO practice)."""
    assert parse_publication(text).year == year


@pytest.mark.parametrize(
    ("text", "year"),
    [("TW 105123456", 2016), ("TW 098123456", 2009), ("TW 98123456", 2009), ("EP 99123456.7", 1999),
     ("GB 7712345", 1977), ("CN 98123456.7", 1998), ("特願昭63-123456", 1988)],
)  # fmt: skip
def test_an_application_number_tells_its_year(text: str, year: int) -> None:
    """Years of the Republic (Taiwan, + 1911), two-digit and emperor years of filings."""
    assert parse_application(text).year == year


@pytest.mark.parametrize(
    ("text", "level"),
    [
        ("US 5123456 A", "grant"), ("US 2015/0123456 A1", "application"), ("US 5123456 B1", "other"),
        ("US 9123456 B2", "grant"), ("US 9123456", "unknown"), ("US RE45678 E", "grant"),
        ("USD701016S1", "design"), ("EP 1234567 A3", "other"), ("EP 1234567 A2", "application"),
        ("EP 1234567 B1", "grant"), ("WO 2010/050748 A4", "other"), ("DE 69812345 T2", "other"),
        ("DK/EP 3740998 T3", "other"), ("CN 202345678 U", "utility model"), ("JP H0512345 B2", "application"),
        ("JP 3000014 B2", "grant"), ("特表2005-512345", "application"), ("CA 1234567 A", "grant"),
        ("CA 2744162 A1", "application"), ("GB 1234567 A", "grant"), ("GB 2123456 A", "application"),
        ("MD 20050130 A", "unknown"), ("KR 20-0142084 Y1", "utility model"), ("FR 2890123 A3", "utility model"),
    ],
)  # fmt: skip
def test_a_kind_tells_the_level_by_office_and_number(text: str, level: str) -> None:
    """ST.16 letters mean what each office made of them; B1 before 2001 is no US grant."""
    number = parse_publication(text) if level or text else None
    assert number is not None and number.level() == level


def test_a_level_without_the_number_that_decides_it_is_unknown() -> None:
    """US A and B2 say nothing until the number is known; nonsense says nothing ever."""
    assert (
        kind_level("US", "B2") == kind_level("US", "A", "") == kind_level("US", "?!", "9123456") == "unknown"
    )


def test_a_translation_names_the_patent_it_translates() -> None:
    """DK, PL and PT number their T documents as the European patent."""
    assert parse_publication("DK/EP 3740998 T3").translation_of() == "EP3740998"
    assert parse_publication("PL 3655345 T3").translation_of() == "EP3655345"
    assert parse_publication("PL 442738 A1").translation_of() == ""


@pytest.mark.parametrize("shape", [*PUBLICATIONS, *APPLICATIONS], ids=lambda s: f"{s.office} {s.name}")
def test_every_row_reads_and_prints_its_own_example(shape: Shape) -> None:
    """A row of the table is tested to matter: its example fits it and survives a round trip."""
    role = PUB if shape in PUBLICATIONS else APP
    number = read(role, shape.example)
    assert number.shape.body == shape.body and shape.office in ST3
    assert read(role, number.office_form()).normal() == number.normal()


def recorded_pairs() -> list[tuple[str, str, str, str]]:
    """Return (role, kind of writing, docdb, other writing) of every recorded OPS reference."""
    etree = pytest.importorskip("lxml.etree")
    found: dict[tuple[str, str, str, str], None] = {}
    for path in sorted(OPS_SAMPLES.glob("*.xml")):
        if not path.read_bytes().strip():
            continue
        root = etree.fromstring(path.read_bytes(), etree.XMLParser(resolve_entities=False, recover=True))
        for tag in ("publication-reference", "application-reference", "priority-claim", "patcit"):
            for reference in root.iter("{*}" + tag):
                forms = {i.get("document-id-type"): i for i in reference.findall("{*}document-id")}
                docdb = forms.get("docdb")
                if docdb is None:
                    continue
                parts = [docdb.findtext("{*}" + name) or "" for name in ("country", "doc-number", "kind")]
                other = forms["epodoc"].findtext("{*}doc-number") if "epodoc" in forms else ""
                role = PUB if tag in ("publication-reference", "patcit") else APP
                found[role, tag, ".".join(parts), other] = None
    return list(found)


def test_recorded_docdb_and_epodoc_numbers_read_and_print_alike() -> None:
    """Every number the EPO was recorded to send is read, and DOCDB is printed back as it came."""
    if not OPS_SAMPLES.is_dir():
        pytest.skip("no recorded samples beside this checkout (../shared/sources/samples)")
    pairs = recorded_pairs()
    assert len(pairs) > 100
    for role, _, docdb, epodoc in pairs:
        number = read(role, docdb)
        assert number.docdb() == docdb, (role, docdb, number)
        if epodoc:
            in_epodoc = read(role, epodoc)
            if not (number.office == "US" and role == APP):  # DOCDB's serial and year, without the series
                assert in_epodoc.match_key() == number.match_key(), (docdb, epodoc)
            assert number.epodoc() == epodoc or number.office in ("CA", "US", "DK"), (docdb, epodoc, number)


@settings(derandomize=True, max_examples=300, deadline=None)
@given(st.text(max_size=60))
def test_any_text_is_read_or_refused_and_nothing_else(text: str) -> None:
    """Hostile text ends in UnknownNumber, never in another error."""
    for parse in (parse_publication, parse_application):
        try:
            number = parse(text)
        except UnknownNumber:
            continue
        assert parse(number.normal()).normal() == number.normal()


@settings(derandomize=True, max_examples=600, deadline=None)
@given(
    st.sampled_from(sorted(ST3)),
    st.from_regex(r"(?:[A-Z]{0,2}[0-9]{1,13}|[0-9]{1,4}[-/., ][0-9]{3,6})", fullmatch=True),
    st.sampled_from(["", "A", "A1", "B", "B2", "U", "U1", "Y1", "S", "T", "W", "P", "E"]),
)
def test_reading_what_was_printed_gives_the_same_number(office: str, body: str, kind: str) -> None:
    """Normal form, DOCDB and office print of any accepted number read back to its key."""
    for role in (PUB, APP):
        try:
            number = read(role, f"{office} {body} {kind}")
        except UnknownNumber:
            continue
        assert read(role, number.normal()).normal() == number.normal()
        assert read(role, number.normal()).match_key() == number.match_key()
        assert read(role, number.office_form()).match_key() == number.match_key()
        if not re.fullmatch(r"NO\.\d+", number.docdb()):  # without a kind that is the word No.
            assert read(role, number.docdb()).match_key() == number.match_key(), number.docdb()


@pytest.mark.parametrize(
    "text", ["1" * 10**5, "US " + "9," * 10**5, "(" * 10**5, "JP" + "-" * 10**5, "特" * 10**5]
)
def test_a_hostile_text_is_refused_at_once(text: str) -> None:
    """A hundred thousand characters cost no more than the longest real number."""
    begun = time.process_time()
    with pytest.raises(UnknownNumber):
        parse_publication(text)
    assert time.process_time() - begun < 0.2
    assert not re.search(r"1{200}", str(UnknownNumber(text, "too long")))
