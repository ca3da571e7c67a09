"""The offices' verdicts on the matter's references: facts from the store to the law and back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa

from connectors.days import Days
from pipeline import cautions
from pipeline.errors import BadMatter
from pipeline.identifiers import recognise
from pipeline.law.alike import AlikeJudge
from pipeline.law.checks import check_ours
from pipeline.law.facts import BadDates, Disclosure, OurDates, PatentFacts, PublicEvent, Verdict
from pipeline.matter import Matter
from pipeline.our_dates import Claimed, basis, our_dates
from pipeline.references import hand_dates
from pipeline.same_names import compare_applicants, compare_people
from pipeline.store import open_store

OUTCOMES = {
    "prior_art": "counts",
    "earlier_right": "earlier filing",
    "excused_by_grace": "excused by grace",
    "not_prior_art": "after the date",
    "undecided": "undecided",
    "no_rule": "no rule held",
}
# The worse for us, the higher; what a verdict leaves open may be as bad as its worst.
_SEVERITY = ("no_rule", "not_prior_art", "excused_by_grace", "earlier_right", "prior_art")


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

    @property
    def presumed(self) -> str:
        """Return in words what the office would start from, "" for nothing."""
        return OUTCOMES.get(self.verdict.presumption, "")


@dataclass(frozen=True)
class Judging:
    """How references are judged: the matter's dates, as of today, or as if filed on a day."""

    matter: Matter
    today: date
    if_filed_on: date | None = None

    @property
    def basis(self) -> str:
        """Return what the verdicts rest on, in sentences."""
        return basis(self.matter, self.if_filed_on)

    def judge(self, folder: Path, references: Iterable[str]) -> dict[str, tuple[Judged, ...]]:
        """Return reference_id -> one verdict per office and group of elements.

        A reference without any public date is undecided. Cost grows with the references.
        Raises BadMatter where the matter's own dates contradict each other or today.
        """
        with open_store(folder, read_only=True) as con:
            return self.judge_in(con, references)

    def judge_in(
        self, con: duckdb.DuckDBPyConnection, references: Iterable[str]
    ) -> dict[str, tuple[Judged, ...]]:
        """As judge, in a store that is open."""
        for claimed in self._asked:
            self._check_ours(claimed.dates)
        versions = versions_in(con, references, self.matter)
        return {reference: self._judge_all(found) for reference, found in versions.items()}

    @cached_property
    def _asked(self) -> tuple[Claimed, ...]:
        return tuple(
            claimed
            for office in self.matter.offices
            for claimed in our_dates(self.matter, office, self.if_filed_on)
        )

    @cached_property
    def _alike(self) -> AlikeJudge:
        """Kept with the judging, so that references that come later share what was judged."""
        return AlikeJudge(((claimed.office, claimed.dates) for claimed in self._asked), self.today)

    def _check_ours(self, ours: OurDates) -> None:
        try:
            check_ours(ours, self.today)
        except BadDates as error:
            raise BadMatter(f"{self.matter.folder / 'matter.toml'}: {error}") from error

    def _judge_all(self, versions: list[tuple[str, Disclosure]]) -> tuple[Judged, ...]:
        """Return the worst verdict of the versions; among equal ones, that of the earliest public."""
        versions = sorted(versions, key=lambda one: one[1].events[0].days.last or date.max)
        each = [(version, self._verdicts(disclosure)) for version, disclosure in versions]
        return tuple(
            _worst([Judged(asked.office, asked.elements, name, found[place]) for name, found in each])
            for place, asked in enumerate(self._asked)
        )

    def _verdicts(self, disclosure: Disclosure) -> tuple[Verdict, ...]:
        try:
            found = self._alike.verdicts(disclosure)
            ours = disclosure.events[0].disclosed_by == "inventor"
            return tuple(map(_with_whose, found)) if ours else found
        except BadDates as contradiction:
            # What the sources state can't all be true; a person must look.
            reason = f"The dates stated contradict each other: {contradiction}"
            needed = ("the document itself, and its date from the office or the publisher",)
            return tuple(
                Verdict(asked.office, "undecided", "depends", reason, "none", settle_by=needed)
                for asked in self._asked
            )


