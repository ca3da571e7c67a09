"""Many disclosures judged at once: those that no rule can tell apart get one verdict, in their own words.

A rule sees a day only by the bands that the thresholds of our dates cut time into, and by
whether it is a threshold itself. So disclosures in the same bands, with the same other facts,
lead to the same verdict; only the words for the day differ.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta

from connectors.days import Days
from pipeline.law.critical import critical_dates
from pipeline.law.cutoff import at_last_day, edges, judge, possible_days
from pipeline.law.earlier_rights import NAMES_ALL_FROM
from pipeline.law.facts import Disclosure, OurDates, PatentFacts, PublicEvent, Verdict
from pipeline.law.questions import explore

_WHEN = "\0when\0"


class AlikeJudge:
    """Judges disclosures against each (office, our dates) asked. today: the day of asking."""

    def __init__(self, asked: Iterable[tuple[str, OurDates]], today: date) -> None:
        """Find the thresholds of all that is asked."""
        self._asked = tuple(asked)
        self._today = today
        days = {day for office, ours in self._asked for day in thresholds(office, ours, today)}
        self._edges = tuple(sorted(days))
        self._patterns: dict[object, tuple[Verdict, ...]] = {}
        self._worded: dict[object, tuple[Verdict, ...]] = {}

    def verdicts(self, disclosure: Disclosure) -> tuple[Verdict, ...]:
        """Return what `judge` says for each that is asked, in that order.

        Raises BadDates as it does. Cost grows with the patterns, not with the disclosures.
        """
        if len(disclosure.events) != 1 or not self._may_be_alike(disclosure):
            return self._judged(disclosure)
        (event,) = disclosure.events
        pattern = (self._event(event), self._patent(disclosure.patent), disclosure.repeats_own)
        worded = (pattern, event.when)
        if worded not in self._worded:
            if pattern not in self._patterns:
                unworded = replace(disclosure, events=(replace(event, said=_WHEN),))
                self._patterns[pattern] = self._judged(unworded)
            self._worded[worded] = tuple(
                replace(verdict, reason=verdict.reason.replace(_WHEN, event.when))
                for verdict in self._patterns[pattern]
            )
        return self._worded[worded]

    def _judged(self, disclosure: Disclosure) -> tuple[Verdict, ...]:
        return tuple(judge(office, disclosure, ours, self._today) for office, ours in self._asked)

    def _may_be_alike(self, disclosure: Disclosure) -> bool:
        """Return False for dates that contradict each other: what is wrong is said of each by itself."""
        patent = disclosure.patent
        stated = [disclosure.events[0].days]
        if patent:
            stated += [
                days for days in (patent.effective_filing, patent.published, patent.filed_there) if days
            ]
            filed, published = patent.effective_filing, patent.published
            if filed and published and filed.first and published.last and published.last < filed.first:
                return False
        return not any(days.first and days.first > self._today for days in stated)

    def _event(self, event: PublicEvent) -> tuple[object, ...]:
        days = event.days
        return (
            self._bands(days), self._bands(possible_days(event, self._today)), event.zone_known,
            days.exact and days.first in self._edges, at_last_day(event) is event,
            event.disclosed_by, event.access, event.form, event.place, event.ground,
        )  # fmt: skip

    def _patent(self, patent: PatentFacts | None) -> object:
        if patent is None:
            return None
        return (
            patent.office, self._bands(patent.effective_filing), self._bands(patent.filed_there),
            patent.inventors, patent.owner, patent.ownership_stated, patent.designates, patent.entered,
            patent.claims_matter,
        )  # fmt: skip

    def _bands(self, days: Days | None) -> tuple[int, int] | None:
        """Return the bands both ends lie in; -1 and one past the last for open ends."""
        if days is None:
            return None
        first = bisect_right(self._edges, days.first) if days.first else -1
        return first, bisect_right(self._edges, days.last) if days.last else len(self._edges) + 1


def thresholds(office: str, ours: OurDates, today: date) -> set[date]:
    """Return every day on which a verdict of the office may change, whatever is open about our dates."""
    found = explore(lambda ask: critical_dates(office, ours, today, ask), lambda critical: critical)
    days = {today + timedelta(days=1), *NAMES_ALL_FROM.values()}
    for critical in found.results:
        days |= edges(ours, critical) if critical else set()
    return days
