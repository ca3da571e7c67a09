"""The offices' verdicts on the matter's references: facts from the store to the law and back."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

import pyarrow as pa

from connectors.days import Days
from pipeline.errors import BadMatter
from pipeline.law.checks import check_ours
from pipeline.law.cutoff import judge
from pipeline.law.facts import BadDates, Disclosure, OurDates, PatentFacts, Priority, PublicEvent, Verdict
from pipeline.matter import Matter, OwnDate
from pipeline.references import hand_dates
from pipeline.store import open_store

OUTCOMES = {
    "prior_art": "counts",
    "earlier_right": "earlier filing",
    "excused_by_grace": "excused by grace",
    "not_prior_art": "after the date",
    "undecided": "undecided",
    "no_rule": "no rule held",
}
# Which verdict stands for a reference whose versions get several: the worst for us.
_WORST = ("prior_art", "undecided", "earlier_right", "excused_by_grace", "not_prior_art", "no_rule")


@dataclass(frozen=True)
class Judged:
    """One office's verdict on a reference, for the elements named ("" is all of them).

    version_id: the version that leads to it.
    """

    office: str
    elements: str
    version_id: str
    verdict: Verdict

    @property
    def words(self) -> str:
        """Return the verdict in a few words."""
        text = OUTCOMES[self.verdict.outcome]
        if self.verdict.outcome == "earlier_right":
            text += f" ({self.verdict.counts_for.replace('+', ' and ')})"
        return text + (f" for {self.elements}" if self.elements else "")


@dataclass(frozen=True)
class Judging:
    """How references are judged: the matter's dates, as of today, or as if filed on a day."""

    matter: Matter
    today: date
    if_filed_on: date | None = None
    # Many references share their facts; each set of facts is judged once.
    _known: dict[object, Verdict] = field(default_factory=dict, repr=False, compare=False)

    @property
    def basis(self) -> str:
        """Return what the verdicts rest on, in a sentence."""
        filed = [
            own for own in self.matter.dates if own.kind in ("filing", "international filing", "first filing")
        ]
        if self.if_filed_on:
            return f"Judged as if filed on {self.if_filed_on}."
        if filed:
            days = ", ".join(f"{own.kind} {own.days.text()} {own.office}".strip() for own in filed)
            return f"Judged against {days}."
        planned = [own.days.text() for own in self.matter.dates if own.kind == "planned filing"]
        on = f"on the planned day {planned[0]}" if planned else "today"
        return f"Nothing is filed yet: judged as if filed {on}. Every day without a filing, more may count."

    def judge(self, folder: Path, references: Iterable[str]) -> dict[str, tuple[Judged, ...]]:
        """Return reference_id -> one verdict per office and group of elements.

        A reference without any public date is undecided. Cost grows with the references.
        Raises BadMatter where the matter's own dates contradict each other or today.
        """
        asked = [
            (office, elements, ours)
            for office in self.matter.offices
            for elements, ours in self._our_dates(office)
        ]
        for _, _, ours in asked:
            self._check_ours(ours)
        versions = read_versions(folder, references, self.matter.inventors)
        return {reference: self._judge_all(found, asked) for reference, found in versions.items()}

    def _check_ours(self, ours: OurDates) -> None:
        try:
            check_ours(ours, self.today)
        except BadDates as error:
            raise BadMatter(f"{self.matter.folder / 'matter.toml'}: {error}") from error

    def _judge_all(
        self, versions: list[tuple[str, Disclosure]], asked: list[tuple[str, str, OurDates]]
    ) -> tuple[Judged, ...]:
        """Return the worst verdict of the versions; among equal ones, that of the earliest public."""
        versions = sorted(versions, key=lambda one: one[1].events[0].days.last or date.max)
        judged = []
        for office, elements, ours in asked:
            each = [
                Judged(office, elements, version, self._verdict(office, elements, disclosure, ours))
                for version, disclosure in versions
            ]
            judged.append(min(each, key=lambda one: _WORST.index(one.verdict.outcome)))
        return tuple(judged)

    def _verdict(self, office: str, elements: str, disclosure: Disclosure, ours: OurDates) -> Verdict:
        # The kinds of document and event are words for an error's text; no rule asks for them.
        event = disclosure.events[0]
        facts = (office, elements, event.days, event.disclosed_by, disclosure.patent)
        try:
            if facts not in self._known:
                self._known[facts] = judge(office, disclosure, ours, self.today)
            return self._known[facts]
        except BadDates as contradiction:
            # What the sources state can't all be true; a person must look.
            reason = f"The dates stated contradict each other: {contradiction}"
            needed = ("the document itself, and its date from the office or the publisher",)
            return Verdict(office, "undecided", "depends", reason, "none", settle_by=needed)

    def _our_dates(self, office: str) -> list[tuple[str, OurDates]]:
        """Return the dates of each group of elements that share their priority at this office."""
        groups: dict[tuple[OwnDate, ...], list[str]] = {}
        first = [own for own in self.matter.dates if own.kind == "first filing" and own.office != office]
        first += [own for own in self.matter.dates if own.kind == "first filing" and own.office == office]
        for letter in self.matter.elements:
            covering = tuple(own for own in first if not own.elements or letter in own.elements)
            groups.setdefault(covering, []).append(letter)
        names = ["" if len(groups) == 1 else " ".join(letters) for letters in groups.values()]
        return [
            (name, self._dates_of(office, covering)) for name, covering in zip(names, groups, strict=True)
        ]

    def _dates_of(self, office: str, first: tuple[OwnDate, ...]) -> OurDates:
        filing = self._day("filing", office) or self._day("international filing", "")
        own = tuple(
            PublicEvent(own.note or "own disclosure", own.days, "inventor")
            for own in self.matter.dates
            if own.kind == "own disclosure"
        )
        priorities = tuple(_priority(self.matter, own) for own in first)
        if self.if_filed_on:
            return OurDates(planned=self.if_filed_on, priorities=priorities, own_disclosures=own)
        planned = None if filing else self._day("planned filing", office)
        return OurDates(filing, planned, priorities, own)

    def _day(self, kind: str, office: str) -> date | None:
        days = [
            exact_day(self.matter, own)
            for own in self.matter.dates
            if own.kind == kind and own.office in ("", office)
        ]
        return min(days, default=None)


