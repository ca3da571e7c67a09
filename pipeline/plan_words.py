"""The plan in words: what the next run sends, as the command line and the review page show it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import unquote_plus

from connectors.connector import Request, Source
from pipeline.matter import Matter
from pipeline.plain_text import many
from pipeline.plan import PlannedSource, PlannedSweep, request_line
from queries.variants import explain_forms


@dataclass(frozen=True)
class SweepWords:
    """One sweep at a source.

    requests: as they go out, less secrets. notes: what the source can't express, and how
    the sweep is split. not_sent: why nothing is sent now, else "".
    """

    name: str
    asks: str
    added_since: str
    not_sent: str
    notes: tuple[str, ...]
    requests: tuple[str, ...]


@dataclass(frozen=True)
class SourceWords:
    """One source.

    where: what is asked: the address of a service, or a folder here; "" for a folder not there yet.
    not_asked: why, else "". about: how many first requests, how deep, how fast. sent_with: what goes
    with each request.
    """

    name: str
    title: str
    where: str
    not_asked: str
    about: str
    terms_of_use: str
    sent_with: tuple[str, ...]
    sweeps: tuple[SweepWords, ...]

    @property
    def count(self) -> int:
        """Return how many first requests go out."""
        return sum(len(sweep.requests) for sweep in self.sweeps)


def terms_in_words(matter: Matter) -> list[tuple[str, str, str]]:
    """Return (concept, term, the forms searched beside it) for every term and exclusion."""
    rows = []
    for concept in matter.query_set.concepts:
        for term in concept.terms:
            forms = [f"{form} ({why})" for form, why in explain_forms(term) if form != term.text]
            rows.append((concept.name, term.text, ", ".join(forms) or "as written only"))
    for term in matter.query_set.exclusions:
        forms = [form for form, _ in explain_forms(term)[1:]]
        rows.append(("left out", term.text, ", ".join(forms) or "as written only"))
    return rows


def total_in_words(sources: Iterable[SourceWords]) -> str:
    """Return how many first requests the plan holds, and that more may come of them."""
    count = sum(source.count for source in sources)
    if not count:
        return "Nothing is asked."
    more = "each may be" if count > 1 else "it may be"
    return f"{many(count, 'first request')} in all; {more} followed by further pages of the same question."


def plan_in_words(plan: Iterable[PlannedSource]) -> tuple[SourceWords, ...]:
    """Return each source of the plan in words; a source that is not asked has no sweeps."""
    return tuple(_source(planned) for planned in plan)


def _source(planned: PlannedSource) -> SourceWords:
    about = planned.connector.SOURCE
    sweeps = () if planned.skipped else tuple(_sweep(planned.base_url, sweep) for sweep in planned.sweeps)
    return SourceWords(
        about.name,
        about.title,
        planned.base_url,
        planned.skipped,
        _about(about, sum(len(sweep.requests) for sweep in sweeps)),
        about.terms_of_use,
        _sent_with(planned),
        sweeps,
    )


def _about(about: Source, count: int) -> str:
    if not count:
        return "nothing now"
    return f"{many(count, 'request')}; {_depth(about)}; {_pace(about)}"


def _depth(about: Source) -> str:
    if about.ranked_depth:
        return f"the best {about.ranked_depth} answers of each are read"
    if not about.depth:
        return f"{about.page_size:,} answers a page, read to the end"
    if about.narrows:
        narrower = f"where more than {about.depth:,} match, asked again in shorter spans of days"
        return f"{about.page_size:,} answers a page; {narrower}"
    return f"{about.page_size:,} answers a page, the first {about.depth:,} of each are read"


def _pace(about: Source) -> str:
    if about.local:
        return "answered by a folder on this machine, nothing is sent to anyone"
    return (
        f"at most one every {about.seconds_between:g} s"
        if about.seconds_between != 1
        else "at most one a second"
    )


def _sent_with(planned: PlannedSource) -> tuple[str, ...]:
    signed = planned.connector.sign(Request(planned.name, ""), {}, planned.setting.contact)
    lines = [f"sent with each: {name}: {value}" for name, value in (*signed.headers, *signed.params)]
    if planned.keys:
        lines.append(
            f"sent with each: your key from {' and '.join(planned.keys)}, which is never written down"
        )
    return tuple(lines)


def _sweep(base_url: str, planned: PlannedSweep) -> SweepWords:
    since = str(planned.window.added_since or "")
    if planned.skipped:
        return SweepWords(planned.sweep.name, planned.expression, since, planned.skipped, (), ())
    return SweepWords(
        planned.sweep.name,
        planned.expression,
        since,
        "",
        (*planned.compiled.not_expressed, *planned.compiled.splits),
        tuple(unquote_plus(request_line(base_url, request)) for request in planned.compiled.requests),
    )
