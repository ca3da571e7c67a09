"""The demo, played once as its user starts it, against the truth planted in it."""

from __future__ import annotations

import filecmp
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl

import duckdb
import pytest

from connectors.registry import CONNECTORS, SOURCE_NAMES
from pipeline.by_number import number_sweeps, with_numbers
from pipeline.demo import KEYS, Asked, demo_files, play_demo, play_sources
from pipeline.judging import Judging
from pipeline.matter import load_matter
from pipeline.plan import make_plan

ROOT = Path(__file__).resolve().parents[1]
FIXTURES = ROOT / "fixtures" / "demo"
TRUTH: list[dict[str, Any]] = json.loads((FIXTURES / "truth.json").read_text(encoding="utf-8"))
TODAY = date(2026, 11, 25)
REGENERATE = "write the script anew: python tests/demo/make_demo.py"


@dataclass(frozen=True)
class Played:
    """The demo after its end: its folder, what it printed, and where its processes would connect."""

    folder: Path
    code: int
    out: str
    err: str
    noted: Path
    environment: dict[str, str]

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        return rows(self.folder, query)

    def command(self, *words: str) -> subprocess.CompletedProcess[str]:
        return antedate(self.environment, *words)


def rows(folder: Path, query: str) -> list[tuple[Any, ...]]:
    """Return what the store of the matter answers."""
    with duckdb.connect(str(folder / "antedate.duckdb"), read_only=True) as con:
        return con.execute(query).fetchall()


def antedate(environment: dict[str, str], *words: str) -> subprocess.CompletedProcess[str]:
    """Run one command in a process of its own."""
    command = [sys.executable, "-m", "pipeline.cli", *words]
    return subprocess.run(
        command, env=environment, cwd=ROOT, capture_output=True, text=True, timeout=240, check=False
    )


@pytest.fixture(scope="module")
def played(demo_played: Any) -> Played:
    """Give the demo that was played once for all tests, as this file asks about it."""
    place, environment, done = demo_played
    return Played(place / "matter", done.returncode, done.stdout, done.stderr, place / "noted", environment)


@pytest.fixture
def copy(played: Played, tmp_path: Path) -> Path:
    """Give a copy of the played matter that a test may change."""
    return Path(shutil.copytree(played.folder, tmp_path / "copy"))


def reference_of(folder: Path, row: dict[str, Any]) -> tuple[str, ...]:
    """Return the ids of the references in which the row's records stand."""
    found = rows(
        folder,
        "SELECT DISTINCT reference_id, source || ':' || native_id, title, source "
        "FROM membership JOIN record USING (record_id)",
    )
    return tuple(
        sorted(
            {
                reference
                for reference, name, title, source in found
                if name in row["records"] or (source == "files" and title in row["titles"])
            }
        )
    )


def name_of(row: dict[str, Any]) -> str:
    """Return the first record of the row, as its name in the list of tests."""
    return str((row["records"] or row["titles"])[0])


@pytest.mark.parametrize("row", TRUTH, ids=name_of)
def test_a_planted_reference_is_one_with_its_versions_and_dates(played: Played, row: dict[str, Any]) -> None:
    """Each planted group is one reference of exactly its records, versions and earliest public days."""
    references = reference_of(played.folder, row)
    assert len(references) == 1
    members = played.rows(
        "SELECT source || ':' || native_id, source, title FROM membership JOIN record USING (record_id) "
        f"WHERE reference_id = '{references[0]}'"
    )
    by_title = [name for name, source, title in members if source == "files" and title in row["titles"]]
    others = [name for name, _, _ in members if name in row["records"] or name not in by_title]
    assert sorted(others) == row["records"]
    assert len(by_title) == len(row["titles"])
    versions, first, last = played.rows(
        "SELECT count(DISTINCT version_id), min(public_from)::VARCHAR, min(public_to)::VARCHAR "
        f"FROM reference JOIN membership USING (reference_id) WHERE reference_id = '{references[0]}'"
    )[0]
    assert (versions, [first, last]) == (row["versions"], row["public"])


@pytest.mark.parametrize("row", TRUTH, ids=name_of)
def test_a_planted_reference_gets_its_verdicts(played: Played, row: dict[str, Any]) -> None:
    """Each office's verdict on each planted reference is the one written down for it."""
    references = reference_of(played.folder, row)
    judged = Judging(load_matter(played.folder), TODAY).judge(played.folder, references)
    assert {each.office: each.words for each in judged[references[0]]} == row["verdicts"]


def test_nothing_unlike_is_one_reference(played: Played) -> None:
    """Outside the planted groups, records share a reference only where they state the same DOI."""
    planted = {reference for row in TRUTH for reference in reference_of(played.folder, row)}
    shared = played.rows(
        "SELECT reference_id, count(DISTINCT record_id), "
        "count(DISTINCT CASE WHEN scheme = 'doi' THEN value END) FROM membership "
        "LEFT JOIN identifier USING (record_id) GROUP BY ALL"
    )
    assert [row for row in shared if row[0] not in planted and row[1] > 1 and row[2] != 1] == []


