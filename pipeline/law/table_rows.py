"""The rules' tables: TOML files beside the code, each row checked whole as it is read.

A slip in a table would be a wrong day in silence; so a row is refused, by name, for a key that
is not known or is missing, and for a value of another kind or a word of another list than its own.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, fields
from datetime import date
from functools import cache
from importlib.resources import files
from types import UnionType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

Row = TypeVar("Row")
# How our summary had a rule: from the official text, from a text about it, or from memory.
SOURCES = ("read", "read (secondary)", "memory")
Choices = Mapping[str, tuple[str, ...]]
_IN_WORDS = {
    str: "a text in quotes",
    int: "a whole number",
    bool: "true or false",
    date: "a day without quotes: 2026-11-25",
    tuple: 'a list of texts: ["one", "two"]',
}


@cache
def table(name: str) -> dict[str, Any]:
    """Return a file of this folder as it stands."""
    return tomllib.loads(files("pipeline.law").joinpath(name).read_text(encoding="utf-8"))


def row_as(
    kind: type[Row],
    row: Mapping[str, Any],
    where: str,
    choices: Choices | None = None,
    renamed: Mapping[str, str] | None = None,
    made: Mapping[str, Any] | None = None,
) -> Row:
    """Return the row as an instance of that dataclass, its lists as tuples.

    where: file and row, for the error. choices: the words each of these keys may hold, one or a
    list of them. renamed: keys that the file writes otherwise -> field. made: fields that are
    never written. Raises ValueError, which says where, which key, and what it may be.
    """
    renamed, made = renamed or {}, made or {}
    written = {field: key for key, field in renamed.items()}
    known = {written.get(field.name, field.name): field for field in fields(kind) if field.name not in made}  # type: ignore[arg-type]
    for key in row:
        if key not in known:
            raise ValueError(
                f"{where}: unknown key {key}{_nearest(key, known)}; known are {', '.join(known)}"
            )
    for key, field in known.items():
        if key not in row and field.default is MISSING:
            raise ValueError(f"{where}: {key} is missing; write it into the row")
    values = {key: tuple(value) if isinstance(value, list) else value for key, value in row.items()}
    hints = get_type_hints(kind)
    for key, value in values.items():
        _check_kind(f"{where}: {key}", value, hints[known[key].name])
        _check_words(f"{where}: {key}", value, (choices or {}).get(key, ()))
    return kind(**{known[key].name: value for key, value in values.items()}, **made)


def _check_kind(where: str, value: Any, hint: Any) -> None:
    kinds = get_args(hint) if isinstance(hint, UnionType) else (hint,)
    if type(value) not in [get_origin(each) or each for each in kinds]:
        wanted = kinds[0]
    elif (
        isinstance(value, tuple)
        and get_args(hint)[0] is str
        and not all(isinstance(each, str) for each in value)
    ):
        wanted, value = hint, list(value)
    else:
        return
    raise ValueError(f"{where} = {value!r}; it must be {_IN_WORDS[get_origin(wanted) or wanted]}")


def _check_words(where: str, value: Any, allowed: tuple[str, ...]) -> None:
    for word in value if isinstance(value, tuple) else (value,):
        if allowed and word not in allowed:
            words = ", ".join(map(repr, allowed))
            raise ValueError(f"{where} = {word!r}{_nearest(word, allowed)}; it may be {words}")


def _nearest(word: str, allowed: Iterable[str]) -> str:
    near = difflib.get_close_matches(word, list(allowed), n=1)
    return f", did you mean {near[0]}?" if near else ""
