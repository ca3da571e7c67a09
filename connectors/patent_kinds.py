"""What a patent office's kind code says about a document (WIPO ST.16 and the offices' own use).

Rules: the kind-code pages of USPTO, EPO, DPMA, CIPO, JPO, CNIPA and KIPO as read in 2026;
rules marked (practice) stand in none of those pages.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from connectors.days import Days


@dataclass(frozen=True)
class Kind:
    """record: the kind of document. event: what its day of publication is. note: a caution, or ""."""

    record: str
    event: str
    note: str = ""


APPLICATION = Kind("patent application", "publication of application")
PATENT = Kind("patent", "publication of grant")
MODEL = Kind("utility model", "published")
DESIGN = Kind("design", "published")
UNKNOWN = Kind("other", "published", "what this kind of document is, is not known")

_CERTIFICATE = Kind("patent", "published", "a certificate after grant: the patent itself is older")
_SEARCH_REPORT = Kind(
    "patent application", "published", "search report or later pages alone: nothing new is disclosed"
)
_TRANSLATION = Kind("patent", "published", "translation: the document it translates is older")
_TRANSLATED_APPLICATION = Kind(
    "patent application", "publication of application", "translation: the document it translates is older"
)
_EXAMINED = Kind("patent application", "published", "examined application printed before grant")
_INVENTION_REGISTRATION = Kind("other", "published", "registration of an invention, not a patent")


def kind_of(office: str, code: str, number: str, day: Days | None) -> Kind:
    """Return what the kind code means at that office for that number and day of publication.

    code: as stated, such as `A1`; "" and codes no rule covers give kind 'other', so that
    nothing is taken for a grant or an application that may be neither. day: None where unknown.
    """
    for offices, pattern, when, kind in _RULES:
        if (not offices or office in offices.split()) and re.fullmatch(pattern, code) and when(number, day):
            return kind
    return UNKNOWN


def _always(_number: str, _day: Days | None) -> bool:
    return True


def _before(year: int, month: int = 1, day_of_month: int = 1) -> Callable[[str, Days | None], bool]:
    """Return a condition: certainly published before that day."""
    limit = (year, month, day_of_month)

    def condition(_number: str, day: Days | None) -> bool:
        return day is not None and day.last is not None and day.last.timetuple()[:3] < limit

    return condition


def _gb_old(number: str, _day: Days | None) -> bool:
    return number.isascii() and number.isdigit() and int(number) < 1_605_224


# The first rule that holds decides. Offices (all where ""), kind code, condition, meaning.
_RULES: tuple[tuple[str, str, Callable[[str, Days | None], bool], Kind], ...] = (
    # US: until 2000 a grant is A and B1, B2 are re-examination certificates.
    ("US", r"A|E1?|P[23]?", _before(2001), PATENT),
    ("US", r"B\d", _before(2001), _CERTIFICATE),
    ("US", r"A|E1?|P[23]", _always, PATENT),
    ("US", r"[CFJKO]\d?", _always, _CERTIFICATE),
    ("US", r"H\d?", _always, _INVENTION_REGISTRATION),
    ("US", r"P[149]", _always, APPLICATION),
    ("EP WO", r"A[34]", _always, _SEARCH_REPORT),
    ("WO", r"B\d", _always, _SEARCH_REPORT),
    ("JP", r"T\d?", _always, _TRANSLATED_APPLICATION),
    ("DE", r"T5", _always, _TRANSLATED_APPLICATION),
    ("DE", r"D1", _always, _TRANSLATION),
    ("JP", r"B\d?", _before(1996, 4), _EXAMINED),  # opposition before grant ended in 1996 (practice)
    ("CN", r"B", _before(1993), _EXAMINED),
    ("CN", r"D", _always, DESIGN),
    ("GB", r"A", _gb_old, PATENT),
    ("CA", r"A", _before(1989, 10), PATENT),
    ("FR", r"A3", _always, MODEL),
    ("", r"A\d?", _always, APPLICATION),
    ("", r"[BC]\d?", _always, PATENT),
    ("", r"[UYZ]\d?", _always, MODEL),
    ("", r"S\d?", _always, DESIGN),
    ("", r"T\d?", _always, _TRANSLATION),
)


def correction(office: str, code: str) -> str:
    """Return the caution for a corrected or repeated print (digits 8 and 9), else ""."""
    again = re.fullmatch(r"[ABCUT][89]", code) or (office, code) == ("US", "A2")
    return "corrected or repeated print: the first print is older" if again else ""
