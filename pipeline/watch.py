"""`antedate watch`: a Prefect server and schedule of our own, in the foreground.

A served flow fires only while a server runs, so this starts one on a free loopback port,
keeps it beside the schedule, and ends both together. Each run is a process of its own.
"""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from pipeline import prefect_settings
from pipeline.errors import AntedateError

SERVER_READY_WITHIN_S = 120


class ServerFailed(AntedateError):
    """The scheduler's server did not start."""


def watch_matter(folder: Path, at: str, every_s: int | None) -> int:
    """Run the matter at the time of day given (or every so many seconds) until stopped."""
    from pipeline.schedule import time_of_day

    hour, minute = time_of_day(at)
    with _server() as address:
        os.environ["PREFECT_API_URL"] = address
        from prefect.schedules import Cron, Interval

        when = f"every {every_s} s" if every_s else f"every night at {at}"
        schedule = (
            Interval(timedelta(seconds=every_s))
            if every_s
            else Cron(f"{minute} {hour} * * *", timezone=_zone())
        )
        print(f"watching {folder}: {when}; stop with Ctrl-C", flush=True)  # noqa: T201 - a foreground command
        _scheduled_flow().serve(
            name=f"antedate {folder.resolve().name}",
            parameters={"folder": str(folder.resolve())},
            schedule=schedule,
            limit=1,
        )
    return 0


def _scheduled_flow() -> Any:
    from pipeline.flow import scheduled_run

    return scheduled_run


@contextmanager
def _server() -> Iterator[str]:
    prefect_settings.apply()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [
        sys.executable,
        "-m",
        "prefect",
        "server",
        "start",
        "--host",
        "127.0.0.1",
        "--port",
        str(port),
        "--no-ui",
    ]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)  # noqa: S603 - our own command
    try:
        _wait_until_ready(server, port)
        yield f"http://127.0.0.1:{port}/api"
    finally:
        server.terminate()
        try:
            server.wait(15)
        except subprocess.TimeoutExpired:
            server.kill()


def _wait_until_ready(server: subprocess.Popen[bytes], port: int) -> None:
    end = time.monotonic() + SERVER_READY_WITHIN_S
    while time.monotonic() < end:
        if server.poll() is not None:
            raise ServerFailed(
                f"the scheduler's server ended at once (exit {server.returncode}). Nothing was run. "
                "Use `antedate schedule` instead, or look with: prefect server start"
            )
        if _answers(port):
            return
        time.sleep(0.3)
    raise ServerFailed(f"the scheduler's server did not answer within {SERVER_READY_WITHIN_S} s")


def _answers(port: int) -> bool:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=2)
    try:
        connection.request("GET", "/api/health")
        return connection.getresponse().status == 200
    except OSError:
        return False
    finally:
        connection.close()


def _zone() -> str:
    """Return the machine's time zone by name, so that the clock change moves the run with it."""
    named = os.environ.get("TZ", "").lstrip(":")
    link = Path("/etc/localtime")
    if not named and link.is_symlink():
        named = str(link.resolve()).partition("zoneinfo/")[2]
    if named:
        return named
    offset = datetime.now().astimezone().utcoffset() or timedelta()
    hours = round(offset.total_seconds() / 3600)
    return f"Etc/GMT{-hours:+d}" if hours else "UTC"
