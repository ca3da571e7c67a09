"""Whether the sweeps found the references known already, and where not, why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import duckdb

from connectors.registry import BY_NAME, BY_NUMBER
from pipeline.by_number import KNOWN, sought
from pipeline.identifiers import Identifier, recognise
from pipeline.matter import KnownReference, Matter
from pipeline.store import open_store
from queries.expression import Document, judge_within
from queries.sweep import Sweep, any_form, sweeps

FOUND, MISSED, NOT_HELD, NOT_ASKED, NO_NUMBER = "found", "missed", "not held", "not asked", "no number"


@dataclass(frozen=True)
class KnownItem:
    """A known reference and what became of it.

    state: found (by a sweep), missed (a source holds it, no sweep brought it), not held (every
    source that was asked for its number lacks it), not asked (none answered yet), no number
    (what is written names no document). lines: where and how, or why, in sentences.
    """

    known: KnownReference
    state: str
    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class _Asked:
    """How a sweep at a source last ended: the last time that it was not skipped, else skipped."""

    outcome: str
    reason: str
    expression: str


_RECORDS = """
SELECT m.reference_id, r.source, r.title, r.abstract, r.claims, list_distinct(d.sweeps) AS sweeps, d.outside,
       coalesce(s.place, 0) AS place,
       (SELECT list((scheme, symbol)) FROM class_code c WHERE c.record_id = r.record_id) AS codes
FROM membership m JOIN record r USING (record_id) LEFT JOIN score s USING (reference_id)
JOIN (SELECT record_id, list(sweep) FILTER (inside) AS sweeps, list(sweep) FILTER (NOT inside) AS outside
      FROM found GROUP BY record_id) d USING (record_id)
WHERE m.reference_id IN (
    SELECT reference_id FROM membership JOIN identifier USING (record_id)
    WHERE (scheme, match_key) IN (SELECT (unnest(?), unnest(?))))
