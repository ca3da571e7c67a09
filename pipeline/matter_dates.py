"""The matter's own dates as events that start and stop clocks."""

from __future__ import annotations

from pipeline.law.clocks import EVENTS, MatterDates, MatterEvent
from pipeline.matter import Matter


def matter_dates(matter: Matter) -> MatterDates:
    """Return what matter.toml tells of filings and own disclosures; planned filings start nothing.

    Offices: those of the matter, and the countries of sale, in that order.
    """
    events = tuple(
        MatterEvent(
            own.kind, own.days, own.office, own.note or own.number, own.provisional, own.design,
            own.priority_valid, own.abuse, own.ground,
        )
        for own in matter.dates
        if own.kind in EVENTS
    )  # fmt: skip
    return MatterDates(events, tuple(dict.fromkeys((*matter.offices, *matter.countries_of_sale))))
