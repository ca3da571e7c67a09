"""Expressions in the languages of sources that know and, or, not and brackets, each with signs of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from queries.expression import And, Expression, Not, Or, Text


@dataclass(frozen=True)
class Signs:
    """How a language writes its operators, blanks included. but_not: before each part to be left out."""

    both: str = " AND "
    either: str = " OR "
    but_not: str = " NOT "


def write_query(expression: Expression, term: Callable[[str], str], signs: Signs) -> str:
    """Return the expression with each of its terms written by term.

    Terms that are written alike stand once, so that a hyphen makes no query longer; exclusions
    go last. A group has brackets where it is more than one clause. Raises ValueError for a
    symbol, and for an exclusion that stands alone: both were to be left out before.
    """
    match expression:
        case Text(text):
            return term(text)
        case Or(parts):
            return signs.either.join(_clauses(parts, term, signs))
        case And(parts):
            wanted = _clauses((part for part in parts if not isinstance(part, Not)), term, signs)
            barred = _clauses((part.part for part in parts if isinstance(part, Not)), term, signs)
            return signs.both.join(wanted) + "".join(signs.but_not + clause for clause in barred)
        case _:
            raise ValueError(f"{expression} can't stand alone in a query of words")


def _clauses(parts: Iterable[Expression], term: Callable[[str], str], signs: Signs) -> list[str]:
    return list(dict.fromkeys(_bracketed(part, term, signs) for part in parts))


def _bracketed(part: Expression, term: Callable[[str], str], signs: Signs) -> str:
    written = write_query(part, term, signs)
    if not isinstance(part, And | Or):
        return written
    # A group of one clause, its terms being written alike, needs no brackets.
    wanted = (each for each in part.parts if not isinstance(each, Not))
    return written if written in _clauses(wanted, term, signs) else f"({written})"
