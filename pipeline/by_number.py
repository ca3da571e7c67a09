"""What is asked for by number: the references known already, and one step along citations.

Each is a sweep of its own kind, with numbers in place of an expression; the harvest, the
search log and the store treat it like any other. What it brings was looked up, so no
expression is held against it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta

import duckdb

from connectors.connector import Compiled, Sought
from connectors.registry import BY_NAME, BY_NUMBER, CONNECTORS, STATES_CITATIONS
from pipeline.decisions import Decisions
from pipeline.identifiers import recognise
from pipeline.journal import Answered
from pipeline.matter import Matter
from pipeline.patent_numbers import UnknownNumber, parse_publication
from pipeline.plan import NumberSweep, PlannedSource, PlannedSweep, make_plan
from pipeline.store import FILE_NAME, open_store
from pipeline.tags import tags_by_reference
from queries.window import ALL_DAYS

KNOWN = "known references"
# How soon the same numbers are asked for again. What cites a document grows every week; what
# it cites does not, but a source may learn of it late.
AGAIN_AFTER = {
    "known": timedelta(days=7),
    "about": timedelta(days=7),
    "cited": timedelta(days=30),
    "citing": timedelta(hours=20),
}
_SCHEMES = ("doi", "arxiv", "pmid", "openalex", "publication")
_KNOWN_SCHEMES = (*_SCHEMES, "pmcid", "application")
_MOST_OF_ONE = 20  # numbers of one reference: a family may have a hundred documents

_NUMBERS = """
SELECT m.reference_id, i.scheme, i.value, r.source
FROM membership m JOIN record r USING (record_id) JOIN identifier i USING (record_id)
WHERE m.reference_id IN (SELECT unnest(?)) AND i.problem = '' AND i.scheme IN (SELECT unnest(?))
ORDER BY r.seq, i.scheme, i.value
"""
_CITED = """
SELECT DISTINCT m.reference_id, c.scheme, c.value
FROM membership m JOIN relation c USING (record_id)
WHERE m.reference_id IN (SELECT unnest(?)) AND c.kind = 'cites' AND c.match_key <> ''
  AND c.scheme IN (SELECT unnest(?))
