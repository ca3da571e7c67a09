"""What an office's kind code says about a document (WIPO ST.16, each office in its own way)."""

from __future__ import annotations

import re

APPLICATION, GRANT, UTILITY, DESIGN = "application", "grant", "utility model", "design"
OTHER, UNKNOWN = "other", "unknown"

FIRST_US_GRANT_OF_2001 = 6_167_569  # kinds were printed from 2001-01-02 on
FIRST_CA_APPLICATION = 2_000_000  # below it A is a granted patent (before 1989-10-01)
FIRST_GB_GRANT_OF_1978 = 2_000_000  # the 1977 Act's applications start here

# Longest code first: the first row that starts the kind decides. B1 of one office is not B1
# of another. Sources: patent offices' kind code pages; FR, GB, AU partly from memory.
_LEVELS: dict[str, tuple[tuple[str, str], ...]] = {
    "US": (("A", APPLICATION), ("B", GRANT), ("E", GRANT), ("S", DESIGN), ("P1", APPLICATION),
           ("P4", APPLICATION), ("P9", APPLICATION), ("P", GRANT)),
    "EP": (("A3", OTHER), ("A4", OTHER), ("A", APPLICATION), ("B", GRANT)),
    "WO": (("A3", OTHER), ("A4", OTHER), ("A", APPLICATION)),
    "JP": (("A", APPLICATION), ("T", APPLICATION), ("B", GRANT)),
    "CN": (("A", APPLICATION), ("B", GRANT), ("C", GRANT), ("D", DESIGN)),
    "KR": (("A", APPLICATION), ("B", GRANT)),
    "DE": (("A", APPLICATION), ("B", GRANT), ("C", GRANT)),
    "GB": (("A", APPLICATION), ("B", GRANT), ("C", GRANT)),
    "FR": (("A3", UTILITY), ("A1", APPLICATION), ("A2", APPLICATION), ("B", GRANT)),
    "CA": (("A", APPLICATION), ("C", GRANT), ("E", GRANT)),
    "AU": (("A5", UTILITY), ("A6", UTILITY), ("B4", UTILITY), ("A", APPLICATION), ("B", GRANT), ("C", GRANT)),
    "TW": (("A", APPLICATION), ("B", GRANT), ("D", DESIGN)),
    "IN": (("A", APPLICATION), ("B", GRANT)),
}  # fmt: skip


def kind_level(office: str, kind: str, number: str = "") -> str:
    """Return application, grant, utility model, design, other or unknown.

    number: the digits with their series letters, without office and kind; it decides where
    an office used one code for two things (US A and B1, CA A, GB A, JP and CN B of examined
    applications). 'other' repeats or corrects nothing new by itself: search reports alone,
    translations of a patent granted elsewhere, certificates. A level never tells that a
    right is in force. An office without rows gives 'unknown' but for the letters ST.16
    gives one meaning everywhere (U, Y, Z utility model; S design; T translation).
    """
    code = kind.strip().upper()
    if not re.fullmatch(r"[A-Z]\d?", code):
        return UNKNOWN
    if code[0] in "UYZ":
        return UTILITY
    if code[0] == "S":
        return DESIGN
    if code[0] == "T" and office != "JP":
        return OTHER
    exception = _decided_by_number(office, code, number.upper())
    if exception:
        return exception
    rows = _LEVELS.get(office)
    if rows is None:
        return UNKNOWN
    return next((level for start, level in rows if code.startswith(start)), OTHER)


def _decided_by_number(office: str, code: str, number: str) -> str:
    """Return the level where the number, not the code alone, tells; else ''."""
    serial = int(number) if number.isascii() and number.isdigit() and len(number) < 20 else None
    letter = code[0]
    if office == "US" and code in ("A", "B1", "B2"):
        return _us_level(code, serial)
    if office in ("CA", "GB") and code == "A":
        if serial is None:
            return UNKNOWN
        first = FIRST_CA_APPLICATION if office == "CA" else FIRST_GB_GRANT_OF_1978
        return GRANT if serial < first else APPLICATION
    if office == "JP" and letter == "B" and re.match(r"[MTSHR]\d", number):
        return APPLICATION  # kokoku: printed after examination, before the grant
    if office == "CN" and letter == "B" and serial is not None and len(number) == 7:
        return APPLICATION  # to 1992: printed after examination, before the grant
    return ""


def _us_level(code: str, serial: int | None) -> str:
    if serial is None:
        return UNKNOWN
    if serial >= 10**9:  # a year and a serial: only applications bear one
        return APPLICATION
    if code == "A":
        return GRANT
    return GRANT if serial >= FIRST_US_GRANT_OF_2001 else OTHER  # a reexamination certificate
