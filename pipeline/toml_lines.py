"""Which line of a TOML file sets which key, so that an error can point at it."""

from __future__ import annotations

import re

Path = tuple[str | int, ...]
_HEADER = re.compile(r"^\s*\[(\[)?\s*([^\]]+?)\s*\](?:\])?\s*(?:#.*)?$")
_KEY = re.compile(r"""^\s*("[^"]*"|'[^']*'|[A-Za-z0-9_-]+)\s*=""")


def key_lines(text: str) -> dict[Path, int]:
    """Return the line (from 1) of each table and key; [[x]] tables are numbered from 0.

    Reads only what matter.toml needs: plain and array tables, one key a line. Keys inside
    an inline table or a text of several lines are found under the line that opens it.
    """
    lines: dict[Path, int] = {}
    table: Path = ()
    inside = ""
    for number, line in enumerate(text.splitlines(), 1):
        if inside:
            inside = "" if inside in line else inside
            continue
        if header := _HEADER.match(line):
            table = _table(header, lines)
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            lines.setdefault((*table, key.group(1).strip("\"'")), number)
            inside = _opens(line[key.end() :])
    return lines


def _table(header: re.Match[str], lines: dict[Path, int]) -> Path:
    names = tuple(name.strip().strip("\"'") for name in header.group(2).split("."))
    if not header.group(1):
        return names
    count = sum(1 for path in lines if len(path) == len(names) + 1 and path[:-1] == names)
    return (*names, count)


def _opens(rest: str) -> str:
    for quote in ('"""', "'''"):
        if rest.count(quote) == 1:
            return quote
    return ""
