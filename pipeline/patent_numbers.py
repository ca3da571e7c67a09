"""Patent numbers as people, offices and databases write them: read, compared, printed.

A number has three writings: as found, the normal form (office, number, kind as given), and
the match key (office, series, year, serial without leading zeros). A kind is never made up,
and what fits no office's numbering is refused. Rules: WIPO ST.3, ST.6, ST.16 and the
offices' own numbering, row by row in patent_offices.py.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from pipeline.patent_kinds import kind_level as kind_level
from pipeline.patent_offices import OTHER, PCT, Shape, shapes_of
from pipeline.patent_writing import Writing, read_writing

LONGEST = 120  # characters; the longest real writing, with words around it, has about 60
_ERA_YEARS = {"M": 1867, "T": 1911, "S": 1925, "H": 1988, "R": 2018}
_ERA_OF_YEAR = ((1990, "H"), (1926, "S"))
_DAY = re.compile(r"(?:19|20)\d\d-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12]\d|3[01])")
_OF_EP = ("DK", "PL", "PT")  # their T documents bear the EP patent's number


class UnknownNumber(ValueError):
    """The text fits no office's numbering. text: what was read; tried: the forms compared."""

    def __init__(self, text: str, why: str, tried: tuple[str, ...] = ()) -> None:
        """Keep the facts; the message says what was read, what was tried, what to do."""
        super().__init__(text, why, tried)
        self.text = text
        self.why = why
        self.tried = tried

    def __str__(self) -> str:
        """Return one line for the user."""
        shown = self.text if len(self.text) <= 60 else self.text[:59] + "…"
        tried = f" Tried: {'; '.join(self.tried)}." if self.tried else ""
        return f"{shown!r} is not read as a patent number: {self.why}.{tried}"


