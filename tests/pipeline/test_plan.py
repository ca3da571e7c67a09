"""The plan: what it sends is what it shows; a sweep no source can take is refused before anything is sent."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from connectors.registry import CONNECTORS, SOURCE_NAMES
from pipeline.errors import BadMatter
from pipeline.journal import Answered
from pipeline.matter import Matter, load_matter
from pipeline.plan import PlannedSource, make_plan, request_line

NOW = datetime(2026, 11, 25, 2, tzinfo=UTC)
MATTER = """
contact = "ada@example.org"
[invention]
title = "Emitter"
summary = "A secret summary"
[invention.elements]
A = "a secret element"
[[concept]]
name = "emitter"
terms = ["{term}"]
"""


def matter(folder: Path, term: str) -> Matter:
    """Return a matter of one concept with that term."""
    (folder / "matter.toml").write_text(MATTER.replace("{term}", term), encoding="utf-8")
    return load_matter(folder)


def by_name(plan: tuple[PlannedSource, ...]) -> dict[str, PlannedSource]:
    """Return the plan's sources by name."""
    return {source.name: source for source in plan}


def test_the_invention_is_in_no_request(tmp_path: Path) -> None:
    """Terms go out; summary and elements never do (design: the invention stays home)."""
    plan = make_plan(matter(tmp_path, "drip emitter"), CONNECTORS, {}, {}, NOW)
    sent = [request_line(s.base_url, r) for s in plan for sweep in s.sweeps for r in sweep.compiled.requests]
    assert sent
    assert not [line for line in sent if "secret" in line]


def test_a_source_without_its_key_says_how_to_get_one(tmp_path: Path) -> None:
    """The others are planned all the same."""
    plan = by_name(make_plan(matter(tmp_path, "drip emitter"), CONNECTORS, {"EPO_OPS_KEY": "k"}, {}, NOW))
    assert "EPO_OPS_SECRET" in plan["epo_ops"].skipped
    assert "Register" in plan["epo_ops"].skipped
    assert not plan["openalex"].skipped


def test_a_source_whose_terms_may_forbid_it_is_off_until_turned_on(tmp_path: Path) -> None:
    """The plan says why it is off and how it is turned on; turned on, it is asked."""
    made = matter(tmp_path, "drip emitter")
    skipped = by_name(make_plan(made, CONNECTORS, {}, {}, NOW))["semanticscholar"].skipped
    assert "commercial use" in skipped
    assert "[source.semanticscholar] and on = true" in skipped
    text = (tmp_path / "matter.toml").read_text(encoding="utf-8") + "[source.semanticscholar]\non = true\n"
    (tmp_path / "matter.toml").write_text(text, encoding="utf-8")
    assert not by_name(make_plan(load_matter(tmp_path), CONNECTORS, {}, {}, NOW))["semanticscholar"].skipped


def test_what_was_answered_today_is_not_asked_again(tmp_path: Path) -> None:
    """Within 20 hours of a complete answer a sweep waits; after that it is asked, where possible for news only."""
    made = matter(tmp_path, "drip emitter")
    expression = make_plan(made, CONNECTORS, {}, {}, NOW)[0].sweeps[0].expression
    completed = {(source.SOURCE.name, expression): Answered(NOW, NOW) for source in CONNECTORS}
    soon = by_name(make_plan(made, CONNECTORS, {}, completed, NOW + timedelta(hours=1)))
    answered = {name: source.sweeps[0].skipped for name, source in soon.items()}
    assert not answered.pop("uspto_bulk"), "a file may have been loaded since"
    assert all("answered in full" in skipped for skipped in answered.values())
    later = by_name(make_plan(made, CONNECTORS, {}, completed, NOW + timedelta(hours=24)))
    assert not later["openalex"].sweeps[0].skipped
    assert later["crossref"].sweeps[0].window.added_since == (NOW - timedelta(days=3)).date()


@pytest.mark.parametrize(
    ("whole_at", "news"), [(timedelta(days=29), True), (timedelta(days=31), False), (None, False)]
)
def test_every_30_days_everything_is_asked_for_again(
    tmp_path: Path, whole_at: timedelta | None, news: bool
) -> None:
    """What a service's own record of its news leaves out comes by a whole reading, and so where none is known."""
    made = matter(tmp_path, "drip emitter")
    expression = make_plan(made, CONNECTORS, {}, {}, NOW)[0].sweeps[0].expression
    last = Answered(NOW - timedelta(days=1), whole_at and NOW - whole_at)
    completed = {(source.SOURCE.name, expression): last for source in CONNECTORS}
    plan = make_plan(made, CONNECTORS, {}, completed, NOW)
    able = [source for source in plan if source.connector.SOURCE.added_filter]
    assert able
    assert all(bool(source.sweeps[0].window.added_since) is news for source in able)


def test_an_expression_no_source_can_take_is_refused(tmp_path: Path) -> None:
    """A phrase past the word limit of the only source on: one error with sweep, source and reason."""
    off = "".join(f"[source.{name}]\non = false\n" for name in SOURCE_NAMES if name != "epo_ops")
    (tmp_path / "matter.toml").write_text(MATTER.replace("{term}", "red " * 12) + off, encoding="utf-8")
    made = load_matter(tmp_path)
    with pytest.raises(BadMatter, match=r"sweep 'emitter' fits no source .*epo_ops: .*shorter or fewer"):
        make_plan(made, CONNECTORS, {}, {}, NOW)


def test_a_sentence_is_no_term(tmp_path: Path) -> None:
    """A term longer than any service takes as a phrase is refused with its line."""
    with pytest.raises(
        BadMatter, match=r"line 10: concept\.1\.terms holds a term of 3999 characters.*most is 200"
    ):
        matter(tmp_path, "emitter " * 500)
