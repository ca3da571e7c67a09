"""A bench for captures: a matter whose web and archive are one loopback server."""

from __future__ import annotations

import socket
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from connectors.waiting import Clock
from pipeline.capture import CaptureEnd, Wanted, capture_into, check_addresses
from pipeline.harvest import Desk
from pipeline.journal import read_journal
from pipeline.matter import load_matter
from pipeline.responses import Responses
from tests.pipeline.capture.world import HTML, MATTER, PAGE, PICTURE, PNG, PUBLIC, Bench, World


@pytest.fixture
def bench(scripted_server: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """Give a matter whose web and archive are one loopback server behind a public address."""
    pages = {"/robots.txt": {"body": b""}, "/flusher": {"body": PAGE, "headers": HTML},
             "/cut.png": {"body": PICTURE, "headers": PNG}}  # fmt: skip
    world = World(pages, {}, [])
    server = scripted_server(route=world.answer)
    loopback = socket.socket.connect

    def connect(self: socket.socket, address: Any) -> None:
        return loopback(self, ("127.0.0.1", address[1]) if address[0] == PUBLIC else address)

    look_up = socket.getaddrinfo

    def numeric(host: Any, port: Any, *rest: Any, **named: Any) -> Any:
        if host == PUBLIC:  # an address already, as the connection is made to one
            return [(socket.AF_INET, socket.SOCK_STREAM, 6, "", (PUBLIC, port))]
        return look_up(host, port, *rest, **named)

    monkeypatch.setattr(socket.socket, "connect", connect)
    monkeypatch.setattr(socket, "getaddrinfo", numeric)
    folder = tmp_path / "m"
    folder.mkdir()
    (folder / "matter.toml").write_text(MATTER.replace("{url}", server.url), encoding="utf-8")
    made = Bench(folder, world, f"http://shop.example:{server.url.rsplit(':', 1)[1]}", datetime(2026, 11, 25, tzinfo=UTC),
                 lambda: None)  # type: ignore[arg-type, return-value]  # fmt: skip

    def capture(*paths: str, lookup: Any = lambda *_: (PUBLIC,), **choices: Any) -> CaptureEnd:
        passed = [0.0]

        def sleep(wait_s: float) -> None:
            passed[0] += wait_s

        clock = Clock(lambda: passed[0], sleep, lambda: made.now + timedelta(seconds=passed[0]), lambda: 0.5)
        urls = [path if "://" in path else made.url + path for path in paths]
        responses = Responses(folder)
        journal = read_journal(responses, made.now)
        desk = Desk(responses, journal, f"{made.now:%Y-%m-%dT%H:%M:%SZ}", clock.today, lambda _: None)
        wanted = Wanted(check_addresses([("here", url) for url in urls]), **choices)
        return capture_into(desk, load_matter(folder), wanted, clock, lookup)

    made.capture = capture
    return made