@dataclass(frozen=True)
class PatentNumber:
    """One publication or application number.

    role: publication or application. office: ST.3 code (of the receiving office where
    series is PCT). series: the office's series where it has several (design, 12 of
    12/942,680, 10 of KR 10-…), else "". year: where it is part of the number, else None.
    serial: without leading zeros where the form sets the width. kind: as given, "" where
    not. check: the check digit an application number came with. notes: what was assumed
    or is worth knowing, each a sentence.
    """

    role: str
    office: str
    series: str
    year: int | None
    serial: str
    kind: str = ""
    part: str = ""
    check: str = ""
    notes: tuple[str, ...] = ()
    shape: Shape = field(default=PCT, repr=False)

    def body(self) -> str:
        """Return the number of the normal form, without office and kind."""
        return self._fill(self.shape.body)

    def normal(self) -> str:
        """Return office, number and kind as given, without separators."""
        front = "PCT" + self.office if self.series == "PCT" else self.office
        return f"{front}{self.body()}{self._shown_kind()}"

    def match_key(self) -> str:
        """Return what is equal for two writings of one number, whatever their kinds.

        One key may stand for several documents (A1 and B1 of an EP number), which their kinds
        tell apart.
        """
        front = "PCT-" + self.office if self.series == "PCT" else self.office
        return f"{front}-{self._fill(self.shape.key)}"

    def docdb(self) -> str:
        """Return country.number.kind as the EPO's DOCDB writes it.

        The kind is left off where it was not given and the number leaves a choice. US and
        international application numbers need their year (`dataclasses.replace(n, year=…)`).
        """
        kind = self._docdb_kind()
        return f"{self.office}.{self._docdb_body()}" + (f".{kind}" if kind else "")

    def epodoc(self) -> str:
        """Return the number as the EPO's epodoc format writes it."""
        if self.series == "PCT":
            return f"WO{self.year}{self.office}{int(self.serial):05d}"
        if self._us_filing() and self.year:
            provisional = "P" if self.part in _PROVISIONAL else ""
            return f"US{self.year}{self._us_series_and_serial()}{provisional}"
        return self.office + self._fill(self.shape.epodoc or self.shape.body)

    def office_form(self) -> str:
        """Return the number as the office prints it, with office code and kind as given."""
        if self.series == "PCT":
            old = (self.year or 0) < 2004
            return f"PCT/{self.office}" + self._fill("{yy}/{n:05d}" if old else "{y}/{n:06d}")
        front = f"{self.office}/EP" if self.translation_of() and self.office == "DK" else self.office
        check = f".{self.check}" if self.check else ""
        kind = f" {self._shown_kind()}" if self._shown_kind() else ""
        return f"{front} {self._fill(self.shape.face or self.shape.body)}{check}{kind}"

    def translation_of(self) -> str:
        """Return the EP patent this document translates, where the number says it, else ''."""
        if self.office in _OF_EP and self.kind.startswith("T") and len(self.serial) == 7:
            return f"EP{self.serial}"
        return ""

    def level(self) -> str:
        """Return what the kind says of this document (see kind_level)."""
        return kind_level(self.office, self.kind, self.body())

    def _shown_kind(self) -> str:
        """Return the kind where it is part of the name: always but for most application numbers."""
        classed = self.shape is OTHER or (self.shape.classed and self._class())
        named = self.role == "publication" or classed
        return self.kind if named else ""

    def _fill(self, template: str) -> str:
        year, n = self.year or 0, int(self.serial)
        era = next((letter for first, letter in _ERA_OF_YEAR if year >= first), "S")
        if self.shape.office == "JP" and self.part:
            era = self.part
        filled = template.format(
            y=year, yy=f"{year % 100:02d}", r=year - 1911, t=self.part, n=n, e=era,
            ey=year - _ERA_YEARS[era], s=self._as_written(), c=self._class(),
            g=_laid_out(self.shape.picture, n) if "{g}" in template else "", k=self._epodoc_kind(),
        )  # fmt: skip
        return filled.lstrip("-")  # a series that was not said leaves its hyphen behind

    def _as_written(self) -> str:
        if self.shape.office == "JP":
            return self.serial.zfill(5 if self.kind[:1] in ("B", "Y") else 6)
        return self.serial

    def _class(self) -> str:
        letter = self.kind[:1]
        if self.shape.classed == "letter":
            return {"": "?", "T": "A"}.get(letter, letter)
        if self.shape.classed == "filing":
            return "" if letter in ("", "A") else f"{letter}-"
        return {"U": "U-", "Y": "U-", "Z": "U-", "S": "S-"}.get(letter, "")

    def _epodoc_kind(self) -> str:
        letter = self._docdb_kind()[:1]
        keeps = letter and (letter in "UYT" or (letter in "BC" and self.office in ("JP", "CN", "TW")))
        return letter if keeps else ""

    def _docdb_kind(self) -> str:
        if self.role == "publication":
            return self.kind or self.shape.implied or ("A" if self._old_us_grant() else "")
        if self.series == "PCT":
            return "W"
        if self._us_filing():
            return "P" if self.part in _PROVISIONAL else (self.kind[:1] or "A")
        return "U" if (self.office, self.part) in _UTILITY_FILINGS else (self.kind[:1] or "A")

    def _docdb_body(self) -> str:
        if self.series == "PCT":
            return self._fill("{yy}{n:05d}" if (self.year or 0) < 2004 else "{y}{n:06d}")
        if self._us_filing() and self.part and self.year:
            old = self._without_series()
            return self._fill("{n}{yy}") if old else f"{self.year}{self._us_series_and_serial()}"
        return self._fill(self.shape.docdb or self.shape.body)

    def _us_filing(self) -> bool:
        return self.office == "US" and self.role == "application" and self.series != "PCT"

    def _us_series_and_serial(self) -> str:
        return self._fill("{n:07d}" if self._without_series() else "{t}{n:06d}")

    def _without_series(self) -> bool:
        return (self.year or 0) < 2011 and (self.part < "13" or self.part in _PROVISIONAL)

    def _old_us_grant(self) -> bool:
        return self.office == "US" and self.series == "patent" and int(self.serial) < 6_167_569


