"""Tags stay on the records they were made on: through nights, changes, merges, splits and a rebuild."""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from connectors.connector import Page, Request
from pipeline.cli import main
from pipeline.deciding import decide, members
from pipeline.decisions import CATEGORIES, TAGS, Decisions
from pipeline.listing import read_hits
from pipeline.load import load_answers
from pipeline.normalise import record_id
from pipeline.references import resolve_references
from pipeline.responses import Responses
from pipeline.store import open_store
from tests.pipeline.test_references import MODEL, changed, embed, keep, withdraw, works

NOW = datetime(2026, 11, 25, tzinfo=UTC)
Shown = tuple[int, str, str, tuple[str, ...], str]


@dataclass
class Judged:
    """What the test decided, kept beside the program: number -> the tag as written and its records.

    seen: how often a tagged reference was met that had merged, split or held two different tags.
    """

    made: int = 0
    tags: dict[int, tuple[Shown, tuple[str, ...]]] = field(default_factory=dict)
    undone: set[int] = field(default_factory=set)
    seen: Counter[str] = field(default_factory=Counter)

    def tag(self, folder: Path, rng: random.Random) -> None:
        """Judge a reference as it stands now, as the command and the page do."""
        with open_store(folder, read_only=True) as con:
            rows = con.execute("SELECT reference_id FROM reference ORDER BY 1").fetchall()
            if not rows:
                return
            records = members(con, rng.choice(rows)[0])
        self.made += 1
        words, letters = rng.choice(TAGS), tuple(rng.sample("ABC", rng.randint(0, 3)))
        shown = (self.made, words, f"note {self.made}", letters, rng.choice(("", *CATEGORIES)))
        facts = {"tag": words, "note": shown[2], "elements": letters, "category": shown[4]}
        decide(folder, "tag", records, facts, "ada")
        self.tags[self.made] = (shown, records)

    def rule(self, folder: Path, rng: random.Random, ids: list[str]) -> None:
        """Join two tagged references, part a tagged one, or rule on any two."""
        tagged = [records for _, records in self.tags.values()]
        pair = rng.sample(ids, 2)
        same = rng.random() < 0.5
        if len(tagged) > 1 and same:
            pair = [rng.choice(records) for records in rng.sample(tagged, 2)]
        elif wide := [records for records in tagged if len(records) > 1]:
            pair = rng.sample(rng.choice(wide), 2)
        if pair[0] != pair[1]:
            self.made += 1
            decide(folder, "ruling", (pair[0], pair[1]), {"same": same}, "ada")

    def undo(self, folder: Path, rng: random.Random) -> None:
        """Take back one decision, a tag or a ruling."""
        standing = [decision.number for decision in Decisions(folder).standing()]
        if standing:
            number = rng.choice(standing)
            self.made += 1
            self.undone.add(number)
            decide(folder, "undo", (), {"undoes": number}, "ada")


def shown_tags(folder: Path) -> dict[str, list[Shown]]:
    """Return reference_id -> its tags as the list shows them, the one in force first."""
    return {
        hit.reference_id: [(t.decision.number, t.tag, t.note, t.elements, t.category) for t in hit.tags]
        for hit in read_hits(folder)
    }


def held(folder: Path) -> dict[str, str]:
    """Return record_id -> reference_id; every record that is inside has one."""
    with open_store(folder, read_only=True) as con:
        found = dict(con.execute("SELECT record_id, reference_id FROM membership").fetchall())
        inside = con.execute("SELECT DISTINCT record_id FROM found WHERE inside").fetchall()
    assert found.keys() == {row[0] for row in inside}
    return found


def tags_stand(folder: Path, judged: Judged) -> None:
    """Each reference shows the standing tags made on records it holds, latest first, and no other."""
    holder, shown = held(folder), shown_tags(folder)
    expected: dict[str, list[Shown]] = {reference: [] for reference in holder.values()}
    for number in sorted(judged.tags.keys() - judged.undone, reverse=True):
        tag, records = judged.tags[number]
        on = {holder[record] for record in records if record in holder}
        for reference in on:
            expected[reference].append(tag)
        judged.seen["split"] += len(on) > 1
    assert shown == expected
    judged.seen["merged"] += sum(len(tags) > 1 for tags in shown.values())
    judged.seen["conflict"] += sum(len({tag[1] for tag in tags}) > 1 for tags in shown.values())


def one_matter(seed: int, folders: tuple[Path, Path]) -> Counter[str]:
    """Live through some nights in the first folder, tags and rulings between them; the second folder
    gets the same records and is worked out once, at the end."""
    rng = random.Random(seed)  # noqa: S311 - planted examples
    nightly, whole = folders
    left, known, judged = works(rng, 12), [], Judged()
    before = b""
    for night in range(1, 5):
        size = rng.randint(2, 9)
        brought = left[:size] + [changed(record, rng) for record in known if rng.random() < 0.1]
        left, known = left[size:], known + left[:size]
        ids = [record_id(record.source, record.native_id) for record in known]
        for folder in folders:
            keep(folder, night, brought)
        resolve_references(nightly, MODEL)
        tags_stand(nightly, judged)
        for _ in range(rng.randint(1, 3)):
            judged.tag(nightly, rng)
        for _ in range(rng.randint(0, 2)):
            judged.rule(nightly, rng, ids)
        if rng.random() < 0.5:
            judged.undo(nightly, rng)
        withdraw(folders, rng, ids)
        if rng.random() < 0.3:
            for folder in folders:
                embed(folder, [key for key in ids if rng.random() < 0.5])
        resolve_references(nightly, MODEL)
        tags_stand(nightly, judged)
        after = (nightly / "decisions.jsonl").read_bytes()
        assert after.startswith(before) and after.count(b"\n") == judged.made
        before = after
    (whole / "decisions.jsonl").write_bytes(before)
    resolve_references(whole, MODEL)
    assert shown_tags(whole) == shown_tags(nightly)
    return judged.seen


