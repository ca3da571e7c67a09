"""What every test stands on: no network but loopback, a clean environment, a scripted server.

`scripted_server` starts an HTTP server on 127.0.0.1 that plays a script:

    def test_it(scripted_server):
        server = scripted_server({"status": 503}, {"body": b"<feed/>", "headers": {"X-A": "1"}})
        ...  # talk to server.url; server.seen lists what was asked, in order

An answer is a dict: status (200), headers ({}), body (bytes; or a function that takes the
event set when the test ends and yields bytes, for slow, endless and hanging answers).
Content-Length is added for bytes unless the headers name one (a larger one cuts the body
short). keep_alive=True leaves the connection open after an answer. Beside or instead of a script, `route=` takes a function from Seen to an answer.
At the end of the test a script that was not played to its end fails the test; a request
past the end is answered 599 and fails it too.
"""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import pytest

from pipeline.file_lock import lock

LOOPBACK = {"127.0.0.1", "::1", "localhost", ""}
OURS = ("ANTEDATE_", "EPO_", "OPENALEX_", "CROSSREF_", "ARXIV_", "SEMANTICSCHOLAR_", "USPTO_")
PROXIES = ("HTTP_PROXY", "HTTPS_PROXY", "ALL_PROXY", "NO_PROXY", "FTP_PROXY")


@pytest.fixture(autouse=True)
def only_loopback(monkeypatch: pytest.MonkeyPatch) -> None:
    """Refuse every connection and every name look-up beyond this machine."""
    true_connect, true_lookup = socket.socket.connect, socket.getaddrinfo

    def connect(self: socket.socket, address: Any) -> None:
        if self.family != socket.AF_UNIX and address[0] not in LOOPBACK:
            raise AssertionError(f"a test tried to reach {address[0]}: only loopback is allowed")
        return true_connect(self, address)

    def lookup(host: Any, *rest: Any, **named: Any) -> Any:
        name = host.decode() if isinstance(host, bytes) else host
        if name is not None and name not in LOOPBACK:
            raise socket.gaierror(socket.EAI_NONAME, f"a test tried to look up {name}")
        return true_lookup(host, *rest, **named)

    monkeypatch.setattr(socket.socket, "connect", connect)
    monkeypatch.setattr(socket, "getaddrinfo", lookup)


@pytest.fixture(scope="session", autouse=True)
def clean_environment() -> Iterator[None]:
    """Take away our own settings, keys and proxies that the developer's shell may hold.

    For the whole session, so that what a fixture starts for several tests is clean too.
    """
    with pytest.MonkeyPatch.context() as patch:
        for name in list(os.environ):
            if name.upper().startswith(OURS) or name.upper() in PROXIES:
                patch.delenv(name)
        yield


@dataclass(frozen=True)
class Seen:
    """One request as the server saw it. target: path and query as sent. at: seconds on the monotonic clock.

    link: the client's port, so that two requests of one connection can be told.
    """

    method: str
    target: str
    link: int
    path: str
    query: dict[str, str]
    headers: dict[str, str]
    body: bytes
    at: float


@dataclass
class ScriptedServer:
    """A running server: its address, and what it was asked so far."""

    route: Callable[[Seen], dict[str, Any]] | None
    script: list[dict[str, Any]]
    seen: list[Seen] = field(default_factory=list)
    unasked: list[Seen] = field(default_factory=list)
    ended: threading.Event = field(default_factory=threading.Event)
    url: str = ""
    keep_alive: bool = False

    def answer(self, seen: Seen) -> dict[str, Any]:
        """Return the next answer of the script, or the route's."""
        self.seen.append(seen)
        if self.script:
            return self.script.pop(0)
        if self.route:
            return self.route(seen)
        self.unasked.append(seen)
        return {"status": 599}


def handler_for(server: ScriptedServer) -> type[BaseHTTPRequestHandler]:
    """Return the handler class that plays the server's script."""

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1" if server.keep_alive else "HTTP/1.0"

        def reply(self) -> None:
            parts = urlsplit(self.path)
            sent = self.rfile.read(int(self.headers.get("Content-Length") or 0))
            headers = {name.lower(): value for name, value in self.headers.items()}
            query = dict(parse_qsl(parts.query, keep_blank_values=True))
            link = self.client_address[1]
            seen = Seen(self.command, self.path, link, parts.path, query, headers, sent, time.monotonic())
            try:
                self.play(server.answer(seen))
            except ConnectionError:
                self.close_connection = True

        do_GET = do_POST = reply

        def play(self, answer: dict[str, Any]) -> None:
            headers, body = dict(answer.get("headers", {})), answer.get("body", b"")
            if isinstance(body, bytes):
                headers.setdefault("Content-Length", str(len(body)))
            self.send_response(answer.get("status", 200))
            for name, value in headers.items():
                self.send_header(name, value)
            self.end_headers()
            for part in [body] if isinstance(body, bytes) else body(server.ended):
                self.wfile.write(part)
                self.wfile.flush()

        def log_message(self, format: str, *args: Any) -> None:
            """Keep the test output quiet."""

    return Handler