_PROVISIONAL = ("60", "61", "62", "63", "64")
_UTILITY_FILINGS = {("DE", "20"), ("DE", "21"), ("KR", "20"), ("CN", "2")}


def _laid_out(picture: str, n: int) -> str:
    """Return n laid into the picture from the right: # takes a digit or ends it, 0 always stands."""
    digits, out = list(str(n)), []
    for mark in reversed(picture):
        if mark not in "#0":
            out.append(mark)
        elif digits:
            out.append(digits.pop())
        elif mark == "0":
            out.append("0")
        else:
            break
    return "".join(reversed(out)).lstrip(" ,") if picture else str(n)


def parse_publication(text: str) -> PatentNumber:
    """Return the publication number the text is; raise UnknownNumber where it is none."""
    return _parse(text, "publication")


def parse_application(text: str) -> PatentNumber:
    """Return the application number the text is; raise UnknownNumber where it is none.

    Check digits are kept apart; a priority number is an application number.
    """
    return _parse(text, "application")


def _parse(text: str, role: str) -> PatentNumber:
    if len(text) > LONGEST:
        raise UnknownNumber(text[:LONGEST], f"it is longer than {LONGEST} characters")
    writing = read_writing(text)
    if _DAY.fullmatch(writing.hyphened):
        raise UnknownNumber(text, "it reads as a day")
    for office in _offices(text, writing, role):
        for body, note in _readings(writing):
            found = _fit(office, role, body, writing, note)
            if found:
                return found
    raise _refusal(text, writing, role)


def _offices(text: str, writing: Writing, role: str) -> list[str]:
    """Return the offices to try: the one written, or those whose form is unmistakable."""
    if writing.office:
        return [writing.office]
    if role == "publication":
        marked = writing.kind or "," in text or writing.said_patent
        letters = writing.hyphened[:1].isalpha() and not writing.hyphened.startswith("H")
        return ["US"] if marked and letters else []
    if writing.slashed:
        return ["US"]
    return ["CN"] if writing.check and len(writing.compact) == 12 else []


def _readings(writing: Writing) -> Iterator[tuple[str, str]]:
    """Yield the number as written, then with letters O and L read as digits."""
    yield writing.hyphened, ""
    mended = writing.hyphened.translate(str.maketrans("OL", "01"))
    if mended != writing.hyphened:
        yield mended, "letters O or l were read as the digits 0 or 1"


def _fit(office: str, role: str, body: str, writing: Writing, note: str) -> PatentNumber | None:
    if writing.pct or (role == "application" and writing.kind == "W"):
        return _fit_shape(PCT, office, role, body, writing, note) if role == "application" else None
    shapes = shapes_of(office, role)
    if _docdb_us_filing(office, role, writing):
        shapes = tuple(reversed(shapes))
    fallback = (PCT,) if role == "application" and _foreign_filing(office, body) else ()
    for shape in (*shapes, *fallback):
        found = _fit_shape(shape, office, role, body, writing, note)
        if found:
            return found
    return None


def _docdb_us_filing(office: str, role: str, writing: Writing) -> bool:
    """True for US.94268010.A: eight digits with a kind are serial and year, not series and serial."""
    return office == "US" and role == "application" and bool(writing.kind) and not writing.slashed


def _foreign_filing(office: str, body: str) -> bool:
    """True for EP2024/063512, as the EPO's data write PCT filings: the slash tells, or the length."""
    return "-" in body or office in ("EP", "US")


def _fit_shape(
    shape: Shape, office: str, role: str, body: str, writing: Writing, note: str
) -> PatentNumber | None:
    kind = writing.kind
    if (shape.needs_kind and not kind) or (shape.kinds and kind and kind[0] not in shape.kinds):
        return None
    compact = body.replace("-", "")
    for pattern in shape.compiled:
        match = pattern.fullmatch(body) or pattern.fullmatch(compact)
        if match:
            return _made(shape, office, role, match.groupdict(), writing, note)
    return None