def test_no_tag_is_lost_or_moved_whatever_comes(tmp_path: Path) -> None:
    """After every step each tag, note and letter shows on the reference that now holds its records, on
    no other, all of them where references merged, on each part where one split; one run over all the
    records gives the same. The examples do merge, split and bring different tags together."""
    seen: Counter[str] = Counter()
    for seed in range(3):
        folders = (tmp_path / f"{seed} nightly", tmp_path / f"{seed} whole")
        for folder in folders:
            folder.mkdir()
        seen += one_matter(seed, folders)
    assert min(seen[what] for what in ("merged", "split", "conflict")) >= 5, seen


# --- by the commands, from raw answers, and rebuilt ----------------------------------------

MATTER = """
[invention]
title = "Emitter"
summary = "A self-flushing emitter for drip lines."
[invention.elements]
A = "an emitter"
B = "a spring"
[[concept]]
name = "emitter"
terms = ["emitter"]
"""
WORKS = (
    ("a", "Self-flushing emitters driven by shape-memory springs", "10.5555/a"),
    ("b", "Membranes of clay in drip irrigation lines", "10.5555/b"),
    ("c", "Solar pumps feeding drippers in dry valleys", "10.5555/c"),
)


def hand_in(folder: Path, names: Iterable[str]) -> None:
    """Put one handed-in file's answer where a run keeps it: body and journal line."""
    items = [
        {"id": name, "type": "article-journal", "title": title, "DOI": doi,
         "author": [{"family": "Quill", "given": "Ada"}], "issued": {"date-parts": [[2019]]}}
        for name, title, doi in WORKS if name in names
    ]  # fmt: skip
    body = json.dumps(items).encode()
    page = Page(Request("files", f"{'-'.join(names)}.json", step="file"), 200, {}, body, date(2026, 11, 25))
    Responses(folder).keep(page, "run", f"handed in {'-'.join(names)}", NOW)


@pytest.fixture
def handed(tmp_path: Path) -> Path:
    """Give a matter with three works from raw answers, each a reference."""
    (tmp_path / "matter.toml").write_text(MATTER, encoding="utf-8")
    for names in ("ab", "c"):
        hand_in(tmp_path, names)
    load_answers(tmp_path)
    assert resolve_references(tmp_path, "") == 3
    return tmp_path


def words(folder: Path) -> dict[str, list[tuple[str, str]]]:
    """Return title's first word -> (tag, note) of its reference's tags."""
    return {hit.title.split()[0]: [(tag.tag, tag.note) for tag in hit.tags] for hit in read_hits(folder)}


def call(capsys: pytest.CaptureFixture[str], *said: Any) -> str:
    """Run a command, which must succeed; return what it printed."""
    assert main([str(word) for word in said]) == 0
    return capsys.readouterr().out


def test_two_tags_that_meet_are_both_shown_and_part_again(
    handed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two references judged differently and then ruled the same: the latest tag is in force, both are
    listed with their notes; the ruling taken back, each has its own again."""
    call(capsys, "tag", handed, "10.5555/a", "relevant", "--note", "springs", "--elements", "B")
    call(capsys, "tag", handed, "10.5555/b", "not relevant", "--note", "clay")
    apart = {"Self-flushing": [("relevant", "springs")], "Membranes": [("not relevant", "clay")], "Solar": []}
    assert words(handed) == apart
    call(capsys, "same", handed, "10.5555/a", "10.5555/b")
    both = [("not relevant", "clay"), ("relevant", "springs")]
    assert words(handed) == {"Self-flushing": both, "Solar": []}
    printed = call(capsys, "show", handed, "10.5555/a").split("Judged")[1]
    assert printed.index("not relevant clay") < printed.index("relevant B springs")
    call(capsys, "undo", handed)
    assert words(handed) == apart


def test_a_rebuild_shows_every_tag_where_it_was(handed: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The database lost and made again from raw answers and decisions, by the command itself: tags that
    merged, one that split and one taken back stand as before."""
    call(capsys, "same", handed, "10.5555/a", "10.5555/b")
    call(capsys, "tag", handed, "10.5555/a", "relevant", "--note", "both at once", "--elements", "A")
    with open_store(handed, read_only=True) as con:
        parts = con.execute("SELECT record_id FROM record ORDER BY seq LIMIT 2").fetchall()
    call(capsys, "different", handed, *(part[0] for part in parts))  # the tag is now on each part
    call(capsys, "tag", handed, "10.5555/c", "undecided", "--note", "pumps")
    call(capsys, "same", handed, "10.5555/b", "10.5555/c")
    call(capsys, "tag", handed, "10.5555/a", "not relevant", "--note", "taken back")
    call(capsys, "undo", handed)
    before = shown_tags(handed)
    assert words(handed) == {
        "Self-flushing": [("relevant", "both at once")],
        "Membranes": [("undecided", "pumps"), ("relevant", "both at once")],
    }
    (handed / "antedate.duckdb").unlink()
    call(capsys, "rebuild", handed)
    assert shown_tags(handed) == before