@pytest.fixture
def scripted_server() -> Iterator[Callable[..., ScriptedServer]]:
    """Give a function that starts a scripted server; every one is stopped after the test."""
    running: list[tuple[ScriptedServer, ThreadingHTTPServer, threading.Thread]] = []

    def start(
        *script: dict[str, Any],
        route: Callable[[Seen], dict[str, Any]] | None = None,
        keep_alive: bool = False,
    ) -> ScriptedServer:
        server = ScriptedServer(route, list(script), keep_alive=keep_alive)
        http = ThreadingHTTPServer(("127.0.0.1", 0), handler_for(server))
        server.url = f"http://127.0.0.1:{http.server_address[1]}"
        thread = threading.Thread(target=http.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
        thread.start()
        running.append((server, http, thread))
        return server

    yield start
    for server, http, thread in running:
        server.ended.set()
        http.shutdown()
        http.server_close()
        thread.join(5)
    for server, _, _ in running:
        assert not server.unasked, f"asked past the end of the script: {server.unasked}"
        assert not server.script, f"never asked for: {server.script}"


# Written beside the interpreter's start: every process notes whom it would speak to.
WATCHER = """
import os, sys
def note(event, args):
    if event == "socket.connect" and isinstance(args[1], tuple):
        host = str(args[1][0])
    elif event == "socket.getaddrinfo":
        host = str(args[0])
    else:
        return
    if host not in ("127.0.0.1", "::1", "localhost", "None", "0.0.0.0", "b'127.0.0.1'", "b'localhost'"):
        with open(os.environ["NOTED"], "a") as out:
            out.write(f"{event} {host} {sys.argv[:2]}\\n")
sys.addaudithook(note)
"""


@pytest.fixture(scope="session")
def watched() -> Callable[[Path], dict[str, str]]:
    """Give a function from a folder to an environment in which every Python process is watched: whom
    it would reach beyond loopback is noted in the folder's `noted`, which is not made for none."""

    def watch(folder: Path) -> dict[str, str]:
        (folder / "sitecustomize.py").write_text(WATCHER, encoding="utf-8")
        return {"NOTED": str(folder / "noted"), "PYTHONPATH": str(folder)}

    return watch


@pytest.fixture(scope="session")
def prefect_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give one home for the scheduler of all runs of a worker: making its database costs seconds."""
    return tmp_path_factory.mktemp("prefect")


@pytest.fixture(scope="session")
def demo_played(
    tmp_path_factory: pytest.TempPathFactory,
    watched: Callable[[Path], dict[str, str]],
    prefect_home: Path,
) -> tuple[Path, dict[str, str], subprocess.CompletedProcess[str]]:
    """Play the demo once, as its user starts it; give its place, its environment and how it ended.

    The matter is in `matter` there, and `noted` names whom its processes would have spoken to.
    Once also where several workers share the tests: the first plays, the others wait for its end.
    """
    ours = tmp_path_factory.getbasetemp()
    place = (ours.parent if "PYTEST_XDIST_WORKER" in os.environ else ours) / "demo"
    place.mkdir(exist_ok=True)
    with (place / "lock").open("ab") as held:
        lock(held.fileno(), wait=True)
        if not (place / "ended").exists():
            played = play_demo(place, watched(place), prefect_home)
            (place / "ended").write_text(json.dumps(played), encoding="utf-8")
    environment, how = json.loads((place / "ended").read_text(encoding="utf-8"))
    return place, environment, subprocess.CompletedProcess(**how)


def play_demo(
    place: Path, watch: dict[str, str], prefect_home: Path
) -> tuple[dict[str, str], dict[str, Any]]:
    """Play the demo in a process of its own; return its environment and how it ended."""
    root = Path(__file__).resolve().parents[1]
    environment = {
        **watch,
        "PATH": os.environ["PATH"],
        "HOME": str(place),
        "PREFECT_HOME": str(prefect_home),
        "PYTHONPATH": os.pathsep.join((watch["PYTHONPATH"], str(root))),
        "PYTHONUTF8": "1",
    }
    command = [sys.executable, "-m", "pipeline.cli", "demo", str(place / "matter")]
    done = subprocess.run(
        command, env=environment, cwd=root, capture_output=True, text=True, timeout=240, check=False
    )
    return environment, vars(done)