def test_every_answer_adds_up_and_so_does_the_search_log(played: Played) -> None:
    """Items are records and quarantined ones, and the log's sums are the answers' sums."""
    wrong = played.rows("SELECT * FROM response WHERE items <> records + quarantined")
    torn = "source = 'openalex' AND items = 1 AND records = 0"
    sums = "run_id, source, sweep, sum(items), sum(records), sum(quarantined)"
    answers = played.rows(f"SELECT {sums} FROM response WHERE NOT ({torn}) GROUP BY ALL ORDER BY ALL")
    log = played.rows(f"SELECT {sums} FROM search WHERE requests > 0 GROUP BY ALL ORDER BY ALL")
    assert wrong == []
    assert answers == log
    assert len(played.rows("SELECT 1 FROM response")) >= 50


def test_the_torn_page_is_named_and_asked_for_again(played: Played) -> None:
    """The first run is incomplete and says where; the second asks that sweep alone and is complete."""
    assert [row[0] for row in played.rows("SELECT outcome FROM run ORDER BY run_id")] == [
        "incomplete",
        "complete",
    ]
    failed = played.rows("SELECT source, sweep, reason FROM search WHERE outcome IN ('incomplete', 'failed')")
    assert [row[:2] for row in failed] == [("openalex", "emitter + flushing")]
    assert "not whole JSON" in failed[0][2]
    again = played.rows(
        "SELECT source, sweep FROM search WHERE requests > 0 "
        "AND run_id = (SELECT max(run_id) FROM run) ORDER BY ALL"
    )
    assert again == [("openalex", "emitter + flushing")]
    assert played.code == 0


def test_a_source_that_asks_to_wait_is_waited_for(played: Played) -> None:
    """Crossref's first answer is 429 with a wait of a second; its sweep is complete all the same."""
    rule = next(rule for rule in script_rules() if rule["source"] == "crossref")
    assert (rule["status"], rule["headers"]["Retry-After"], rule["times"]) == (429, "1", 1)
    assert played.rows(
        "SELECT outcome FROM search WHERE source = 'crossref' AND sweep = 'all concepts' AND requests > 0"
    ) == [("complete",)]
    assert played.rows("SELECT DISTINCT status FROM response WHERE source <> 'epo_ops'") == [(200,)]


def test_status_tells_the_verdicts_of_all_references(played: Played) -> None:
    """Office by office the numbers add up to the references."""
    told = played.command("status", str(played.folder)).stdout.split("Verdicts on all references")[1]
    number = len(played.rows("FROM reference"))
    for office in ("US", "EP", "JP"):
        counts = next(line for line in told.splitlines() if line.split()[:1] == [office]).split()[1:]
        assert sum(map(int, counts)) == number


def test_what_has_no_name_is_kept_as_not_understood(played: Played) -> None:
    """The work without a number and the entry without one are quarantined, each with its reason."""
    found = played.rows(
        "SELECT DISTINCT source, reason FROM quarantine q JOIN response r ON r.seq = q.response_seq "
        "WHERE reason NOT LIKE '%not whole JSON%' ORDER BY ALL"
    )
    assert [source for source, _ in found] == ["arxiv", "openalex"]
    assert "not the address of an arXiv paper" in found[0][1]
    assert "no OpenAlex work number" in found[1][1]


def test_the_planted_close_ones_come_first(played: Played) -> None:
    """The best eight are planted, and every close one is among the best twenty."""
    close = [row for row in TRUTH if set(row["records"]) & CLOSE]
    place = dict(played.rows("SELECT reference_id, place FROM score"))
    planted = {reference for row in TRUTH for reference in reference_of(played.folder, row)}
    assert [reference for reference, at in place.items() if at <= 8 and reference not in planted] == []
    assert len(close) == len(CLOSE)
    assert max(place[reference_of(played.folder, row)[0]] for row in close) <= 20


CLOSE = {
    "crossref:10.5555/jawe.2019.0417",  # the spring itself
    "epo_ops:US.2018955123.A1",
    "epo_ops:EP.4955302.A1",
    "crossref:10.5555/jawe.2026.0303",
    "crossref:10.5555/sunachi.2016.12",
    "crossref:10.5555/bse.2022.10.33",
    "crossref:10.5555/idp.44.3.118",
}


def test_nothing_leaves_this_machine(played: Played) -> None:
    """No process of the demo looks up or connects to anything but loopback."""
    assert not played.noted.exists(), played.noted.read_text()


def test_the_first_screen_tells_what_was_done_and_what_to_try(played: Played) -> None:
    """It names every source, how each run ended and why, the best hits, the cautions, the next commands."""
    assert all(name in played.out for name in (*SOURCE_NAMES, "files"))
    assert "Run 1" in played.out
    assert "incomplete" in played.out
    assert "not whole JSON" in played.out
    assert "#8 " in played.out
    assert "not legal advice" in played.out
    assert f"antedate show {played.folder}" in played.out
    assert "Traceback" not in played.err