ORDER BY ALL
"""


def plan_run(
    matter: Matter,
    environment: Mapping[str, str],
    completed: Mapping[tuple[str, str], Answered],
    now: datetime,
) -> tuple[PlannedSource, ...]:
    """Return all that a run started now would send: the sweeps of every source, then those by number.

    As make_plan; raises what it raises, and what opening the store raises.
    """
    plan = make_plan(matter, CONNECTORS, environment, completed, now)
    return with_numbers(plan, number_sweeps(matter), completed, now)


def number_sweeps(matter: Matter) -> tuple[NumberSweep, ...]:
    """Return the sweeps by number that the matter asks for, as the store and the tags stand now.

    The known references first; then, where the chase is on, of each reference tagged
    relevant, newest judgement first: the reference itself at sources that state citations and
    have not stated its own (the next run follows those), what it cites, what cites it.
    """
    known = known_numbers(matter)
    found = [NumberSweep(KNOWN, "known", tuple(known))] if known else []
    if matter.chase.on and (matter.folder / FILE_NAME).exists():
        with open_store(matter.folder, read_only=True) as con:
            found += _chased(matter, con)
    return tuple(found)


def known_numbers(matter: Matter) -> list[Sought]:
    """Return the numbers of the known references that can be asked for, each once."""
    found = [each for known in matter.known for each in recognise(known.number)]
    return list(dict.fromkeys(sought(i.scheme, i.value) for i in found if i.scheme in _KNOWN_SCHEMES))


def sought(scheme: str, value: str) -> Sought:
    """Return the number as sources are asked for it."""
    if scheme != "publication":
        return Sought(scheme, value)
    try:
        number = parse_publication(value)
    except UnknownNumber:
        return Sought(scheme, value)
    return Sought(scheme, value, number.epodoc(), number.docdb() if number.kind else "")


def with_numbers(
    plan: Iterable[PlannedSource],
    wanted: Iterable[NumberSweep],
    completed: Mapping[tuple[str, str], Answered],
    now: datetime,
) -> tuple[PlannedSource, ...]:
    """Return the plan with the sweeps by number at every source that can answer them, last."""
    sweeps = tuple(wanted)
    return tuple(
        replace(source, sweeps=(*source.sweeps, *_planned(source.name, sweeps, completed, now)))
        for source in plan
    )


def _planned(
    source: str,
    sweeps: tuple[NumberSweep, ...],
    completed: Mapping[tuple[str, str], Answered],
    now: datetime,
) -> list[PlannedSweep]:
    planned = []
    for sweep in sweeps:
        compiled = _compiled(source, sweep)
        if not compiled.requests:
            continue
        text = sweep.text
        last = completed.get((source, text))
        # To a corpus on this machine a file may have been added since.
        local = BY_NAME[source].SOURCE.local
        fresh = not local and last is not None and now - last.at < AGAIN_AFTER[sweep.kind]
        skipped = f"asked at {last.at:%Y-%m-%d %H:%M} UTC and answered in full" if last and fresh else ""
        planned.append(PlannedSweep(sweep, text, ALL_DAYS, compiled, skipped))
    return planned


def _compiled(source: str, sweep: NumberSweep) -> Compiled:
    asked = BY_NUMBER.get(source)
    if asked is None:
        return Compiled(())
    if sweep.kind == "about" and (source in sweep.held_by or source not in STATES_CITATIONS):
        return Compiled(())
    compiled = asked.citing(sweep.numbers) if sweep.kind == "citing" else asked.find(sweep.numbers)
    if sweep.kind == "cited":
        compiled = replace(compiled, requests=(*compiled.requests, *asked.cited(sweep.own).requests))
    if sweep.most is None or not compiled.requests:
        return compiled
    return replace(
        compiled, not_expressed=(*compiled.not_expressed, f"Of each, the first {sweep.most:,} are read.")
    )


# --- the chase -------------------------------------------------------------------


def _chased(matter: Matter, con: duckdb.DuckDBPyConnection) -> list[NumberSweep]:
    """Return the sweeps along the citations of the references tagged relevant."""
    references = _relevant(matter, con)[: matter.chase.references]
    asked = [list(references), list(_SCHEMES)]
    own: dict[str, dict[Sought, None]] = {}
    sources: dict[str, set[str]] = {}
    for reference, scheme, value, source in con.execute(_NUMBERS, asked).fetchall():
        own.setdefault(reference, {})[sought(scheme, value)] = None
        sources.setdefault(reference, set()).add(source)
    cited: dict[str, list[Sought]] = {}
    for reference, scheme, value in con.execute(_CITED, asked).fetchall():
        cited.setdefault(reference, []).append(sought(scheme, value))
    sweeps = []
    for reference in references:
        numbers = tuple(own.get(reference, ()))[:_MOST_OF_ONE]
        if numbers:
            held = frozenset(sources[reference])
            sweeps += _steps(matter, reference, numbers, tuple(cited.get(reference, ())), held)
    return sweeps


def _steps(
    matter: Matter,
    reference: str,
    numbers: tuple[Sought, ...],
    cited: tuple[Sought, ...],
    held: frozenset[str],
) -> list[NumberSweep]:
    chase, name = matter.chase, numbers[0].text
    steps = [NumberSweep(f"about {name}", "about", numbers, reference, held_by=held)]
    if chase.back:
        bound = cited[: chase.hits]
        steps.append(NumberSweep(f"cited by {name}", "cited", bound, reference, chase.hits, own=numbers))
    if chase.forward:
        steps.append(NumberSweep(f"citing {name}", "citing", numbers, reference, chase.hits))
    return steps


def _relevant(matter: Matter, con: duckdb.DuckDBPyConnection) -> list[str]:
    """Return the references whose tag in force says relevant, newest judgement first."""
    reference_of = dict(con.execute("SELECT record_id, reference_id FROM membership").fetchall())
    tags = tags_by_reference(Decisions(matter.folder).standing(), reference_of)
    judged = [(made[0].decision.number, name) for name, made in tags.items() if made[0].tag == "relevant"]
    return [name for _, name in sorted(judged, reverse=True)]
