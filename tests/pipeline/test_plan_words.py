"""The plan in words: numbers agree with their nouns, and what is said of a source is what it does."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from connectors.registry import CONNECTORS, SOURCE_NAMES
from pipeline.commands.plan import plan
from pipeline.matter import load_matter
from pipeline.plan import make_plan
from pipeline.plan_words import SourceWords, plan_in_words, terms_in_words, total_in_words

NOW = datetime(2026, 11, 25, 2, tzinfo=UTC)
MATTER = """
exclude = [{ text = "hose", plural = false }]
[invention]
title = "Emitter"
summary = "A summary"
[invention.elements]
A = "an element"
[codes]
cpc = ["A01G 25/02"]
[[concept]]
name = "emitter"
terms = [{ text = "dripper", plural = false }]
[[concept]]
name = "valve"
terms = [{ text = "valve", plural = false }]
"""
KEYS = {"EPO_OPS_KEY": "k", "EPO_OPS_SECRET": "s", "USPTO_ODP_KEY": "k"}


@pytest.fixture
def words(tmp_path: Path) -> dict[str, SourceWords]:
    """Give each source's words for a matter of two concepts and a symbol."""
    (tmp_path / "matter.toml").write_text(MATTER, encoding="utf-8")
    sources = plan_in_words(make_plan(load_matter(tmp_path), CONNECTORS, KEYS, {}, NOW))
    return {source.name: source for source in sources}


@pytest.mark.parametrize(
    ("source", "about"),
    [
        ("openalex", "1 request; 100 answers a page, read to the end; at most one a second"),
        ("crossref", "1 request; the best 200 answers of each are read; at most one a second"),
        (
            "arxiv",
            "3 requests; 100 answers a page; where more than 30,000 match, asked again in shorter spans of days;"
            " at most one every 3 s",
        ),
        ("openverse", "1 request; 20 answers a page, the first 400 of each are read; at most one every 3 s"),
        ("wikimedia", "1 request; 50 answers a page, the first 10,000 of each are read; at most one a second"),
    ],
)  # fmt: skip
def test_how_a_source_is_asked(words: dict[str, SourceWords], source: str, about: str) -> None:
    """One request is no requests, and only a source that cuts its windows is said to."""
    assert words[source].about == about


def test_a_source_that_is_asked_nothing_says_so(tmp_path: Path) -> None:
    """Neither 0 requests nor a pace stands where every sweep is skipped."""
    (tmp_path / "matter.toml").write_text(MATTER, encoding="utf-8")
    planned = make_plan(load_matter(tmp_path), CONNECTORS, KEYS, {}, NOW)[0]
    done = replace(planned, sweeps=tuple(replace(each, skipped="asked today") for each in planned.sweeps))
    assert [source.about for source in plan_in_words([done])] == ["nothing now"]
    assert total_in_words(plan_in_words([done])) == "Nothing is asked."


def test_the_total_agrees_with_its_noun(words: dict[str, SourceWords]) -> None:
    """One first request may be followed; several may each be."""
    one, more = total_in_words([words["openalex"]]), total_in_words(words.values())
    assert one == "1 first request in all; it may be followed by further pages of the same question."
    assert more.startswith(
        f"{sum(source.count for source in words.values())} first requests in all; each may be"
    )


def test_every_key_is_told_as_sent(words: dict[str, SourceWords]) -> None:
    """The line stands by itself, whether or not something else goes with each request."""
    assert words["epo_ops"].sent_with == (
        "sent with each: your key from EPO_OPS_KEY and EPO_OPS_SECRET, which is never written down",
    )


def test_terms_without_other_forms_say_so(tmp_path: Path) -> None:
    """An exclusion as much as a term."""
    (tmp_path / "matter.toml").write_text(MATTER, encoding="utf-8")
    assert {forms for _, _, forms in terms_in_words(load_matter(tmp_path))} == {"as written only"}


def test_what_is_printed_reads_well(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No sign stands beside a full stop, no line ends in a blank, and nothing not sent is said to be left out."""
    off = "".join(
        f"[source.{name}]\non = false\n" for name in SOURCE_NAMES if name not in ("openalex", "uspto_bulk")
    )
    (tmp_path / "matter.toml").write_text(MATTER + off, encoding="utf-8")
    assert plan(Namespace(matter=tmp_path, again=True)) == 0
    printed = capsys.readouterr().out
    assert "not sent: OpenAlex can't search for CPC" in printed
    assert not [line for line in printed.splitlines() if line != line.rstrip() or ".;" in line]
    assert "left out of what is sent" not in printed
    assert "USPTO bulk full text, in your own corpus (uspto_bulk)\n" in printed