def test_a_hostile_title_comes_out_as_plain_text(played: Played) -> None:
    """Markup is shown as letters or left out, and no letter that turns the line stays in what is printed."""
    shown = played.command("hits", str(played.folder), "--most", "100")
    assert "Self-cleaning drip emitter" in shown.stdout
    assert not set("\u202e\u202c\x1b") & set(shown.stdout)


def test_a_second_run_the_same_night_sends_nothing_and_finds_nothing(played: Played, copy: Path) -> None:
    """With the sources gone, a further run is complete: all was answered in full today."""
    done = played.command("run", str(copy))
    assert done.returncode == 0, done.stderr
    for table in ("response", "record", "reference", "membership"):
        assert rows(copy, f"SELECT count(*) FROM {table}") == played.rows(f"SELECT count(*) FROM {table}")


def test_rebuild_makes_the_same_tables(played: Played, copy: Path) -> None:
    """What was received and decided is enough to make every table again, row for row."""
    done = played.command("rebuild", str(copy))
    assert done.returncode == 0, done.stderr
    tables = [row[0] for row in played.rows("SELECT table_name FROM duckdb_tables() ORDER BY ALL")]
    different = [
        table
        for table in tables
        if rows(copy, f"SELECT * FROM {table} ORDER BY ALL")
        != played.rows(f"SELECT * FROM {table} ORDER BY ALL")
    ]
    assert different == []


def test_an_earlier_demo_is_gone_on_with(copy: Path) -> None:
    """Played again in its folder, it keeps what the user changed there and asks nothing twice."""
    matter = copy / "matter.toml"
    matter.write_text(matter.read_text() + "# a note of mine\n")
    end = play_demo(copy, lambda: datetime.now(UTC), print)
    assert "# a note of mine" in matter.read_text()
    assert [run.outcome for run in end.runs] == ["complete"]
    assert end.asked == ()


def test_a_source_added_since_an_earlier_demo_stays_off(copy: Path) -> None:
    """A demo's matter without a table for a source gets one that keeps the real service unasked."""
    matter = copy / "matter.toml"
    matter.write_text(matter.read_text().replace("[source.datacite]\non = false\n", ""))
    assert load_matter(copy).sources["datacite"].on
    end = play_demo(copy, lambda: datetime.now(UTC), print)
    assert not load_matter(copy).sources["datacite"].on
    assert [run.outcome for run in end.runs] == ["complete"]


def test_a_folder_that_holds_something_else_is_left_alone(tmp_path: Path) -> None:
    """The demo is not written among other files; the error says what to do."""
    (tmp_path / "letter.txt").write_text("mine")
    done = antedate(dict(os.environ), "demo", str(tmp_path))
    assert done.returncode == 2
    assert "left alone" in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def script_rules() -> list[dict[str, Any]]:
    """Return the rules as the demo reads them."""
    rules: list[dict[str, Any]] = json.loads(demo_files().joinpath("script.json").read_text(encoding="utf-8"))
    return rules


def planned_requests() -> Iterator[Asked]:
    """Yield every first request of the demo matter's plan, as its service sees it, to the sources played."""
    now = datetime(2026, 11, 25, tzinfo=UTC)
    played = {rule["source"] for rule in script_rules()}
    matter = load_matter(FIXTURES)
    plan = make_plan(matter, CONNECTORS, KEYS, {}, now)
    for planned in with_numbers(plan, number_sweeps(matter), {}, now):
        for sweep in planned.sweeps if planned.name in played else ():
            for request in sweep.compiled.requests:
                params = request.params or tuple(parse_qsl(request.body))
                yield Asked(planned.name, request.path, params)


def test_the_script_answers_every_request_of_the_plan() -> None:
    """What the connectors would send for the demo matter is what the script was written for."""
    with play_sources() as (_, script):
        for asked in planned_requests():
            script.answer(asked)
    assert script.unknown == [], REGENERATE


def test_a_request_without_a_rule_is_refused_and_noted() -> None:
    """Changed terms meet a plain refusal, not an answer that looks like 'nothing found'."""
    asked = Asked("crossref", "works", (("query.bibliographic", "umbrella"),))
    with play_sources() as (_, script):
        status, _, body = script.answer(asked)
    assert status == 400
    assert b"no answer for this request" in body
    assert script.unknown == [asked]


def test_the_files_are_what_the_generator_writes(tmp_path: Path) -> None:
    """Written anew from the corpus, every file of the demo is the same, byte for byte."""
    subprocess.run([sys.executable, str(ROOT / "tests/demo/make_demo.py"), str(tmp_path)], check=True)
    names = [str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*") if path.is_file()]
    _, different, missing = filecmp.cmpfiles(FIXTURES, tmp_path, names, shallow=False)
    kept = {
        str(path.relative_to(FIXTURES))
        for path in FIXTURES.rglob("*")
        if path.is_file() and path.parent.name in SOURCE_NAMES
    }
    assert (different, missing, kept - set(names)) == ([], [], set()), REGENERATE
