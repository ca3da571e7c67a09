"""What the README says is what the program has."""

from __future__ import annotations

import argparse
import re
import runpy
from pathlib import Path

import pytest

from connectors.registry import BY_NAME, SOURCE_NAMES
from pipeline.cli import build_parser

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
PARSERS = next(
    action.choices for action in build_parser()._actions if isinstance(action, argparse._SubParsersAction)
)


@pytest.mark.parametrize("command", PARSERS)
def test_every_command_stands_in_the_readme(command: str) -> None:
    """A command nobody can find is no command."""
    assert re.search(rf"`[^`\n]*\b{command}\b|antedate {command}\b", README)


def test_every_command_of_the_readme_exists() -> None:
    """The README names no command that the program lacks."""
    assert set(re.findall(r"antedate ([a-z]+)\b", README)) <= {*PARSERS}


@pytest.mark.parametrize("source", SOURCE_NAMES)
def test_every_source_has_its_row(source: str) -> None:
    """Each source says in the README what it states and needs."""
    assert f"| `{source}` |" in README


def row_of(source: str) -> str:
    """Return the source's row in the README's first table of sources."""
    return next(line for line in README.splitlines() if line.startswith(f"| `{source}` |"))


@pytest.mark.parametrize("source", SOURCE_NAMES)
def test_a_row_names_every_key_and_whether_it_is_off(source: str) -> None:
    """The overview agrees with the declaration: key variables, 'none' where none is needed, off by default."""
    declared, row = BY_NAME[source].SOURCE, row_of(source)
    keys = (*declared.key_variables, *declared.optional_key_variables)
    assert all(f"`{key}`" in row for key in keys)
    assert bool(declared.key_variables) is not ("none" in row.split("|")[4])
    assert ("**off**" in row) is bool(declared.off_because)


def test_the_table_of_dates_limits_and_terms_is_the_declarations() -> None:
    """What each date proves, limits, nights and terms stand in the README as the sources declare them."""
    made = runpy.run_path(str(ROOT / "tests" / "readme_sources.py"))
    assert made["readme_with_table"](README) == README, "write it anew: python tests/readme_sources.py"


def test_ci_runs_the_readmes_two_commands() -> None:
    """The lines after '# Try' and '# Test' are what .ci/run runs, so they must be there, once each."""
    for word in ("# Try", "# Test"):
        assert README.count(f"\n{word}: ") == 1
    assert "command_of" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
