"""What a run would ask, of whom, word for word; a run sends this and nothing else."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from urllib.parse import urlencode

from connectors.connector import Compiled, Connector, Request, Sought, Source
from connectors.uspto_bulk import in_descriptions_too
from pipeline.errors import BadMatter
from pipeline.journal import Answered
from pipeline.matter import Matter, SourceSetting
from queries.expression import in_words
from queries.sweep import Sweep, sweeps
from queries.window import ALL_DAYS, Window

# A sweep that ended complete is not asked again within this time: the services change at
# most once a day, and arXiv asks its users not to repeat a query within one.
FRESH_FOR = timedelta(hours=20)
# Services show a change some days after the day they date it.
LATE_ARRIVALS = timedelta(days=3)
# What a service's own record of its news leaves out is found by asking for everything again.
WHOLE_EVERY = timedelta(days=30)


@dataclass(frozen=True)
class NumberSweep:
    """A question by number. kind: known, about (a reference itself), cited (what it cites), citing.

    origin: the record whose reference is chased, "" for the known ones. most: how many
    answers are read, None for all. held_by: sources that have it already and are not asked.
    own: of 'cited', the numbers of the reference itself, for sources that are asked by those.
    """

    name: str
    kind: str
    numbers: tuple[Sought, ...]
    origin: str = ""
    most: int | None = None
    held_by: frozenset[str] = frozenset()
    own: tuple[Sought, ...] = ()

    @property
    def text(self) -> str:
        """Return what is asked in words, the same for the same question."""
        asks = {
            "known": "the known references",
            "about": "the reference itself",
            "cited": f"what is {self.name}",
            "citing": "what cites any of",
        }
        return f"{asks[self.kind]}: {', '.join(number.text for number in self.numbers)}"


@dataclass(frozen=True)
class PlannedSweep:
    """A sweep at a source. skipped: why it is not sent now, else ""."""

    sweep: Sweep | NumberSweep
    expression: str
    window: Window
    compiled: Compiled
    skipped: str = ""


@dataclass(frozen=True)
class PlannedSource:
    """A source and its sweeps. skipped: why the source is not asked at all, else ""."""

    connector: Connector
    setting: SourceSetting
    keys: Mapping[str, str]
    sweeps: tuple[PlannedSweep, ...]
    skipped: str = ""

    @property
    def name(self) -> str:
        """Return the source's name."""
        return self.connector.SOURCE.name

    @property
    def base_url(self) -> str:
        """Return where it is asked: an address, or a folder on this machine."""
        if self.connector.SOURCE.local:
            return str(self.setting.folder or "")
        return self.setting.base_url or self.connector.SOURCE.base_url


def make_plan(
    matter: Matter,
    connectors: tuple[Connector, ...],
    environment: Mapping[str, str],
    completed: Mapping[tuple[str, str], Answered],
    now: datetime,
) -> tuple[PlannedSource, ...]:
    """Return what a run started now would send.

    completed: (source, expression in words) -> when it last ended complete; {} asks
    everything in full. Raises BadMatter where a sweep fits no source that is on.
    """
    wanted = sweeps(matter.query_set)
    plan = tuple(
        _plan_source(connector, matter.sources[connector.SOURCE.name], environment, wanted, completed, now)
        for connector in connectors
    )
    _refuse_unsendable(matter, plan, wanted)
    return plan


def _plan_source(
    connector: Connector,
    setting: SourceSetting,
    environment: Mapping[str, str],
    wanted: tuple[Sweep, ...],
    completed: Mapping[tuple[str, str], Answered],
    now: datetime,
) -> PlannedSource:
    source = connector.SOURCE
    names = (*source.key_variables, *source.optional_key_variables)
    keys = {name: environment[name] for name in names if environment.get(name)}
    missing = [name for name in source.key_variables if name not in keys]
    skipped = "" if setting.on else _off(source)
    if setting.on and missing:
        skipped = f"needs a key: set {' and '.join(missing)}. {source.how_to_get_a_key}"
    if setting.on and source.local and setting.folder is None:
        skipped = (
            "nothing is loaded into the matter's corpus. Load bulk files with: antedate load MATTER FILE"
        )
    planned = tuple(_plan_sweep(connector, setting, sweep, completed, now) for sweep in wanted)
    return PlannedSource(connector, setting, keys, planned, skipped)


def _off(source: Source) -> str:
    """Return why a source that is off is off, and how it is turned on where that is the user's to decide."""
    if not source.off_because:
        return "switched off in matter.toml"
    return (
        f"off until you turn it on, since {source.off_because}; then write"
        f" [source.{source.name}] and on = true into matter.toml"
    )


def _plan_sweep(
    connector: Connector,
    setting: SourceSetting,
    sweep: Sweep,
    completed: Mapping[tuple[str, str], Answered],
    now: datetime,
) -> PlannedSweep:
    source, expression = connector.SOURCE, in_words(sweep.expression)
    last = completed.get((source.name, expression))
    window = _news(last, now) if last and source.added_filter else ALL_DAYS
    compiled = connector.compile(sweep.expression, window)
    if source.local and setting.descriptions:
        compiled = replace(compiled, requests=tuple(map(in_descriptions_too, compiled.requests)))
    skipped = ""
    if not compiled.requests:
        skipped = " ".join(compiled.not_expressed) or "the source can't express it"
    elif last and now - last.at < FRESH_FOR and not source.local:  # a file may have been loaded since
        skipped = f"asked at {last.at:%Y-%m-%d %H:%M} UTC and answered in full"
    return PlannedSweep(sweep, expression, window, compiled, skipped)


def _news(last: Answered, now: datetime) -> Window:
    """Return the window of what is new since the last complete answer; every 30 days that of everything."""
    if last.whole_at is None or now - last.whole_at > WHOLE_EVERY:
        return ALL_DAYS
    return Window(added_since=(last.at - LATE_ARRIVALS).date())


def _refuse_unsendable(matter: Matter, plan: tuple[PlannedSource, ...], wanted: tuple[Sweep, ...]) -> None:
    on = [
        source
        for source in plan
        if source.setting.on and not (source.connector.SOURCE.local and source.skipped)
    ]
    for index, sweep in enumerate(wanted):
        at = [source.sweeps[index] for source in on]
        if at and not sweep.has_codes and not any(planned.compiled.requests for planned in at):
            why = "; ".join(
                f"{source.name}: {planned.skipped}" for source, planned in zip(on, at, strict=True)
            )
            raise BadMatter(
                f"{matter.folder / 'matter.toml'}: sweep '{sweep.name}' fits no source that is on ({why}). "
                "Use shorter or fewer terms in its concepts."
            )


def request_line(base_url: str, request: Request) -> str:
    """Return the request as it goes out, less secrets: method, address, parameters, body."""
    if request.path.startswith(("http://", "https://")):  # a page pointed at: an address by itself
        return f"{request.method} {request.path}"
    query = urlencode(request.params)
    address = base_url.rstrip("/") + "/" + request.path.lstrip("/") + (f"?{query}" if query else "")
    return f"{request.method} {address}" + (f"  body: {request.body}" if request.body else "")
