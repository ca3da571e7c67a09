"""The boolean expressions a sweep is made of, and what they mean.

A source's query language is compiled from this tree; `matches` is the meaning every
compiled form is held to.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Text:
    """A word or phrase, found where its words stand next to each other, in order, case aside."""

    text: str


@dataclass(frozen=True)
class Code:
    """A classification symbol and everything below it (CPC or IPC, written `A01G 25/02`)."""

    scheme: str
    symbol: str


@dataclass(frozen=True)
class And:
    """True where every part is."""

    parts: tuple[Expression, ...]


@dataclass(frozen=True)
class Or:
    """True where at least one part is."""

    parts: tuple[Expression, ...]


@dataclass(frozen=True)
class Not:
    """True where the part is not. Stands only beside other parts of an And."""

    part: Expression


Expression = Text | Code | And | Or | Not
