"""Imports run one way, and heavy libraries stay out of the commands that must start at once."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
# Which rooms a room may import from, itself aside. The law knows days and errors, no more.
ALLOWED = {
    "queries": set(),
    "connectors": {"queries"},
    "pipeline": {"queries", "connectors"},
}
# Stages: tables in, tables out. They import no door, which opens files, store or network.
STAGES = (
    "resolve",
    "rank",
    "passages",
    "topics",
    "embed",
    "normalise",
    "identifiers",
    "patent_numbers",
)
DOORS = {"store", "responses", "decisions", "append_log", "harvest", "load", "run", "night", "flow", "cli",
         "references", "ranking", "vectors", "listing", "judging", "watch", "schedule", "run_lock", "corpus"}  # fmt: skip


def imported(path: Path) -> set[str]:
    """Return the dotted names a file imports, late imports included."""
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def files_of(*parts: str) -> list[Path]:
    """Return the Python files of a room, or of a stage that is a file or a folder."""
    room = ROOT.joinpath(*parts)
    return sorted(room.rglob("*.py")) if room.is_dir() else [room.with_suffix(".py")]


@pytest.mark.parametrize("room", ALLOWED)
def test_rooms_import_one_way(room: str) -> None:
    """No file imports from a room downstream, nor from tests or fixtures."""
    others = (set(ALLOWED) | {"tests", "fixtures"}) - ALLOWED[room] - {room}
    for path in files_of(room):
        wrong = {name for name in imported(path) if name.split(".")[0] in others}
        assert not wrong, f"{path.relative_to(ROOT)} imports {wrong}"


@pytest.mark.parametrize("stage", STAGES)
def test_stages_open_no_door(stage: str) -> None:
    """A stage imports neither the store nor anything else that does I/O."""
    for path in files_of("pipeline", stage):
        wrong = {name for name in imported(path) if name.split(".")[:1] == ["pipeline"] and name.split(".")[1:2]
                 and name.split(".")[1] in DOORS}  # fmt: skip
        assert not wrong, f"{path.relative_to(ROOT)} imports {wrong}"


def test_law_is_pure() -> None:
    """The law imports no database, network, clock-reading or other room of the pipeline."""
    for path in files_of("pipeline", "law"):
        ours = {name for name in imported(path) if name.startswith(("pipeline", "connectors", "queries"))}
        wrong = {
            name
            for name in ours
            if not name.startswith(("pipeline.law", "pipeline.errors", "connectors.days"))
        }
        assert not wrong, f"{path.relative_to(ROOT)} imports {wrong}"
        assert "today()" not in path.read_text(encoding="utf-8")
        assert "now(" not in path.read_text(encoding="utf-8")


@pytest.mark.parametrize("module", ["pipeline.cli", "pipeline.commands.hits", "pipeline.commands.tag"])
def test_commands_start_without_heavy_libraries(module: str) -> None:
    """Importing the command line or a quick command loads none of the slow libraries."""
    code = f"import sys, {module}; print([n for n in ('torch','prefect','sklearn','sentence_transformers') if n in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip() == "[]"
