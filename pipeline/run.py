"""One run of a matter from plan to digest, under its lock; and making the store again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from pipeline.by_number import plan_run
from pipeline.digest import write_digest
from pipeline.harvest import Desk
from pipeline.journal import Journal, read_journal
from pipeline.load import load_search_log
from pipeline.matter import load_matter
from pipeline.night import Night
from pipeline.plan import PlannedSource
from pipeline.responses import Responses
from pipeline.run_lock import run_lock
from pipeline.store import FILE_NAME, open_store


@dataclass(frozen=True)
class RunEnd:
    """How a run ended: complete, incomplete or failed; digest: the file that tells of it."""

    run_id: str
    outcome: str
    digest: Path


def run_matter(
    folder: Path,
    environment: Mapping[str, str],
    clock: Callable[[], datetime],
    say: Callable[[str], None],
    again: bool = False,
) -> RunEnd:
    """Run the matter: ask, read, resolve, rank, and leave a digest.

    A run cut off earlier the same day is gone on with. again: ask also what was answered
    in full within the last 20 hours. Raises BadMatter, RunInProgress, DiskFull …: nothing
    acknowledged is lost by any of them.
    """
    matter = load_matter(folder)
    with run_lock(folder):
        responses = Responses(folder)
        journal = read_journal(responses, clock())
        if again:
            journal.completed.clear()
            journal.looked_up.clear()
        plan = plan_run(matter, environment, journal.completed, clock())
        run_id = journal.unfinished or f"{clock():%Y-%m-%dT%H:%M:%SZ}"
        desk = Desk(responses, journal, run_id, clock, say)
        _start(desk, journal)
        outcomes = _work(Night(matter, plan, desk, say))
        outcome = run_outcome(outcomes)
        desk.write("run ended", outcome=outcome)
        load_search_log(folder, responses)
        return RunEnd(run_id, outcome, write_digest(matter, run_id))


def rebuild_store(folder: Path, clock: Callable[[], datetime], say: Callable[[str], None]) -> None:
    """Make the database again from responses/, journal.jsonl and decisions.jsonl.

    Vectors are taken over from the old database where it still opens, since they cost
    minutes; the old file is put aside as antedate.duckdb.before-rebuild until the end.
    """
    matter = load_matter(folder)
    with run_lock(folder):
        old, aside = folder / FILE_NAME, folder / f"{FILE_NAME}.before-rebuild"
        if old.exists():
            old.replace(aside)
            (folder / f"{FILE_NAME}.wal").unlink(missing_ok=True)
        responses = Responses(folder)
        desk = Desk(responses, read_journal(responses, clock()), "", clock, say)
        night = Night(matter, (), desk, say)
        night.load()
        _take_over_vectors(folder, aside)
        night.derive()
        aside.unlink(missing_ok=True)


def run_outcome(outcomes: list[str]) -> str:
    """Return complete, incomplete or failed for the outcomes of every sweep and file.

    Skipped ones (switched off, no key, asked today) leave a run complete: the search log
    names them. Failed: something was asked and nothing at all came.
    """
    asked = [outcome for outcome in outcomes if outcome != "skipped"]
    if all(outcome == "complete" for outcome in asked):
        return "complete"
    return "failed" if all(outcome == "failed" for outcome in asked) else "incomplete"


def _start(desk: Desk, journal: Journal) -> None:
    if journal.abandoned:
        desk.responses.journal.append(
            {
                "line": "run ended",
                "run": journal.abandoned,
                "at": desk.clock().isoformat(),
                "outcome": "failed",
            }
        )
    if not journal.unfinished:
        desk.write("run started")


def _work(night: Night) -> list[str]:
    if _nothing_to_ask(night.plan):
        # A second run the same night need not wait for the scheduler to start.
        outcomes = [outcome for source in night.sources for outcome in night.ask(source)]
        outcomes += night.take_in()
        night.load()
        if not _anything_to_derive(night.folder):
            return outcomes
        night.derive()
        return outcomes
    from pipeline.flow import run_flow

    return run_flow(night)


def _nothing_to_ask(plan: tuple[PlannedSource, ...]) -> bool:
    return all(planned.skipped or all(sweep.skipped for sweep in planned.sweeps) for planned in plan)


def _anything_to_derive(folder: Path) -> bool:
    with open_store(folder) as con:
        row = con.execute(
            "SELECT (SELECT count(*) FROM unresolved) "
            "+ (SELECT count(*) FROM reference WHERE reference_id NOT IN (SELECT reference_id FROM score)) "
            "+ (SELECT count(*) FROM score s JOIN reference f USING (reference_id) "
            "JOIN record r ON r.record_id = f.main_record "
            "WHERE s.meaning IS NULL AND trim(r.title || r.abstract) <> '')"
        ).fetchall()
    return bool(row[0][0])


def _take_over_vectors(folder: Path, aside: Path) -> None:
    import duckdb

    if not aside.exists():
        return
    with open_store(folder) as con:
        try:
            with duckdb.connect(str(aside), read_only=True) as old:
                vectors = old.sql("SELECT text_sha256, model, vector FROM embedding").to_arrow_table()
        except duckdb.Error:  # damaged or of another shape: they are made again
            return
        con.register("vectors", vectors)
        con.execute("INSERT INTO embedding SELECT * FROM vectors")
