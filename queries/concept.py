"""Concepts, their terms, and the query set a matter searches with."""

from __future__ import annotations

from dataclasses import dataclass

from queries.expression import Code


@dataclass(frozen=True)
class Term:
    """A word or phrase, and which of its forms are searched beside it."""

    text: str
    plural: bool = True
    hyphen: bool = True
    spelling: bool = True


@dataclass(frozen=True)
class Concept:
    """A named group of terms that mean the same for this search."""

    name: str
    terms: tuple[Term, ...]


@dataclass(frozen=True)
class QuerySet:
    """Everything a matter asks for. exclusions are left out of every sweep."""

    concepts: tuple[Concept, ...]
    codes: tuple[Code, ...] = ()
    exclusions: tuple[Term, ...] = ()
