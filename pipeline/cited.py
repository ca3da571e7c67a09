"""The references the user tagged → lines of the cited-reference list, each one document."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa

from connectors.days import Days
from pipeline.cited_checks import FilingDay, checked
from pipeline.cited_reference import (
    FOREIGN,
    OTHER,
    SECTIONS,
    US_APPLICATIONS,
    US_PATENTS,
    CitedReference,
    Name,
    days_text,
)
from pipeline.decisions import Decisions
from pipeline.matter import Matter
from pipeline.patent_kinds import APPLICATION
from pipeline.patent_numbers import PatentNumber, UnknownNumber, parse_publication
from pipeline.patent_offices import ST3
from pipeline.plain_text import safe
from pipeline.references import hand_dates
from pipeline.store import open_store
from pipeline.tags import tags_by_reference

_NAMING = ("publication", "doi", "arxiv", "isbn", "pmid")  # best first
# Offices that publish in English alone; the next publish in English and other languages.
_ENGLISH = ("US", "GB", "AU", "NZ", "IE", "IN", "SG", "ZA", "AP")
_MIXED = ("EP", "WO", "CA", "OA", "IL", "PH", "MY", "HK")

_RECORDS = """
SELECT m.reference_id, m.version_id, r.*, f.main_record
FROM membership m JOIN record r USING (record_id) JOIN wanted USING (reference_id)
LEFT JOIN reference f USING (reference_id) ORDER BY r.seq
"""
_IDENTIFIERS = """
SELECT m.version_id, i.scheme, i.value, i.problem
FROM membership m JOIN record r USING (record_id) JOIN identifier i USING (record_id)
JOIN wanted USING (reference_id) ORDER BY r.seq, i.scheme, i.value
"""
_EVENTS = """
SELECT m.version_id, e.kind, e.day_from, e.day_to, e.public, FALSE AS wins, r.seq, e.event,
       r.source || ': ' || e.kind AS says
FROM membership m JOIN record r USING (record_id) JOIN dated_event e USING (record_id)
JOIN wanted USING (reference_id) WHERE e.stands
UNION ALL
SELECT m.version_id, 'stated by hand', h.day_from, h.day_to, TRUE, h.wins, r.seq, h.decision,
       'entered by hand'
FROM hand_dates h JOIN membership m USING (record_id) JOIN record r USING (record_id)
JOIN wanted USING (reference_id)
ORDER BY ALL
"""
Row = dict[str, Any]


@dataclass
class _Version:
    """All that is stated of one document: rows of its records, identifiers and events."""

    version_id: str
    records: list[Row] = field(default_factory=list)
    identifiers: list[Row] = field(default_factory=list)
    events: list[Row] = field(default_factory=list)

    @property
    def public(self) -> Row | None:
        """Return the public event that proves publication soonest, as the reference's date is chosen."""
        return min((event for event in self.events if event["public"]), key=_soonest, default=None)

    @property
    def order(self) -> tuple[Any, ...]:
        """Return what sorts versions: earliest public first, undated last."""
        event = self.public
        return (event is None, _soonest(event) if event else (), self.records[0]["seq"])

    def values(self, scheme: str) -> tuple[str, ...]:
        """Return the identifiers of the scheme, those in normal form first, longer (with kind) first."""
        rows = [row for row in self.identifiers if row["scheme"] == scheme]
        rows.sort(key=lambda row: (row["problem"] != "", -len(row["value"])))
        return tuple(dict.fromkeys(safe(row["value"], 2000) for row in rows))

    def value(self, scheme: str) -> str:
        """Return the first identifier of the scheme, else ''."""
        return next(iter(self.values(scheme)), "")

    def text(self, column: str) -> str:
        """Return the first record's text that is not empty, fit to be shown."""
        return next((found for row in self.records if (found := safe(row[column]))), "")

    def people(self, role: str) -> tuple[Name, ...]:
        """Return those the first record that names any names in the role, each once."""
        for row in self.records:
            named = [one for one in row["people"] if one["role"] == role and safe(one["name"])]
            if named:
                return tuple(dict.fromkeys(_name(one) for one in named))
        return ()

    def days(self, kind: str) -> Days | None:
        """Return the earliest days of an event of the kind."""
        event = min((event for event in self.events if event["kind"] == kind), key=_soonest, default=None)
        return Days(event["day_from"], event["day_to"]) if event else None

    @property
    def name(self) -> str:
        """Return what names the document: its best number, else its title."""
        return next(filter(None, map(self.value, _NAMING)), "") or self.text("title") or self.version_id

    @property
    def numbered(self) -> bool:
        """True where it can be told by a number or DOI."""
        return any(self.value(scheme) for scheme in _NAMING)

    @property
    def dated(self) -> str:
        """Return its public date in words."""
        event = self.public
        return days_text(Days(event["day_from"], event["day_to"])) if event else "date unknown"


