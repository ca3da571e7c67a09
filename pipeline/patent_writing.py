"""The parts of a patent number as written: office, number, kind, check digit; words dropped."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from pipeline.patent_offices import office_code


@dataclass(frozen=True)
class Writing:
    """A number's text, taken apart but not yet understood.

    hyphened: the number in upper case, each separator one hyphen. kind: code behind it or
    said in words. check: the digit after a final stop. stranger: two or three letters in
    the office's place that are none. slashed: a slash stood in the number.
    """

    office: str
    hyphened: str
    kind: str = ""
    check: str = ""
    pct: bool = False
    slashed: bool = False
    said_patent: bool = False
    stranger: str = ""
    notes: tuple[str, ...] = ()

    @property
    def compact(self) -> str:
        """The number without separators."""
        return self.hyphened.replace("-", "")


# Japanese headings of numbers and the kind each stands for; the longer before what it begins with.
_JAPANESE = (("実用新案登録", "U"), ("特許出願", ""), ("再公表", "A1"), ("再表", "A1"), ("特許", "B"),
             ("特開", "A"), ("特表", "T"), ("特公", "B"), ("特願", ""), ("実開", "U"), ("実公", "Y"),
             ("実願", "U"))  # fmt: skip
_ERAS = (("明治", "M"), ("大正", "T"), ("昭和", "S"), ("平成", "H"), ("令和", "R"),
         ("明", "M"), ("大", "T"), ("昭", "S"), ("平", "H"), ("令", "R"))  # fmt: skip
_JAPANESE_REST = re.compile("[第号號公報年]")

_DASHES = dict.fromkeys(map(ord, "‐‑‒–—―−﹣－"), "-")
_UNSEEN = re.compile(
    r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u00ad\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff]"
)
_ASIDE = re.compile(r"\(([^()\d]{0,40})\)")
_WORDS = re.compile(
    r"\b(?:UNITED STATES|PATENTSCHRIFT|PATENTS?|PAT|PUBLICATIONS?|PUBLISHED|PUBL?|APPLICATIONS?|APPLN|APPL?"
    r"|PROVISIONAL|PRIORITY|SERIAL|SER|NUMBERS?|NOS?(?=\.)|NOS?(?= *[\dA-Z]{0,2}\d)|PLANT|DESIGN|REISSUE"
    r"|KOKAI|UTILITY MODEL|DOCUMENT)\b\.?"
)
_ANY_WORD = re.compile(r"[A-Z]{3}|NO")
_US = re.compile(r"^U\.? ?S\.?(?: ?A\.)?(?=[^A-Z]|(?:D|RE|PP|H|T)[^A-Z])")
_PCT = re.compile(r"^PCT[ /-]?([A-Z]{2})[ /-]?(?=\d)")
_NORWAY = re.compile(r"NO(?:[ \d]|\.[\dA-Z]+\.[A-Z])")  # not the word No.
_EPODOC_PCT = re.compile(r"^WO[ .]?(\d{4})([A-Z]{2})(\d{5,6})$")
_LEADING_KIND = re.compile(r"^[ .-]?([ABCTUY]\d?)[ -](?=\D{0,2}\d)")
_TRAILING_KIND = re.compile(r"(?<=[\dX])[ .,-]*([A-WYZ]\d?)$")
_CHECK = re.compile(r"(?<=\d)\.([\dX])$")
_SEPARATORS = re.compile(r"[ ,./·'-]+")


def read_writing(text: str) -> Writing:
    """Return the text's parts. Nothing is judged here but which words and marks are noise.

    NFKC first (full-width digits), then upper case; cost grows with the length.
    """
    plain = text if text.isascii() else unicodedata.normalize("NFKC", text).translate(_DASHES)
    plain = " ".join((plain if plain.isprintable() else _UNSEEN.sub("", plain)).upper().split())
    plain, japanese, spoken_kind = _without_japanese(plain)
    plain, aside = _without_asides(plain)
    said_patent = "PAT" in plain
    wordless = _NORWAY.match(plain) or not _ANY_WORD.search(plain)
    dropped = plain if wordless else _WORDS.sub(" ", plain)
    plain = " ".join(dropped.split()).strip(" .,;:")
    international = _international(plain)
    if international:
        return international
    office, rest, stranger = _office(plain)
    rest, notes = _without_ep(office, rest)
    rest, kind, check = _kind_and_check(rest)
    body = _SEPARATORS.sub("-", rest).strip("-")
    return Writing(
        office=office or japanese or aside,
        hyphened=body if re.fullmatch(r"[A-Z0-9-]*", body) else "",
        kind=kind or spoken_kind,
        check=check,
        slashed="/" in rest,
        said_patent=said_patent,
        stranger=stranger,
        notes=notes,
    )


def _without_japanese(text: str) -> tuple[str, str, str]:
    """Return the text with Japanese headings and eras in Latin, the office, and the kind they say."""
    if text.isascii():
        return text, "", ""
    heading = next(((word, kind) for word, kind in _JAPANESE if word in text), None)
    if heading is None:
        return text, "", ""
    text = text.replace(heading[0], " ", 1)
    for word, letter in _ERAS:
        text = text.replace(word, letter)
    return _JAPANESE_REST.sub(" ", text).strip(), "JP", heading[1]


def _without_asides(text: str) -> tuple[str, str]:
    """Return the text without brackets, and the office a bracket names: (IN), (US application)."""
    office = ""
    if "(" not in text:
        return text, ""
    for inside in _ASIDE.findall(text):
        first = inside.split(" ")[0]
        office = office or office_code(first)
    return _ASIDE.sub(" ", text), office


def _international(text: str) -> Writing | None:
    found = _PCT.match(text)
    if found:
        rest, kind, check = _kind_and_check(text[found.end() :])
        body = _SEPARATORS.sub("-", rest).strip("-")
        return Writing(office_code(found.group(1)), body, kind, check, pct=True, slashed=True)
    found = _EPODOC_PCT.match(text)
    if found and office_code(found.group(2)):
        return Writing(office_code(found.group(2)), f"{found.group(1)}-{found.group(3)}", "", "", pct=True)
    return None


def _office(text: str) -> tuple[str, str, str]:
    """Return office, the rest, and letters that stand where an office would but are none."""
    found = _US.match(text)
    if found:
        return "US", text[found.end() :].strip(" ."), ""
    if text.startswith("ZL"):  # how China marks a granted patent: its application number
        return "CN", text[2:].strip(" ."), ""
    letters = re.match(r"[A-Z]*", text)
    word = letters.group(0) if letters else ""
    if len(word) >= 2 and office_code(word[:2]) and len(word) <= 5:
        return office_code(word[:2]), text[2:].strip(" .:"), ""
    stranger = word if len(word) >= 2 and word not in ("RE", "PP") else ""
    return "", text, stranger


def _without_ep(office: str, rest: str) -> tuple[str, tuple[str, ...]]:
    """Return the rest without the /EP of a national part of an EP patent, and a note of it."""
    if office and rest.startswith("/EP"):
        return rest[3:].strip(" ."), ("national part or translation of the EP patent of that number",)
    return rest, ()


def _kind_and_check(rest: str) -> tuple[str, str, str]:
    kind = check = ""
    leading = _LEADING_KIND.match(rest)
    if leading:
        kind, rest = leading.group(1), rest[leading.end() :]
    trailing = _TRAILING_KIND.search(rest)
    if trailing:
        kind, rest = trailing.group(1), rest[: trailing.start()]
    rest = rest.strip(" .-,")
    final = _CHECK.search(rest)
    if final:
        check, rest = final.group(1), rest[: final.start()]
    return rest, kind, check
