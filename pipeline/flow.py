"""A run as a Prefect flow: the table of contents of a night.

With pipeline/watch.py the only files that know Prefect. No server is started by hand and
nothing is reported to anyone: the switches are set before Prefect is imported.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from pipeline import prefect_settings

prefect_settings.apply()

from prefect import flow, task  # noqa: E402 - after the switches
from prefect.cache_policies import NO_CACHE  # noqa: E402
from prefect.task_runners import ThreadPoolTaskRunner  # noqa: E402

from pipeline.night import Night  # noqa: E402


@task(name="ask", task_run_name="ask {source}", cache_policy=NO_CACHE, persist_result=False)
def _ask(night: Night, source: str) -> tuple[str, ...]:
    return night.ask(source)


@task(name="take in files", cache_policy=NO_CACHE, persist_result=False)
def _take_in(night: Night) -> tuple[str, ...]:
    return night.take_in()


@task(name="load", cache_policy=NO_CACHE, persist_result=False)
def _load(night: Night) -> None:
    night.load()


@task(name="resolve", cache_policy=NO_CACHE, persist_result=False)
def _resolve(night: Night) -> None:
    night.resolve()


@task(name="rank", cache_policy=NO_CACHE, persist_result=False)
def _rank(night: Night) -> None:
    night.rank()


@task(name="embed", cache_policy=NO_CACHE, persist_result=False)
def _embed(night: Night) -> None:
    night.embed()


@task(name="topics", cache_policy=NO_CACHE, persist_result=False)
def _topics(night: Night) -> None:
    night.topics()


@flow(name="antedate run", persist_result=False, validate_parameters=False)
def _night(night: Night) -> list[str]:
    asked = [_ask.submit(night, source) for source in night.sources]
    outcomes = [*_take_in(night)]
    for future in asked:
        outcomes += future.result()
    _load(night)
    _resolve(night)
    _rank(night)  # by words alone: useful before the first vector is there
    _embed(night)
    _resolve(night)  # again where vectors came
    _rank(night)
    _topics(night)
    return outcomes


def run_flow(night: Night) -> list[str]:
    """Run the night's stages as one flow; return the outcome of every sweep and file."""
    runner: ThreadPoolTaskRunner[Any] = ThreadPoolTaskRunner(max_workers=max(4, len(night.sources)))
    outcomes: list[str] = _night.with_options(task_runner=runner)(night)  # type: ignore[arg-type]
    return outcomes


@flow(name="antedate nightly", persist_result=False)
def scheduled_run(folder: str) -> str:
    """Run the matter in folder once; what `antedate watch` starts on schedule."""
    from pipeline.commands.nightly import say, utc_now
    from pipeline.run import run_matter

    return run_matter(Path(folder), os.environ, utc_now, say).outcome