def cautions_of(verdicts: Iterable[Judged]) -> tuple[str, ...]:
    """Return the cautions on facts that only people know, where a verdict may hang on them."""
    may_be = {kind for judged in verdicts for kind in judged.verdict.possible}
    told = (("excused_by_grace", cautions.INVENTORS), ("earlier_right", cautions.OWNERSHIP))
    return tuple(caution for kind, caution in told if kind in may_be)


def _with_whose(verdict: Verdict) -> Verdict:
    """Return the verdict on a disclosure taken as ours, saying on what where that excuses it."""
    if verdict.outcome != "excused_by_grace":
        return verdict
    whose = "It names our inventors and no one else, or is listed as an own disclosure."
    return replace(verdict, reason=f"{verdict.reason} {whose}")


def _worst(versions: list[Judged]) -> Judged:
    """Return the verdict that stands for the reference: what a version leaves open may be its worst.

    The first of equal ones. Where it is open, what another version is sure of is said as well.
    """
    if len(versions) == 1:
        return versions[0]
    worst = max(versions, key=_severity)
    sure = [one for one in versions if one.verdict.outcome == "earlier_right"]
    if worst.verdict.outcome != "undecided" or not sure:
        return worst
    reason = (
        f"{worst.verdict.reason} At the least it counts as {sure[0].words}, by version {sure[0].version_id}."
    )
    return replace(worst, verdict=replace(worst.verdict, reason=reason))


def _severity(judged: Judged) -> tuple[int, bool]:
    """Return how bad a version's verdict may be, and whether it is sure to be."""
    verdict, sure = judged.verdict, judged.verdict.outcome != "undecided"
    worst = verdict.outcome if sure else (*verdict.possible, "prior_art")[0]
    return _SEVERITY.index(worst), sure


_VERSIONS = """
WITH wanted AS (SELECT m.* FROM membership m JOIN wanted_reference USING (reference_id)),
events AS (
    SELECT w.reference_id, w.version_id, r.source || ' says ' || e.kind AS kind, e.day_from, e.day_to,
           FALSE AS wins, r.seq, e.event, e.kind IN ('published online', 'posted') AS on_the_web
    FROM wanted w JOIN record r USING (record_id) JOIN dated_event e USING (record_id)
    WHERE e.public AND e.stands
    UNION ALL
    SELECT w.reference_id, w.version_id, 'date entered by hand', h.day_from, h.day_to, h.wins, 0, 0, FALSE
    FROM hand_dates h JOIN wanted w USING (record_id)
), public AS (
    SELECT * FROM events QUALIFY row_number() OVER (PARTITION BY version_id ORDER BY
        wins DESC, day_to NULLS LAST, day_from DESC NULLS LAST, seq, event) = 1
), filed AS (
    -- Effectively filed: from the earliest it may rely on to its own filing, which is sure.
    SELECT w.version_id, min(e.day_from) AS filed_from, max(e.day_to) FILTER (e.kind = 'filed') AS filed_to
    FROM wanted w JOIN dated_event e USING (record_id)
    WHERE e.kind IN ('filed', 'priority') AND e.stands GROUP BY ALL
), author AS (
    SELECT w.version_id, list(DISTINCT person.name) FILTER (person.role IN ('author', 'inventor')) AS people,
           list(DISTINCT person.name) FILTER (person.role = 'applicant') AS applicants
    FROM wanted w JOIN record r USING (record_id), UNNEST(r.people) AS p(person) GROUP BY ALL
), own AS (
    SELECT w.version_id, min(o.place) AS own
    FROM wanted w JOIN identifier i USING (record_id) JOIN own_number o USING (scheme, match_key) GROUP BY ALL
), number AS (
    SELECT w.version_id, min(left(i.value, 2)) AS office
    FROM wanted w JOIN identifier i USING (record_id) WHERE i.scheme = 'publication' GROUP BY ALL
)
SELECT w.reference_id, w.version_id, min(r.kind) AS record_kind, any_value(p.kind) AS kind,
       any_value(p.on_the_web) AS on_the_web,
       any_value(p.day_from) AS day_from, any_value(p.day_to) AS day_to,
       any_value(f.filed_from) AS filed_from, any_value(f.filed_to) AS filed_to,
       any_value(n.office) AS office, any_value(a.people) AS people,
       any_value(a.applicants) AS applicants, any_value(o.own) AS own
FROM wanted w JOIN record r USING (record_id) LEFT JOIN public p USING (version_id)
LEFT JOIN filed f USING (version_id) LEFT JOIN number n USING (version_id)
LEFT JOIN author a USING (version_id) LEFT JOIN own o USING (version_id)
GROUP BY w.reference_id, w.version_id ORDER BY ALL
"""


