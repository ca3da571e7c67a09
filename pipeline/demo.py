"""The demo: an invented matter, and its sources played on loopback from scripted answers."""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, unquote, urlsplit

from pipeline.append_log import write_file
from pipeline.errors import BadMatter
from pipeline.run import RunEnd, run_matter

# The played service takes any key; these are in no one's environment but the demo's own.
KEYS = {"EPO_OPS_KEY": "demo-consumer-key", "EPO_OPS_SECRET": "demo-consumer-secret"}
FIRST_LINE = "# The demo matter."
_ADDRESS = re.compile(r'^base_url = "http://127\.0\.0\.1:\d+/', re.MULTILINE)
_MOST_RUNS = 2  # the one whose page is torn, and the one that asks for it again


@dataclass(frozen=True)
class Asked:
    """A request that came in: the source it was for, its path below it, parameters or form fields."""

    source: str
    path: str
    params: tuple[tuple[str, str], ...]


@dataclass
class Script:
    """The rules in order, each used for as many answers as its `times` says (no limit without).

    A rule answers a request of its source and path whose parameters hold all that `asks`
    names. asked: every request so far. unknown: those that no rule was for.
    """

    rules: list[dict[str, Any]]
    folder: Traversable
    asked: list[Asked] = field(default_factory=list)
    unknown: list[Asked] = field(default_factory=list)
    _used: dict[int, int] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def answer(self, asked: Asked) -> tuple[int, dict[str, str], bytes]:
        """Return status, headers and body; 400 and a sentence where no rule is for the request."""
        with self._lock:
            self.asked.append(asked)
            for place, rule in enumerate(self.rules):
                used = self._used.get(place, 0)
                if _is_for(rule, asked) and used < rule.get("times", used + 1):
                    self._used[place] = used + 1
                    body = self.folder.joinpath(*rule["file"].split("/")).read_bytes()
                    return rule["status"], rule.get("headers", {}), body
            self.unknown.append(asked)
        return 400, {}, b"The demo has no answer for this request: its terms differ from the demo's own.\n"


@dataclass(frozen=True)
class DemoEnd:
    """How the demo went: its runs, oldest first, and the requests that were answered."""

    runs: tuple[RunEnd, ...]
    asked: tuple[Asked, ...]
    unknown: tuple[Asked, ...]


def play_demo(folder: Path, clock: Callable[[], datetime], say: Callable[[str], None]) -> DemoEnd:
    """Run the demo matter in folder, a second time where the first ended incomplete.

    The sources are played on 127.0.0.1 while it runs, at the pace the real ones ask for;
    nothing else is spoken to. An earlier demo in folder is gone on with, the user's changes
    kept. Raises BadMatter where folder holds something else.
    """
    with play_sources() as (address, script):
        _set_up(folder, address)
        runs = [run_matter(folder, KEYS, clock, say)]
        while runs[-1].outcome == "incomplete" and len(runs) < _MOST_RUNS:
            say("the run ended incomplete; as the next night would, the demo runs again")
            runs.append(run_matter(folder, KEYS, clock, say))
    return DemoEnd(tuple(runs), tuple(script.asked), tuple(script.unknown))


@contextmanager
def play_sources() -> Iterator[tuple[str, Script]]:
    """Yield the address at which the sources are played, and the script that answers."""
    folder = demo_files()
    script = Script(json.loads(folder.joinpath("script.json").read_text(encoding="utf-8")), folder)
    server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(script))
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}", script
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def demo_files() -> Traversable:
    """Return the folder of the demo's files: in the installed package, or in the checkout."""
    installed = files("pipeline").joinpath("demo_files")
    return installed if installed.is_dir() else Path(__file__).parents[1] / "fixtures" / "demo"


def _is_for(rule: dict[str, Any], asked: Asked) -> bool:
    params = dict(asked.params)
    return (
        rule["source"] == asked.source
        and rule["path"] == asked.path
        and all(params.get(name) == text for name, text in rule["asks"].items())
    )


def _handler(script: Script) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        """Answers from the script."""

        protocol_version = "HTTP/1.1"

        def do_GET(self) -> None:
            """Answer."""
            self._answer("")

        def do_POST(self) -> None:
            """Answer; the form in the body counts as parameters."""
            length = int(self.headers.get("Content-Length", "0"))
            self._answer(self.rfile.read(length).decode("utf-8", "replace"))

        def log_message(self, format: str, *args: Any) -> None:
            """Keep quiet: the run tells what is asked."""

        def _answer(self, form: str) -> None:
            parts = urlsplit(self.path)
            _, source, path = (*unquote(parts.path).split("/", 2), "", "")[:3]
            params = (*parse_qsl(parts.query), *parse_qsl(form))
            status, headers, body = script.answer(Asked(source, path, params))
            self.send_response(status)
            for name, text in {**headers, "Content-Length": str(len(body))}.items():
                self.send_header(name, text)
            self.end_headers()
            self.wfile.write(body)

    return Handler


def _set_up(folder: Path, address: str) -> None:
    """Write the demo matter into folder, or give the one that is there the new address."""
    target = folder / "matter.toml"
    if target.exists() and target.read_text(encoding="utf-8").startswith(FIRST_LINE):
        text = _ADDRESS.sub(f'base_url = "{address}/', target.read_text(encoding="utf-8"))
        write_file(target, _with_every_source(text, address).encode())
        return
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise BadMatter(
            f"{folder} holds something else and was left alone. Name another: antedate demo FOLDER"
        )
    (folder / "handed-in").mkdir(parents=True)
    source = demo_files()
    for each in source.joinpath("handed-in").iterdir():
        write_file(folder / "handed-in" / each.name, each.read_bytes())
    text = source.joinpath("matter.toml").read_text(encoding="utf-8")
    note = "# Where the sources were played while the demo ran; the others stay off."
    write_file(target, _with_every_source(f"{text}\n{note}", address).encode())


def _with_every_source(text: str, address: str) -> str:
    """Return the matter with a table for each source it has none for: where it is played, else off.

    A demo made before a source was added would ask the real one.
    """
    from connectors.registry import SOURCE_NAMES

    script = json.loads(demo_files().joinpath("script.json").read_text(encoding="utf-8"))
    played = {rule["source"] for rule in script}
    tables = [
        f"[source.{name}]\n" + (f'base_url = "{address}/{name}"\n' if name in played else "on = false\n")
        for name in SOURCE_NAMES
        if f"[source.{name}]" not in text
    ]
    return "\n".join((text, *tables)) if tables else text
