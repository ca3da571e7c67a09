"""A real headless Chromium, and the review page of the demo matter on a real port."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from pipeline.decisions import Decision, Decisions

ROOT = Path(__file__).resolve().parents[2]
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip


@dataclass
class Review:
    """The running review page: its matter and address."""

    folder: Path
    address: str
    process: subprocess.Popen[str]

    def decisions(self) -> list[Decision]:
        """Return what is on the disk."""
        return list(Decisions(self.folder).all())


@dataclass
class Watched:
    """What a page did beyond showing itself."""

    outside: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@contextmanager
def serving(folder: Path) -> Iterator[Review]:
    """Run `antedate review` on the matter as a user would, and end it afterwards."""
    command = [sys.executable, "-m", "pipeline.cli", "review", str(folder), "--no-browser", "--by", "ida"]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout
        line = process.stdout.readline()
        try:
            yield Review(folder, line[line.index("http") :].split()[0], process)
        finally:
            process.terminate()
            process.wait(20)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """Give the browser, started once."""
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if not found:
        pytest.skip("no Chromium on this machine: apt-get install chromium")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=list(FLAGS))
        yield browser
        browser.close()


@pytest.fixture
def review(demo_played: Any, tmp_path: Path) -> Iterator[Review]:
    """Serve a copy of the demo matter."""
    folder = Path(shutil.copytree(demo_played[0] / "matter", tmp_path / "matter"))
    with serving(folder) as running:
        yield running


@pytest.fixture(scope="module")
def shown(demo_played: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Review]:
    """Serve one copy of the demo matter to all tests of a file that only read: a start costs seconds.

    Whoever decided something or touched its store would change what the others see.
    """
    folder = Path(shutil.copytree(demo_played[0] / "matter", tmp_path_factory.mktemp("shown") / "matter"))
    with serving(folder) as running:
        yield running
        assert running.decisions() == []


@pytest.fixture
def open_page(chromium: Any) -> Iterator[Callable[..., Any]]:
    """Give a function that opens a fresh page. It fails the test for a request that would leave
    the machine, a refusal by the content policy, or a script's fault."""
    watched, contexts = Watched(), []

    def opened(width: int = 1280, scheme: str = "light", scripts: bool = True) -> Any:
        context = chromium.new_context(
            viewport={"width": width, "height": 900}, color_scheme=scheme, java_script_enabled=scripts
        )
        contexts.append(context)

        def only_here(route: Any) -> None:
            if urlsplit(route.request.url).hostname == "127.0.0.1":
                route.continue_()
            else:
                watched.outside.append(route.request.url)
                route.abort()

        context.route("**/*", only_here)
        page = context.new_page()
        page.on("pageerror", lambda error: watched.complaints.append(str(error)))
        page.on("console", lambda said: watched.complaints.append(said.text) if is_complaint(said) else None)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert watched.outside == []
    assert watched.complaints == []


def is_complaint(said: Any) -> bool:
    """Say whether the console's line is a fault; a page with an error status is none."""
    return said.type in ("error", "warning") and "Failed to load resource" not in said.text
