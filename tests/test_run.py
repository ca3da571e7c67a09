"""A run as its user starts it: failing sources seen, nothing beyond loopback, killed and gone on with."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from connectors.registry import SOURCE_NAMES

MATTER = """
[invention]
title = "Self-flushing emitter"
summary = "A drip emitter that flushes itself when the sun warms the line."
[invention.elements]
A = "a drip emitter"
[[concept]]
name = "emitter"
terms = ["drip emitter"]
[source.openalex]
base_url = "{url}/openalex"
[source.crossref]
base_url = "{url}/crossref"
[source.arxiv]
base_url = "{url}/arxiv"
"""
NAMED = ("openalex", "crossref", "arxiv", "epo_ops", "files")
ARXIV = b"""<?xml version="1.0"?><feed xmlns="http://www.w3.org/2005/Atom"
 xmlns:opensearch="http://a9.com/-/spec/opensearch/1.1/"><title>x</title>
<opensearch:totalResults>0</opensearch:totalResults><opensearch:startIndex>0</opensearch:startIndex></feed>"""


@pytest.fixture
def command(prefect_home: Path, tmp_path: Path, watched: Callable[[Path], dict[str, str]]) -> Any:
    """Give a function that starts `antedate …` in a process of its own, watched."""
    environment = {
        **os.environ,
        "PREFECT_HOME": str(prefect_home),
        "HOME": str(tmp_path),
        **watched(tmp_path),
    }

    started: list[subprocess.Popen[str]] = []

    def start(*words: str) -> subprocess.Popen[str]:
        line = [sys.executable, "-m", "pipeline.cli", *words]
        pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
        started.append(subprocess.Popen(line, **pipes, text=True, env=environment, start_new_session=True))
        return started[-1]

    yield start
    for process in started:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
            process.communicate(timeout=30)


def matter(folder: Path, url: str) -> Path:
    """Write a matter whose services are at url."""
    folder.mkdir()
    (folder / "handed-in").mkdir()
    (folder / "handed-in" / "own.ris").write_text(
        "TY  - JOUR\nTI  - A drip emitter that flushes itself\nDO  - 10.5555/e.1\nPY  - 2020\nER  - \n",
        encoding="utf-8",
    )
    others = [name for name in SOURCE_NAMES if f"[source.{name}]" not in MATTER and name != "epo_ops"]
    off = "".join(f"[source.{name}]\non = false\n" for name in others)
    (folder / "matter.toml").write_text(MATTER.replace("{url}", url) + off, encoding="utf-8")
    return folder


def lines(folder: Path, kind: str) -> list[dict[str, Any]]:
    """Return the journal's lines of a kind."""
    journal = folder / "journal.jsonl"
    found = (
        [json.loads(line) for line in journal.read_text(encoding="utf-8").splitlines()]
        if journal.exists()
        else []
    )
    return [line for line in found if line["line"] == kind]


def test_failing_sources_are_seen_and_the_others_go_on(
    scripted_server: Any, command: Any, tmp_path: Path
) -> None:
    """Wrong key, HTML for JSON, no key: each named; the run is incomplete, its watermark unmoved, and stays home."""

    def route(seen: Any) -> dict[str, Any]:
        if seen.path.startswith("/openalex"):
            return {
                "status": 401,
                "body": b'{"error": "API key missing"}',
                "headers": {"Content-Type": "application/json"},
            }
        if seen.path.startswith("/crossref"):
            return {
                "body": b"<html>a portal wants you to sign in</html>",
                "headers": {"Content-Type": "text/html"},
            }
        return {"body": ARXIV}

    folder = matter(tmp_path / "m", scripted_server(route=route).url)
    first = command("run", str(folder))
    out, err = first.communicate(timeout=240)
    assert first.returncode == 3, err
    assert "incomplete" in out
    ends = {(line["source"], line["sweep"]): line for line in lines(folder, "sweep ended")}
    outcomes = {source: line["outcome"] for (source, _), line in ends.items() if source in NAMED}
    assert outcomes == {
        "openalex": "failed",
        "crossref": "failed",
        "arxiv": "complete",
        "epo_ops": "skipped",
        "files": "complete",
    }
    assert "EPO_OPS_KEY" in ends[("epo_ops", "emitter")]["reason"]
    assert "401" in ends[("openalex", "emitter")]["reason"]
    assert not (tmp_path / "noted").exists(), (tmp_path / "noted").read_text(encoding="utf-8")
    status = command("status", str(folder))
    out, _ = status.communicate(timeout=60)
    assert "crossref" in out and "failed" in out and "1 references" in out
    # The next run asks the failed ones again, and only those.
    again = command("plan", str(folder))
    out, _ = again.communicate(timeout=60)
    assert "GET" in out.split("OpenAlex (openalex)")[1].split("Crossref (crossref)")[0]
    assert "answered in full" in out.split("arXiv (arxiv)")[1]


