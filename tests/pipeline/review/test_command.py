"""`antedate review` as a user starts it: an address on loopback, answered, ended by a signal."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from pipeline.cli import main

ROOT = Path(__file__).resolve().parents[3]


def test_the_page_is_served_at_the_address_printed(web: Any) -> None:
    """The first line names matter and address; the page answers there until Ctrl-C, exit 130."""
    command = [sys.executable, "-m", "pipeline.cli", "review", str(web.folder), "--no-browser"]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout
        line = process.stdout.readline()
        address = line[line.index("http://127.0.0.1:") :].split()[0]
        with urllib.request.urlopen(address, timeout=30) as answer:
            assert b"Friction hinge for a lid" in answer.read()
        process.send_signal(signal.SIGINT)
        assert process.wait(20) == 130


def test_a_port_in_use_is_said(web: Any, capsys: pytest.CaptureFixture[str]) -> None:
    """A port that another program has, or that can't be, is named; nothing is served."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        for wrong in (port, "70000"):
            assert main(["review", str(web.folder), "--no-browser", "--port", wrong]) == 2
            assert f"port {wrong} can't be used" in capsys.readouterr().err


def test_a_folder_without_a_matter_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No matter, no page."""
    assert main(["review", str(tmp_path), "--no-browser"]) == 2
    assert "matter.toml does not exist" in capsys.readouterr().err
