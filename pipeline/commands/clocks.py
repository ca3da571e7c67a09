"""`antedate clocks`: every day that comes next, soonest first, each with its rule."""

from __future__ import annotations

from argparse import Namespace
from datetime import UTC, datetime

from pipeline import cautions
from pipeline.append_log import write_file
from pipeline.errors import BadMatter
from pipeline.exports.icalendar import calendar
from pipeline.law.clocks import Clock, not_held
from pipeline.law.clocks import clocks as count_clocks
from pipeline.law.facts import BadDates
from pipeline.matter import load_matter
from pipeline.matter_dates import matter_dates
from pipeline.plain_text import wrapped

_STATES = {"deadline": "PAST", "opens": "open since then", "expected": "day has passed"}


def clocks(args: Namespace) -> int:
    """Print the clocks of the matter; with --ics also write those that still run to the file."""
    matter = load_matter(args.matter)
    now = datetime.now(UTC)
    dates = matter_dates(matter)
    try:
        found = count_clocks(dates, now.date())
    except BadDates as error:
        raise BadMatter(f"{matter.folder / 'matter.toml'}: {error}") from error
    if not found:
        print(wrapped("No clock runs: matter.toml names no filing and no own disclosure ([[date]])."))
    for clock in found:
        _print_clock(clock, (clock.due - now.date()).days)
    for sentence in not_held(dates):
        print(wrapped(sentence))
    if args.ics:
        write_file(args.ics, calendar(matter.name, found, now))
        running = sum(not clock.past and not clock.stopped_by for clock in found)
        print(wrapped(f"{args.ics}: {running} of {len(found)} clocks; past and stopped ones are left out."))
    print()
    own = (cautions.PUBLISH_FIRST, cautions.INVENTORS) if dates.of("own disclosure") else ()
    for caution in (*own, cautions.CLOCK, cautions.RULES, cautions.ESTIMATE):
        print(wrapped(caution))
    return 0


def _print_clock(clock: Clock, days_left: int) -> None:
    if clock.stopped_by:
        state = f"stopped by {clock.stopped_by}"
    elif clock.past:
        state = _STATES[clock.kind]
    else:
        state = "today" if days_left == 0 else f"{days_left} days left"
    print(wrapped(f"{clock.due} {clock.office} {clock.name}: {state}"))
    print(wrapped(f"from {clock.start_event}, {clock.start.text()}; {clock.period}", "    "))
    if clock.kind == "deadline":
        why = f" ({'; '.join(clock.because)})" if clock.because else ""
        print(
            wrapped(f"counted {clock.unrolled}, safe day {clock.safe_day}, last day {clock.due}{why}", "    ")
        )
    memory = " (from memory)" if clock.source == "memory" else ""
    print(wrapped(f"rule: {clock.rule}{memory}", "    "))
    print(wrapped(f"stops: {clock.stops_when}", "    "))
    print(wrapped(f"after it: {clock.after_missed}", "    "))
    if clock.note:
        print(wrapped(f"note: {clock.note}", "    "))
