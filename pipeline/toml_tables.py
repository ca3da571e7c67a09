"""The tables of a TOML file, read with its lines at hand, so that every error names its place."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

from pipeline.errors import BadMatter
from pipeline.toml_lines import Path as KeyPath


@dataclass(frozen=True)
class TomlTables:
    """A TOML file: its data, and the line of each key. A value of another kind than asked for
    raises BadMatter, which says where and how to mend it."""

    path: Path
    data: Mapping[str, Any]
    lines: Mapping[KeyPath, int]

    def rows(self, key: str) -> list[tuple[int, Mapping[str, Any]]]:
        """Return the tables written as [[key]], numbered from 0; [] for none."""
        rows = self.data.get(key, [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            self.bad((key,), f"must be written as [[{key}]], once for each")
        return list(enumerate(rows))

    def table(self, data: Mapping[str, Any], where: KeyPath, key: str) -> Mapping[str, Any]:
        """Return the table under the key, {} for none."""
        table = data.get(key, {})
        if not isinstance(table, dict):
            self.bad((*where, key), "must be a table: [" + ".".join(map(str, (*where, key))) + "]")
        return table

    def text(self, data: Mapping[str, Any], where: KeyPath, key: str, needed: bool = False) -> str:
        """Return the text on one line (of several lines as written), "" for none unless it is needed."""
        value = data.get(key, "")
        if not isinstance(value, str):
            self.bad((*where, key), f"is {value!r}; it must be a text in quotes")
        if needed and not value.strip():
            self.bad((*where, key), "is empty or missing")
        return " ".join(value.split()) if "\n" not in value.strip() else value.strip()

    def flag(self, data: Mapping[str, Any], where: KeyPath, key: str, default: bool) -> bool:
        """Return true or false, the default for none."""
        value = data.get(key, default)
        if not isinstance(value, bool):
            self.bad((*where, key), f"is {value!r}; it must be true or false")
        return value

    def listed(self, data: Mapping[str, Any], where: KeyPath, key: str, any_: bool = False) -> list[Any]:
        """Return the list under the key, [] for none; any_: of texts and tables."""
        value = data.get(key, [])
        if not isinstance(value, list) or not (any_ or all(isinstance(item, str) for item in value)):
            self.bad((*where, key), 'must be a list of texts: ["one", "two"]')
        return value

    def one_of(
        self, data: Mapping[str, Any], where: KeyPath, key: str, allowed: tuple[str, ...], default: str = ""
    ) -> str:
        """Return the text under the key, which must be one of those allowed."""
        value = data.get(key, default)
        if value not in allowed:
            self.bad(
                (*where, key), f"is {value!r}; it is one of {', '.join(allowed)}{_nearest(value, allowed)}"
            )
        return str(value)

    def known_keys(self, data: Mapping[str, Any], where: KeyPath, allowed: tuple[str, ...]) -> None:
        """Refuse every key that is not among those allowed, naming the nearest."""
        for key in data:
            if key not in allowed:
                self.bad(
                    (*where, key), f"is not known here; known: {', '.join(allowed)}{_nearest(key, allowed)}"
                )

    def bad(self, where: KeyPath, what: str) -> NoReturn:
        """Raise BadMatter with file, line and the key that is at fault."""
        line = next((self.lines[where[:n]] for n in range(len(where), 0, -1) if where[:n] in self.lines), 1)
        name = ".".join(f"{part + 1}" if isinstance(part, int) else part for part in where)
        raise BadMatter(f"{self.path}, line {line}: {name} {what}.")


def _nearest(value: object, allowed: tuple[str, ...]) -> str:
    near = difflib.get_close_matches(str(value), allowed, n=1)
    return f". Did you mean {near[0]}?" if near else ""