def read_cited(matter: Matter, today: date, tags: tuple[str, ...]) -> tuple[CitedReference, ...]:
    """Return one line for each reference whose tag in force is among the tags.

    Listed is its earliest public version that has a number or DOI, else its earliest; where the
    text compared is another version's, a flag says so. Order: by section, then office and number,
    or first author and title. Raises NotFound where nothing was searched yet.
    """
    with open_store(matter.folder, read_only=True) as con:
        reference_of = dict(con.execute("SELECT record_id, reference_id FROM membership").fetchall())
        standing = tags_by_reference(Decisions(matter.folder).standing(), reference_of)
        wanted = [reference for reference, made in standing.items() if made[0].tag in tags]
        references = _versions(con, matter.folder, wanted)
    lines = [_line(reference, versions) for reference, versions in references.items()]
    return checked(sorted(lines, key=_place), today, _filing_day(matter, today))


def _versions(
    con: duckdb.DuckDBPyConnection, folder: Path, wanted: Iterable[str]
) -> dict[str, list[_Version]]:
    """Return reference_id -> its versions, earliest public first."""
    con.register("wanted", pa.table({"reference_id": pa.array(wanted, pa.string())}))
    con.register("hand_dates", hand_dates(folder))
    versions: dict[str, _Version] = {}
    found: dict[str, list[_Version]] = {}
    for row in _rows(con, _RECORDS):
        if row["version_id"] not in versions:
            versions[row["version_id"]] = _Version(row["version_id"])
            found.setdefault(row["reference_id"], []).append(versions[row["version_id"]])
        versions[row["version_id"]].records.append(row)
    for row in _rows(con, _IDENTIFIERS):
        versions[row["version_id"]].identifiers.append(row)
    for row in _rows(con, _EVENTS):
        versions[row["version_id"]].events.append(row)
    return {reference: sorted(each, key=lambda one: one.order) for reference, each in found.items()}


def _rows(con: duckdb.DuckDBPyConnection, query: str) -> list[Row]:
    done = con.execute(query)
    names = [column[0] for column in done.description or ()]
    return [dict(zip(names, row, strict=True)) for row in done.fetchall()]


def _soonest(event: Row) -> tuple[Any, ...]:
    """Return what sorts events as references.sql does: the least last day, then the narrowest."""
    first, last = event["day_from"], event["day_to"]
    narrow = -first.toordinal() if first else 0
    return (not event["wins"], last is None, last or date.max, narrow, event["seq"], event["event"])


def _line(reference_id: str, versions: Sequence[_Version]) -> CitedReference:
    one = next((version for version in versions if version.numbered), versions[0])
    number, parsed = _number(one)
    section = _section(number, parsed, one)
    office = parsed.office if parsed else (number[:2] if number[:2] in ST3 else "")
    version = one.text("version")
    kind_code = parsed.kind if parsed else ""
    if number and not kind_code and re.fullmatch(r"[A-Z]\d?", version):
        kind_code = version
    event = one.public
    role = {name: one.people(name) for name in ("inventor", "applicant", "author", "editor")}
    return CitedReference(
        reference_id=reference_id,
        section=section,
        kind=one.records[0]["kind"],
        title=one.text("title"),
        number=number,
        office=office,
        printed=_printed(number, parsed),
        kind_code=kind_code,
        application=one.value("application"),
        published=Days(event["day_from"], event["day_to"]) if event else None,
        public_says=event["says"] if event else "",
        filed=one.days("filed"),
        priority=one.days("priority"),
        read=one.days("read"),
        inventors=role["inventor"] or (role["author"] if number else ()),
        applicants=role["applicant"],
        authors=() if number else role["author"] or role["inventor"],
        editors=role["editor"],
        container=one.text("venue"),
        publisher=one.text("publisher"),
        volume=one.text("volume"),
        issue=one.text("issue"),
        pages=one.text("pages"),
        version=version,
        language=one.text("language"),
        doi=one.value("doi"),
        arxiv=one.value("arxiv"),
        issns=one.values("issn"),
        isbns=one.values("isbn"),
        url=_address(one),
        copy="not needed" if section in (US_PATENTS, US_APPLICATIONS) else "to get",
        translation=_translation(office, one.text("language"), bool(number)),
        others=tuple(other.name for other in versions if other is not one),
        flags=tuple(_version_flags(one, versions)),
    )