def versions_in(
    con: duckdb.DuckDBPyConnection, references: Iterable[str], matter: Matter
) -> dict[str, list[tuple[str, Disclosure]]]:
    """Return reference_id -> (version_id, what it disclosed and when), each version by itself.

    Whose it is: as an own disclosure of the matter says that names its number, else as the
    names of our inventors and applicants tell.
    """
    con.register("wanted_reference", pa.table({"reference_id": pa.array(list(references), pa.string())}))
    con.register("hand_dates", hand_dates(matter.folder))
    con.register("own_number", _own_numbers(matter))
    done = con.execute(_VERSIONS)
    names = [column[0] for column in done.description or ()]
    rows = [dict(zip(names, row, strict=True)) for row in done.fetchall()]
    found: dict[str, list[tuple[str, Disclosure]]] = {}
    for row in rows:
        found.setdefault(row["reference_id"], []).append((row["version_id"], _disclosure(row, matter)))
    return found


def _own_numbers(matter: Matter) -> pa.Table:
    """Return (scheme, match_key, place in matter.dates) of the documents own disclosures stand in."""
    rows = [
        {"scheme": identifier.scheme, "match_key": identifier.match_key, "place": place}
        for place, own in enumerate(matter.dates)
        if own.kind == "own disclosure" and own.number
        for identifier in recognise(own.number)
    ]
    fields = [("scheme", pa.string()), ("match_key", pa.string()), ("place", pa.int32())]
    return pa.Table.from_pylist(rows, pa.schema(fields))


def _disclosure(row: dict[str, Any], matter: Matter) -> Disclosure:
    public = Days(row["day_from"], row["day_to"])
    named = compare_people(row["people"] or (), matter.inventors)
    own = None if row["own"] is None else matter.dates[row["own"]]
    who = named if own is None else "abuse" if own.abuse else "inventor"
    # A talk of ours may have been at an occasion that a narrow exception is for.
    ground = own.ground if own else "unknown" if row["record_kind"] == "conference paper" else "none"
    event = PublicEvent(
        row["kind"] or "no public date stated", public, who, ground=ground, zone_known=not row["on_the_web"]
    )
    return Disclosure(row["record_kind"], (event,), _patent(row, public, named, matter))


def _patent(row: dict[str, Any], public: Days, named: str, matter: Matter) -> PatentFacts | None:
    if not row["office"]:
        return None
    filed = None
    if row["filed_from"] or row["filed_to"]:
        filed = Days(row["filed_from"], row["filed_to"])
    return PatentFacts(
        row["office"],
        effective_filing=filed,
        published=public,
        inventors={"inventor": "same", "third_party": "different", "unknown": "unknown"}[named],
        owner=compare_applicants(row["applicants"] or (), matter.applicants),
    )