def exact_day(matter: Matter, own: OwnDate) -> date:
    """Return the day of a filing. Raises BadMatter where only month or year is written."""
    if not own.days.exact or own.days.first is None:
        raise BadMatter(
            f"{matter.folder / 'matter.toml'}: the {own.kind} of {own.days.text()} needs its full day; "
            "offices count filings by the day. Write it as 2026-03-04."
        )
    return own.days.first


def _priority(matter: Matter, own: OwnDate) -> Priority:
    kind = "provisional" if own.provisional else "foreign"
    return Priority(exact_day(matter, own), own.office, kind, own.priority_valid)


_VERSIONS = """
WITH wanted AS (SELECT m.* FROM membership m JOIN wanted_reference USING (reference_id)),
events AS (
    SELECT w.reference_id, w.version_id, r.source || ' says ' || e.kind AS kind, e.day_from, e.day_to,
           FALSE AS wins, r.seq, e.event
    FROM wanted w JOIN record r USING (record_id) JOIN dated_event e USING (record_id)
    WHERE e.public AND e.stands
    UNION ALL
    SELECT w.reference_id, w.version_id, 'date entered by hand', h.day_from, h.day_to, h.wins, 0, 0
    FROM hand_dates h JOIN wanted w USING (record_id)
), public AS (
    SELECT * FROM events QUALIFY row_number() OVER (PARTITION BY version_id ORDER BY
        wins DESC, day_to NULLS LAST, day_from DESC NULLS LAST, seq, event) = 1
), filed AS (
    SELECT w.version_id, min(e.day_from) AS filed_from, min(e.day_to) AS filed_to
    FROM wanted w JOIN dated_event e USING (record_id)
    WHERE e.kind IN ('filed', 'priority') AND e.stands GROUP BY ALL
), author AS (
    SELECT w.version_id, list(DISTINCT person.name) AS people
    FROM wanted w JOIN record r USING (record_id), UNNEST(r.people) AS p(person)
    WHERE person.role IN ('author', 'inventor') GROUP BY ALL
), number AS (
    SELECT w.version_id, min(left(i.value, 2)) AS office
    FROM wanted w JOIN identifier i USING (record_id) WHERE i.scheme = 'publication' GROUP BY ALL
)
SELECT w.reference_id, w.version_id, min(r.kind) AS record_kind, any_value(p.kind) AS kind,
       any_value(p.day_from) AS day_from, any_value(p.day_to) AS day_to,
       any_value(f.filed_from) AS filed_from, any_value(f.filed_to) AS filed_to,
       any_value(n.office) AS office, any_value(a.people) AS people
FROM wanted w JOIN record r USING (record_id) LEFT JOIN public p USING (version_id)
LEFT JOIN filed f USING (version_id) LEFT JOIN number n USING (version_id)
LEFT JOIN author a USING (version_id)
GROUP BY w.reference_id, w.version_id ORDER BY ALL
"""