ORDER BY s.place NULLS LAST, r.seq
"""
_ASKED = """
SELECT source, sweep, outcome, reason, expression FROM search
QUALIFY row_number() OVER (PARTITION BY source, sweep ORDER BY outcome = 'skipped', asked_at DESC) = 1
"""


def known_items(matter: Matter) -> list[KnownItem]:
    """Return every known reference of the matter with what became of it, in the order written.

    Nothing is claimed of a source that was not asked or did not answer in full.
    """
    if not matter.known:
        return []
    wanted = sweeps(matter.query_set)
    with open_store(matter.folder, read_only=True) as con:
        asked = {(source, sweep): _Asked(*rest) for source, sweep, *rest in con.execute(_ASKED).fetchall()}
        return [_item(matter, wanted, known, con, asked) for known in matter.known]


def _item(
    matter: Matter,
    wanted: tuple[Sweep, ...],
    known: KnownReference,
    con: duckdb.DuckDBPyConnection,
    asked: Mapping[tuple[str, str], _Asked],
) -> KnownItem:
    numbers = recognise(known.number)
    if not numbers:
        why = "no number, DOI or address is read in it; write one as its office or publisher does"
        return KnownItem(known, NO_NUMBER, "", (why,))
    rows = _rows(con, numbers)
    if not rows:
        return _not_there(known, numbers, asked)
    title = next((row["title"] for row in rows if row["title"]), "")
    names = [sweep.name for sweep in wanted]
    by_sweep = [(row["source"], name) for row in rows for name in names if name in (row["sweeps"] or ())]
    if by_sweep:
        return KnownItem(known, FOUND, title, (_where(rows, by_sweep),))
    if not {row["source"] for row in rows} & BY_NAME.keys():
        nowhere = _not_there(known, numbers, asked)
        return replace(nowhere, title=title, lines=("handed in by you", *nowhere.lines))
    return KnownItem(known, MISSED, title, tuple(_reasons(matter, wanted, rows, asked)))


def _rows(con: duckdb.DuckDBPyConnection, numbers: list[Identifier]) -> list[dict[str, Any]]:
    """Return every record of the references that bear one of the numbers, best place first."""
    done = con.execute(_RECORDS, [[i.scheme for i in numbers], [i.match_key for i in numbers]])
    columns = [column[0] for column in done.description or ()]
    return [dict(zip(columns, row, strict=True)) for row in done.fetchall()]


def _where(rows: list[dict[str, Any]], by_sweep: list[tuple[str, str]]) -> str:
    """Return place, sources and sweeps of a found one."""
    by_source: dict[str, list[str]] = {}
    for source, sweep in by_sweep:
        by_source.setdefault(source, []).append(f"'{sweep}'")
    where = "; ".join(f"{source} in {_some(names)}" for source, names in by_source.items())
    place = rows[0]["place"]
    return f"place {place}: {where}" if place else f"not ranked yet: {where}"


def _some(names: list[str]) -> str:
    """Return the first names, and how many more there are."""
    once = list(dict.fromkeys(names))
    return ", ".join(once[:2]) + (f" and {len(once) - 2} more" if len(once) > 2 else "")


def _not_there(
    known: KnownReference, numbers: list[Identifier], asked: Mapping[tuple[str, str], _Asked]
) -> KnownItem:
    """Return what the look-ups by number say of one that is nowhere in the store."""
    texts = {sought(number.scheme, number.value) for number in numbers}
    able = [name for name, source in BY_NUMBER.items() if source.find(tuple(texts)).requests]
    if not able:
        return KnownItem(known, NOT_ASKED, "", ("no source can be asked by a number of this kind",))
    answered, open_ = [], []
    for name in able:
        ended = asked.get((name, KNOWN))
        if ended is None or not any(each.text in ended.expression for each in texts):
            open_.append(f"{name} has not been asked for it yet: the next run does")
        elif ended.outcome == "complete":
            answered.append(name)
        else:
            open_.append(f"{name} did not answer ({ended.outcome}): {ended.reason}")
    if not answered:
        return KnownItem(known, NOT_ASKED, "", tuple(open_))
    line = f"asked for by number and not held: {', '.join(answered)}"
    return KnownItem(known, NOT_HELD, "", (line, *open_))


# --- held, and not found ---------------------------------------------------------


def _reasons(
    matter: Matter,
    wanted: tuple[Sweep, ...],
    rows: list[dict[str, Any]],
    asked: Mapping[tuple[str, str], _Asked],
) -> list[str]:
    """Return, source by source, why no sweep brought it: no sweep holds for its text, or one does
    and the source's answer was cut, not given, or without it."""
    lines: dict[str, None] = {}
    for row in rows:
        codes = tuple((scheme, symbol) for scheme, symbol in row["codes"] or ())
        document = Document(row["title"], row["abstract"], codes, tuple(row["claims"]))
        judged = {sweep.name: judge_within(sweep.expression, document) for sweep in wanted}
        holding = [name for name, judgement in judged.items() if judgement == "yes"]
        source = row["source"]
        if not holding:
            unsure = "unknown" in judged.values()
            lines[f"held by {source}; {_failing(matter, document, unsure)}"] = None
        elif source in BY_NAME:
            lines |= dict.fromkeys(f"held by {source}; {_cut(source, name, asked)}" for name in holding)
    return list(lines)


def _failing(matter: Matter, document: Document, unsure: bool) -> str:
    """Return which concepts its title and abstract lack, and which exclusion shuts it out."""
    judged = {
        concept.name: judge_within(any_form(concept.terms), document) for concept in matter.query_set.concepts
    }
    barred = [
        term.text
        for term in matter.query_set.exclusions
        if judge_within(any_form((term,)), document) == "yes"
    ]
    lacking = [f"'{name}'" for name, judgement in judged.items() if judgement != "yes"]
    where = "title and abstract" if document.abstract else "its title, and no abstract is stated"
    told = []
    if barred:
        told.append(f"shut out by the exclusion {', '.join(map(repr, barred))}")
    if lacking:
        told.append(f"no term of {', '.join(lacking)} in {where}")
    if not told:
        told.append("no sweep holds for it: its classification symbols are not among those asked for")
    start = "whether a sweep holds for it can't be told" if unsure and not barred else "no sweep matches"
    return f"{start}: {'; '.join(told)}"


def _cut(source: str, sweep: str, asked: Mapping[tuple[str, str], _Asked]) -> str:
    """Return why a sweep that holds for it did not bring it from a source that has it."""
    ended = asked.get((source, sweep))
    if ended is None:
        return f"'{sweep}' matches and has not been put to it yet"
    if ended.outcome != "complete":
        return f"'{sweep}' matches, and its answer was {ended.outcome}: {ended.reason}"
    if ranked := BY_NAME[source].SOURCE.ranked_depth:
        return f"'{sweep}' matches, but it lies beyond the best {ranked:,} that are read of each request"
    return (
        f"'{sweep}' matches, and was answered in full without it: the source searches other text than it"
        " shows, or took the document in since"
    )
