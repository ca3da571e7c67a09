"""The yearly fees of a European application, as clocks."""

from __future__ import annotations

from pipeline.law.clock_rules import ClockRule
from pipeline.law.table_rows import table


def renewal_rules() -> list[ClockRule]:
    """Return two rules a year from the third to the twentieth: in time, and with surcharge.

    Months count from the filing day; the clock then goes to the end of that month (Rule 51(1)),
    and so does the surcharge's, from the due day and not from a day moved (J 4/91).
    """
    row = table("clocks.toml")["ep_renewal"]
    rules = []
    for year in range(3, 21):
        for late in (False, True):
            rules.append(
                ClockRule(
                    f"renewal fee of year {year}" + (" with surcharge" if late else ""),
                    "EP", "filing", row["stops"], row["missed_late" if late else "missed"],
                    row["citation"], row["source"], months=12 * (year - 1) + 6 * late, month_end=True,
                )
            )  # fmt: skip
    return rules