def read_versions(
    folder: Path, references: Iterable[str], inventors: tuple[str, ...]
) -> dict[str, list[tuple[str, Disclosure]]]:
    """Return reference_id -> (version_id, what it disclosed and when), each version by itself.

    inventors: ours by name, compared with the people a version names.
    """
    with open_store(folder, read_only=True) as con:
        con.register("wanted_reference", pa.table({"reference_id": pa.array(list(references), pa.string())}))
        con.register("hand_dates", hand_dates(folder))
        done = con.execute(_VERSIONS)
        names = [column[0] for column in done.description or ()]
        rows = [dict(zip(names, row, strict=True)) for row in done.fetchall()]
    found: dict[str, list[tuple[str, Disclosure]]] = {}
    for row in rows:
        disclosure = _disclosure(row, inventors)
        found.setdefault(row["reference_id"], []).append((row["version_id"], disclosure))
    return found


def _disclosure(row: dict[str, Any], inventors: tuple[str, ...]) -> Disclosure:
    public = Days(row["day_from"], row["day_to"])
    named = compare_people(row["people"] or (), inventors)
    patent = None
    if row["office"]:
        filed = Days(row["filed_from"], row["filed_to"]) if row["filed_to"] else None
        sets = {"inventor": "same", "third_party": "different", "unknown": "unknown"}[named]
        patent = PatentFacts(row["office"], effective_filing=filed, published=public, inventors=sets)
    event = PublicEvent(row["kind"] or "no public date stated", public, named)
    return Disclosure(row["record_kind"], (event,), patent)


def compare_people(named: Iterable[str], inventors: Iterable[str]) -> str:
    """Return who disclosed, as far as names tell: inventor, third_party or unknown.

    inventor: everyone named is one of ours. third_party: no family name is, with names
    known on both sides. Anything between needs to be told who contributed what (In re
    Katz; MPEP 2155.01), and a name that only looks alike is no proof: unknown.
    """
    theirs, ours = {_name_key(name) for name in named}, {_name_key(name) for name in inventors}
    if not theirs or not ours:
        return "unknown"
    if theirs <= ours:
        return "inventor"
    families = {family for family, _ in ours}
    return "unknown" if any(family in families for family, _ in theirs) else "third_party"


def _name_key(name: str) -> tuple[str, str]:
    """Return (family name, first initial), whichever way round the name is written."""
    plain = unicodedata.normalize("NFKD", name).casefold()
    family, comma, given = plain.partition(",")
    if not comma:
        *first, family = plain.split() or [""]
        given = " ".join(first)
    letters = [char for char in given if char.isalpha()]
    return "".join(char for char in family if char.isalpha()), letters[0] if letters else ""
