"""US and foreign numbers as the bulk files write them → as records write them."""

from __future__ import annotations

import re

from connectors.uspto_facts import Number

_SERIES = re.compile(r"(D|PP|RE|H|T|AI|X)?0*(\d+)")
_PCT = re.compile(r"PCT\s*/?\s*([A-Z]{2})\s*(\d{2,4})\s*/\s*(\d{4,6})")
_KIND = re.compile(r"[A-Z]\d?")


def plain_number(text: str) -> str:
    """Return a US publication number without the zeros that pad it: D701016 for D0701016."""
    found = _SERIES.fullmatch(text.strip().upper().replace(",", "").replace("/", ""))
    return f"{found[1] or ''}{found[2]}" if found else ""


def publication_text(number: Number) -> str:
    """Return a publication number with office and kind, `US D701016 S1`; "" where it can't be told.

    An international publication's kind of one letter ("A ") says too little and is left out.
    """
    country, text = number.country, number.number.strip()
    if country and text.upper().startswith(country):
        text = text[len(country) :].strip()
    if country == "US":
        text = plain_number(text)
    if not (country and text):
        return ""
    kind = number.kind if _KIND.fullmatch(number.kind) else ""
    return " ".join(filter(None, (country, text, "" if country == "WO" and len(kind) < 2 else kind)))


def application_text(number: Number) -> str:
    """Return an application number with its office, `JP 2016-128835` or `PCT/IB2019/057948`."""
    international = _PCT.search(number.number.upper())
    if international:
        return f"PCT/{international[1]}{international[2]}/{international[3]}"
    text = " ".join(number.number.split())
    return f"{number.country} {text}" if number.country and text else ""


def packed_ipc(text: str) -> str:
    """Return `H03M 13/00` for "H03M 1300", "B60R  900" or "G06F017/60"; "" for what is written otherwise.

    Four places for the subclass, three for the main group, the rest for the subgroup.
    """
    plain = re.fullmatch(r"\s*([A-H]\d{2}[A-Z])\s*0*(\d{1,4})/(\d{2,6})\s*", text)
    if plain:
        return f"{plain[1]} {plain[2]}/{plain[3]}"
    packed = re.fullmatch(r"([A-H]\d{2}[A-Z])([ \d]{2}\d)(\d{2,6})\s*", text)
    return f"{packed[1]} {int(packed[2])}/{packed[3]}" if packed else ""


def unpacked(symbol: str) -> str:
    """Return a US class as people write it: 2502019 is 250/201.9, "D 1101" is D1/101."""
    head, sub, rest = symbol[:3].replace(" ", ""), symbol[3:6].strip(), symbol[6:].strip()
    if not head or not sub:
        return symbol.strip()
    return f"{head.lstrip('0') or '0'}/{sub}" + (f".{rest}" if rest[:1].isdigit() else rest)