def _made(
    shape: Shape, office: str, role: str, groups: dict[str, str], writing: Writing, note: str
) -> PatentNumber:
    part, year = groups.get("t") or "", _year(shape, groups)
    if office == "US" and role == "application" and writing.kind == "P" and year and not part:
        part = _provisional_series(year, int(groups["n"]))
        shape = shapes_of(office, role)[0] if part else shape
    if office == "KR" and not part:
        part = {"A": "10", "U": "20"}.get(writing.kind[:1], "")
    if office == "JP":
        part = groups.get("e") or ""
    serial = groups["n"].replace("-", "")
    keeps_zeros = "{s}" in shape.body and office != "JP"
    return PatentNumber(
        role, office, shape.series.format(t=part), year,
        serial if keeps_zeros else str(int(serial)),
        "" if shape is PCT else writing.kind, part, writing.check,
        tuple(n for n in (note, *writing.notes) if n), shape,
    )  # fmt: skip


def _provisional_series(year: int, serial: int) -> str:
    """Return the series of a US provisional written by serial and year, "" where it can't be told.

    MPEP 503 names 60 and 61. For some months of 2007 and 2008 both were given, 60 near its end
    and 61 from its beginning, so that the serial tells. Other applications restart as well, but
    keep blocks back (national phases), and are not told so.
    """
    if 1995 <= year <= 2006 or (year in (2007, 2008) and serial >= 500_000):
        return "60"
    return "61" if 2007 <= year <= 2010 and serial < 500_000 else ""


def _year(shape: Shape, groups: dict[str, str]) -> int | None:
    if groups.get("y"):
        return int(groups["y"])
    if groups.get("yy"):
        short = int(groups["yy"])
        return short + (1900 if short >= shape.pivot else 2000)
    if groups.get("r"):
        return int(groups["r"]) + 1911
    if groups.get("ey"):
        era_year = int(groups["ey"])
        era = groups.get("e") or ("H" if era_year <= 12 else "S")
        return era_year + _ERA_YEARS[era]
    return None


def _refusal(text: str, writing: Writing, role: str) -> UnknownNumber:
    """Return the error that says what was tried, and the form that came nearest."""
    if not writing.office:
        why = "no office (two letters of WIPO ST.3, such as US, EP, JP) stands before it"
        if writing.stranger:
            why = f"{writing.stranger} is not an office of WIPO ST.3"
        return UnknownNumber(text, why + "; a bare number is not guessed at")
    if writing.pct and role == "publication":
        return UnknownNumber(text, "PCT numbers are application numbers; the publication is WO and a year")
    shapes = shapes_of(writing.office, role)
    if not shapes:
        return UnknownNumber(text, f"{writing.office} gives no {role} numbers to patent documents")
    if shapes == (OTHER,):
        why = f"for {writing.office} only a number with its kind code is believed, as in {OTHER.example}"
        return UnknownNumber(text, why, (OTHER.name,))
    nearest = min(shapes, key=lambda shape: _distance(writing, shape))
    why = f"the nearest form is {writing.office} {nearest.name}, as in {nearest.example}"
    other = "application" if role == "publication" else "publication"
    if any(_fit(writing.office, other, body, writing, "") for body, _ in _readings(writing)):
        why += f"; it would do as {'an application' if other == 'application' else 'a publication'} number"
    return UnknownNumber(text, why, tuple(dict.fromkeys(f"{writing.office} {s.name}" for s in shapes)))


def _distance(writing: Writing, shape: Shape) -> tuple[int, int]:
    """Return how far the writing is from the shape's example: letters first, then length."""
    example = read_writing(shape.example)
    letters = sum(c.isalpha() for c in writing.compact) - sum(c.isalpha() for c in example.compact)
    wrong_kind = bool(writing.kind and shape.kinds and writing.kind[0] not in shape.kinds)
    return abs(letters) + wrong_kind, abs(len(writing.compact) - len(example.compact))
