"""The matter's critical dates: from which day on nothing published counts, office by office."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import partial

from pipeline.errors import BadMatter
from pipeline.law.checks import check_ours
from pipeline.law.critical import critical_dates
from pipeline.law.facts import BadDates
from pipeline.law.questions import explore
from pipeline.matter import Matter
from pipeline.our_dates import our_dates


@dataclass(frozen=True)
class Cutoff:
    """One office's critical date for the elements named ("" is all of them).

    days: the days it may be, in order: several where it hangs on a fact not known, such as
    whether a priority holds; () where no rule is held. provisional: nothing is filed there.
    """

    office: str
    elements: str
    days: tuple[date, ...]
    provisional: bool


def cutoffs(matter: Matter, today: date) -> tuple[Cutoff, ...]:
    """Return the critical date of each office and group of elements, in the matter's order.

    Raises BadMatter where the matter's own dates contradict each other or today.
    """
    found = []
    for office in matter.offices:
        for claimed in our_dates(matter, office):
            try:
                check_ours(claimed.dates, today)
            except BadDates as error:
                raise BadMatter(f"{matter.folder / 'matter.toml'}: {error}") from error
            rule = partial(critical_dates, office, claimed.dates, today)
            possible = explore(rule, lambda critical: critical and critical.effective).results
            days = sorted({critical.effective for critical in possible if critical})
            found.append(Cutoff(office, claimed.elements, tuple(days), claimed.dates.filing is None))
    return tuple(found)
