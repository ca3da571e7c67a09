"""What kind codes mean, office by office, as the offices publish it."""

from __future__ import annotations

import pytest

from connectors.days import Days, parse_days
from connectors.patent_kinds import correction, kind_of

GRANT, APPLICATION, OTHER = "publication of grant", "publication of application", "published"


@pytest.mark.parametrize(
    ("office", "code", "number", "day", "record", "event"),
    [
        # USPTO, kind codes: until 2000 the code was not printed and A is a patent
        ("US", "A", "3937375", "1976-02-10", "patent", GRANT),
        ("US", "A", "3937375", "", "patent", GRANT),
        ("US", "A1", "2012057518", "2012-03-08", "patent application", APPLICATION),
        ("US", "B2", "9648662", "2017-05-09", "patent", GRANT),
        ("US", "B1", "4000001", "1998-01-06", "patent", OTHER),  # re-examination certificate
        ("US", "P1", "2001000001", "2001-05-01", "patent application", APPLICATION),
        ("US", "P", "9000", "1994-01-04", "patent", GRANT),
        ("US", "P2", "15000", "2004-08-03", "patent", GRANT),
        ("US", "E1", "45678", "2015-09-22", "patent", GRANT),
        ("US", "H", "1523", "1996-03-05", "other", OTHER),
        ("US", "S1", "701016", "2014-03-18", "design", OTHER),
        # EPO, definitions of kind codes
        ("EP", "A1", "2400812", "2011-12-28", "patent application", APPLICATION),
        ("EP", "A3", "2400812", "2012-12-28", "patent application", OTHER),
        ("EP", "B1", "2400812", "2019-11-27", "patent", GRANT),
        ("WO", "A2", "2010050748", "2010-05-06", "patent application", APPLICATION),
        ("WO", "B1", "2005000001", "2005-05-06", "patent application", OTHER),
        # JPO
        ("JP", "A", "2005123456", "2005-05-12", "patent application", APPLICATION),
        ("JP", "T", "2005500001", "2005-01-06", "patent application", APPLICATION),
        ("JP", "B2", "3000014", "2000-01-17", "patent", GRANT),
        ("JP", "B2", "H0512345", "1993-02-17", "patent application", OTHER),  # kokoku
        ("JP", "U", "3000014", "1994-08-02", "utility model", OTHER),
        # CNIPA, KIPO, TIPO
        ("CN", "B", "102345678", "2014-01-01", "patent", GRANT),
        ("CN", "B", "1012345", "1991-04-10", "patent application", OTHER),
        ("CN", "C", "100520025", "2009-07-29", "patent", GRANT),
        ("CN", "D", "3000001", "1995-07-29", "design", OTHER),
        ("KR", "Y1", "200142084", "1999-06-01", "utility model", OTHER),
        # DPMA leaflet on kind codes
        ("DE", "U1", "202007016308", "2008-02-28", "utility model", OTHER),
        ("DE", "C2", "3546191", "1990-01-01", "patent", GRANT),
        ("DE", "T2", "69812345", "2003-11-27", "patent", OTHER),
        ("DE", "T5", "112004000001", "2006-11-27", "patent application", APPLICATION),
        # CIPO: until 1 October 1989 A is the granted patent
        ("CA", "A", "1234567", "1988-03-29", "patent", GRANT),
        ("CA", "A1", "2744162", "2011-12-24", "patent application", APPLICATION),
        ("GB", "A", "1234567", "1971-02-17", "patent", GRANT),
        ("GB", "A", "2123456", "1984-02-01", "patent application", APPLICATION),
        ("FR", "A3", "2890123", "2007-03-02", "utility model", OTHER),
        ("DK", "T3", "3740998", "2025-10-20", "patent", OTHER),
        ("XX", "Q9", "1", "2000-01-01", "other", OTHER),
        ("EP", "", "1", "2000-01-01", "other", OTHER),
    ],
)  # fmt: skip
def test_kind_code_means_what_its_office_says(
    office: str, code: str, number: str, day: str, record: str, event: str
) -> None:
    """Kind of document and what its day of publication is."""
    meaning = kind_of(office, code, number, parse_days(day))
    assert (meaning.record, meaning.event) == (record, event)


def test_vague_day_across_the_change_is_not_taken_for_the_old_rule() -> None:
    """A Canadian A of 1989 may be either: only a day certainly before October is a grant."""
    assert kind_of("CA", "A", "1", Days.of_year(1989)).event == APPLICATION
    assert kind_of("CA", "A", "1", Days.of_year(1988)).event == GRANT


def test_corrected_print_is_said_to_be_one() -> None:
    """Digits 8 and 9 print again what was printed before."""
    assert correction("EP", "A8") and correction("EP", "B9") and correction("US", "A2")
    assert not correction("EP", "A1") and not correction("US", "B2")