def _version_flags(one: _Version, versions: Sequence[_Version]) -> Iterable[str]:
    main = next((row["main_record"] for row in one.records), None)
    for other in versions[: versions.index(one)]:
        yield (
            f"an earlier version has neither number nor DOI and is not on a line of its own: "
            f"{other.name}, {other.dated}"
        )
    for other in versions:
        if other is not one and any(row["record_id"] == main for row in other.records):
            yield (
                f"the text compared with the invention is another version's: {other.name}, "
                f"{other.dated}; check that the one listed says the same"
            )
    shown = one.text("version")
    if re.fullmatch(r"v(?:[2-9]|[1-9]\d+)", shown):
        yield (
            f"the source shows {shown}, while the date listed ({one.dated}) may be the first version's; "
            f"check which version holds the text relied on"
        )
    if any(row["retracted"] for version in versions for row in version.records):
        yield "retracted; it stays a disclosure all the same"


def _number(one: _Version) -> tuple[str, PatentNumber | None]:
    number = one.value("publication")
    try:
        return number, parse_publication(number) if number else None
    except UnknownNumber:
        return number, None


def _printed(number: str, parsed: PatentNumber | None) -> str:
    if parsed is None:
        return number
    return parsed.office_form().removeprefix(f"{parsed.office} ").removesuffix(f" {parsed.kind}")


def _section(number: str, parsed: PatentNumber | None, one: _Version) -> str:
    if not number:
        return OTHER
    if not number.upper().startswith("US"):
        return FOREIGN
    by_number = parsed is not None and (parsed.level() == APPLICATION or parsed.series == "application")
    by_record = parsed is None and one.records[0]["kind"] == "patent application"
    return US_APPLICATIONS if by_number or by_record else US_PATENTS


def _translation(office: str, language: str, patent: bool) -> str:
    """Return whether a translation is due. A patent's title may be a translation, so its office tells."""
    if patent and office in _ENGLISH:
        return "not needed"
    if patent and office and office not in _MIXED:
        return "to get"
    word = language.casefold()
    if not word or patent:
        return "check the language"
    return "not needed" if re.match(r"en(?:g|glish)?\b", word) else "to get"


def _address(one: _Version) -> str:
    addresses = [row["url"] for row in one.records] + list(one.values("url"))
    return next((safe(url, 2000) for url in addresses if re.match(r"https?://\S", url, re.IGNORECASE)), "")


def _name(person: Row) -> Name:
    return Name(*(safe(person[part], 500) for part in ("name", "family", "given")))


def _place(line: CitedReference) -> tuple[Any, ...]:
    who = (line.authors or line.inventors or (Name(""),))[0]
    if line.is_patent:
        key: tuple[str, ...] = (line.office, line.number)
    else:
        key = ((who.family or who.text).casefold(), line.title.casefold())
    return (SECTIONS.index(line.section), *key, line.reference_id)


def _filing_day(matter: Matter, today: date) -> FilingDay:
    """Return the day references must precede: earliest filing, else the planned one, else today."""
    for kinds, text in (
        (("first filing", "filing", "international filing"), "the earliest filing date"),
        (("planned filing",), "the planned filing date"),
    ):
        days = [own.days.first for own in matter.dates if own.kind in kinds and own.days.first]
        if days:
            return FilingDay(min(days), text)
    return FilingDay(today, "today, as nothing is filed yet")