def test_a_killed_run_is_gone_on_with(scripted_server: Any, command: Any, tmp_path: Path) -> None:
    """kill -9 in mid-harvest: the second run keeps the pages it has and asks only for the rest."""
    slow: list[str] = []

    def route(seen: Any) -> dict[str, Any]:
        if not seen.path.startswith("/openalex"):
            return {"status": 404, "body": b"Resource not found."}
        slow.append(seen.query.get("cursor", ""))
        number = {"*": 1, "two": 2, "three": 3}[slow[-1]]
        if number == 2 and slow.count("two") == 1:
            return {"body": hanging, "headers": {"Content-Length": "1000"}}
        work = {"id": f"https://openalex.org/W{number}", "title": f"Drip emitter {number}", "publication_date": "2020-05-04",
                "publication_year": 2020, "ids": {}, "authorships": [], "locations": []}  # fmt: skip
        after = {1: "two", 2: "three", 3: None}[number]
        body = {"meta": {"count": 3, "next_cursor": after}, "results": [work]}
        return {"body": json.dumps(body).encode(), "headers": {"Content-Type": "application/json"}}

    def hanging(ended: Any) -> Any:
        yield b'{"meta"'
        ended.wait(120)

    folder = matter(tmp_path / "m", scripted_server(route=route).url)
    for name in ("crossref", "arxiv"):
        text = (folder / "matter.toml").read_text(encoding="utf-8")
        (folder / "matter.toml").write_text(
            text.replace(f"[source.{name}]", f"[source.{name}]\non = false"), encoding="utf-8"
        )
    first = command("run", str(folder))
    end = time.monotonic() + 120
    while "two" not in slow and time.monotonic() < end:
        time.sleep(0.1)
    overlapping = command("run", str(folder))
    _, err = overlapping.communicate(timeout=60)
    assert overlapping.returncode == 2
    assert f"process {first.pid}" in err
    os.killpg(first.pid, signal.SIGKILL)
    first.communicate(timeout=30)
    assert len(lines(folder, "answer")) >= 1

    second = command("run", str(folder))
    out, err = second.communicate(timeout=240)
    assert second.returncode == 0, err
    assert slow == ["*", "two", "two", "three"]
    assert len(lines(folder, "run started")) == 1
    show = command("status", str(folder))
    out, _ = show.communicate(timeout=60)
    assert "complete" in out and "4 references" in out


def test_watch_fires_on_its_own(scripted_server: Any, command: Any, tmp_path: Path) -> None:
    """`antedate watch` starts a server and its schedule, and runs begin without being asked for."""
    folder = matter(tmp_path / "m", scripted_server(route=lambda _: {"status": 404}).url)
    text = (folder / "matter.toml").read_text(encoding="utf-8")
    for name in ("openalex", "crossref", "arxiv"):
        text = text.replace(f"[source.{name}]", f"[source.{name}]\non = false")
    (folder / "matter.toml").write_text(text, encoding="utf-8")
    watching = command("watch", str(folder), "--every-s", "5")
    end = time.monotonic() + 150
    while not lines(folder, "run ended") and time.monotonic() < end and watching.poll() is None:
        time.sleep(0.5)
    watching.send_signal(signal.SIGINT)
    _, err = watching.communicate(timeout=60)
    assert [line["outcome"] for line in lines(folder, "run ended")][:1] == ["complete"], err
    assert not (tmp_path / "noted").exists(), (tmp_path / "noted").read_text(encoding="utf-8")


def test_the_watch_notes_whom_a_process_would_reach(
    tmp_path: Path, watched: Callable[[Path], dict[str, str]]
) -> None:
    """The look-up is only announced to the watch, as Python does before it makes one; loopback is not noted."""
    environment = {**os.environ, **watched(tmp_path)}
    for host in ("localhost", "archive.example"):
        announce = f"import sys; sys.audit('socket.getaddrinfo', {host!r}, 80, 0, 0, 0)"
        subprocess.run([sys.executable, "-c", announce], env=environment, check=True)
    assert (tmp_path / "noted").read_text(encoding="utf-8").split()[:2] == [
        "socket.getaddrinfo",
        "archive.example",
    ]
