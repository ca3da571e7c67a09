"""Two nights at every source: an old paper that the source adds in between turns up as a new hit."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from connectors.registry import BY_NAME, CONNECTORS
from pipeline.listing import Hit, read_hits
from pipeline.load import load_answers
from pipeline.references import resolve_references

# A corpus on this machine grows by files loaded, and is asked the whole question every night.
SOURCE_NAMES = tuple(each.SOURCE.name for each in CONNECTORS if not each.SOURCE.local)
TOLD_NEWS = tuple(name for name in SOURCE_NAMES if BY_NAME[name].SOURCE.added_filter)
FIRST_NIGHT = datetime(2026, 11, 25, 2, tzinfo=UTC)
LATE = 20_001


def late(document: Any, name: str, night: datetime) -> Any:
    """Return an old paper that the source shows from that night on.

    arXiv dates by submission alone, and moderation has kept a paper from view for 19 days (recorded).
    """
    if name == "arxiv":
        submitted = (night - timedelta(days=19)).date()
        return document(LATE, public=submitted, added=submitted)
    return document(LATE, public=date(1998, 5, 14), added=night.date())


def hits_of(nights: Any) -> dict[str, Hit]:
    """Return the references by title, loaded and resolved as a run does."""
    load_answers(nights.folder)
    resolve_references(nights.folder, "no model")
    return {hit.title.rpartition(" ")[2]: hit for hit in read_hits(nights.folder)}


@pytest.mark.parametrize("name", SOURCE_NAMES)
def test_an_old_paper_added_late_is_a_new_hit(play: Any, library: Any, document: Any, name: str) -> None:
    """The next night finds it, tells it from what was there, and reads only news where the source can tell."""
    service, nights = play(name, library(name))
    first = nights.run(FIRST_NIGHT)
    second_night = FIRST_NIGHT + timedelta(days=1)
    # In the middle of the list, since no source promises where it stands.
    service.documents.insert(2, late(document, name, second_night))
    second = nights.run(second_night)
    assert (first.outcome, second.outcome) == ("complete", "complete")
    source = BY_NAME[name].SOURCE
    whole = source.ranked_depth or len(service.documents)
    looked_up = 1 if source.look_up_again_days else 0
    assert second.items == (1 if source.added_filter else whole + looked_up)
    hits = hits_of(nights)
    assert [hit.first_run for number, hit in hits.items() if number == str(LATE)] == [
        f"{second_night:%Y-%m-%dT%H:%M:%SZ}"
    ]
    assert {hit.first_run for number, hit in hits.items() if number != str(LATE)} == {
        f"{FIRST_NIGHT:%Y-%m-%dT%H:%M:%SZ}"
    }
    assert len(hits) == len(service.documents)  # fmt: skip


def test_a_family_is_looked_up_once_a_week(play: Any, library: Any, document: Any) -> None:
    """A look-up answered within seven days is not sent again, nor one of a sweep that did not end well trusted."""
    service, nights = play("epo_ops", library("epo_ops"))
    service.fault = lambda _at, start, answer: {"status": 503} if start else answer
    broken = nights.run(FIRST_NIGHT)
    assert (broken.outcome, broken.requests) == ("incomplete", 1 + 4)
    service.fault = None
    assert nights.run(FIRST_NIGHT + timedelta(days=1)).requests == 3 + 12
    service.documents.append(late(document, "epo_ops", FIRST_NIGHT + timedelta(days=2)))
    news = nights.run(FIRST_NIGHT + timedelta(days=2))
    assert (news.outcome, news.requests, news.items) == ("complete", 4 + 1, 13 + 1)
    assert nights.run(FIRST_NIGHT + timedelta(days=10)).requests == 4 + 13


@pytest.mark.parametrize("torn", [0, 1])
def test_the_sweeps_of_a_night_share_what_was_looked_up(play: Any, library: Any, torn: int) -> None:
    """A second sweep asks for no family again, unless the first did not end well: one of its may be unreadable."""
    service, nights = play("epo_ops", library("epo_ops"), torn=torn)
    nights.matter += '[codes]\ncpc = ["A01G 25/02"]\n'
    second_sweep = nights.run(FIRST_NIGHT)
    assert (second_sweep.outcome, second_sweep.requests) == ("complete", 3 + 12 * torn)
    assert service.asked[0] == 2


@pytest.mark.parametrize("name", TOLD_NEWS)
def test_a_paper_the_source_does_not_tell_of_as_new_comes_within_30_days(
    play: Any, library: Any, document: Any, name: str
) -> None:
    """A paper shown late under an old day of addition escapes the nightly question and not the monthly one."""
    service, nights = play(name, library(name))
    nights.run(FIRST_NIGHT)
    service.documents.insert(2, document(LATE, public=date(2019, 5, 14), added=date(2020, 1, 1)))
    assert nights.run(FIRST_NIGHT + timedelta(days=1)).items == 0
    assert nights.run(FIRST_NIGHT + timedelta(days=31)).outcome == "complete"
    assert str(LATE) in hits_of(nights)
