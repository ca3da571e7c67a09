"""Expressions and windows in the query language of EPO OPS (CQL)."""

from __future__ import annotations

import re
from collections import Counter
from datetime import date, timedelta

from queries.expression import And, Code, Expression, Not, Or, Text, in_words, leaves, simplify
from queries.split import loosen
from queries.window import Window
from queries.words import words

FIRST_DAY = date(1782, 1, 1)  # older than any document of the database, for cutting open windows
PER_INDEX = 10  # CLIENT.ScopeTermsMaximumNumber; support, forum topic 2931 (2015), nothing newer
IN_ALL = 20

# "for, with, the, of" are named by support as not searchable; the rest is our reading of it.
STOP_WORDS = frozenset(
    words(
        "a an and are as at be by for from in into is it its no not of on or such that the their then there"
        " these they this to was will with"
    )
)
_SYMBOL = re.compile(r"[A-HY](?:\d\d(?:[A-Z](?:\d{1,4}(?:/\d{2,6})?)?)?)?", re.ASCII)


def expressible(expression: Expression) -> tuple[Expression | None, tuple[str, ...]]:
    """Return an expression OPS can take, that finds all this one finds, and a sentence for what went.

    None where nothing is left. A phrase with stop words is asked as all of its other words;
    below a Not, where that would exclude too much, it is left out.
    """
    changed: dict[str, None] = {}
    # Forms that differ in a hyphen alone are one to OPS; asked twice they would fill its ten words.
    spread = simplify(_spread(expression, changed))
    asked, dropped = loosen(spread, _searchable)
    lost = [f"OPS can't search by {part}; it is checked here when the answers are in." for part in dropped]
    return asked, (*changed, *lost)


def fits(expression: Expression) -> bool:
    """Return whether the expression keeps to ten words of an index and twenty in all.

    What one term is nobody says; a phrase is counted by its words, so that no query is refused.
    """
    counted: Counter[str] = Counter()
    for leaf in leaves(expression):
        counted[_index(leaf)] += len(_phrase(leaf.text)) if isinstance(leaf, Text) else 1
    return max(counted.values(), default=0) <= PER_INDEX and counted.total() <= IN_ALL


def in_cql(expression: Expression) -> str:
    """Return the expression in CQL, every clause with its index and every group in brackets."""
    match expression:
        case Text(text):
            return f'ta="{" ".join(_phrase(text))}"'
        case Code():
            # A blank inside a symbol is answered 500 SERVER.DomainAccess.
            return f"{_index(expression)}=/low {_symbol(expression)}"
        case Or(parts):
            return "(" + " or ".join(in_cql(part) for part in parts) + ")"
        case And(parts):
            wanted = [in_cql(part) for part in parts if not isinstance(part, Not)]
            unwanted = [in_cql(part.part) for part in parts if isinstance(part, Not)]
            # `not` stands between two clauses: what is wanted goes first.
            text = " and ".join(wanted)
            for part in unwanted:
                text = f"({text}) not {part}"
            return f"({text})"
        case _:
            raise ValueError(f"OPS can't search by {expression}: expressible leaves such parts out")


def dates_in_cql(window: Window) -> str:
    """Return the window of publication days as a clause, "" for all days.

    Both ends go into one `within` (two comparisons may be refused as a fuzzy range), which
    counts both days. Documents without a day are stored as 00000000, so a window open to
    the past holds them.
    """
    if window.public_from and window.public_to:
        last = window.public_to - timedelta(days=1)
        return f'pd within "{window.public_from:%Y%m%d} {last:%Y%m%d}"'
    if window.public_from:
        return f"pd>={window.public_from:%Y%m%d}"
    return f"pd<{window.public_to:%Y%m%d}" if window.public_to else ""


def _spread(expression: Expression, changed: dict[str, None]) -> Expression:
    """Return the expression with phrases that hold stop words as And of their other words.

    changed: takes a sentence for each. Nothing below a Not is touched.
    """
    match expression:
        case And(parts):
            return And(tuple(_spread(part, changed) for part in parts))
        case Or(parts):
            return Or(tuple(_spread(part, changed) for part in parts))
        case Text(text) if _stopped(text):
            left = tuple(Text(word) for word in dict.fromkeys(_phrase(text)) if word not in STOP_WORDS)
            if not left:
                return expression
            asked = And(left) if len(left) > 1 else left[0]
            sentence = f'OPS leaves out small words: "{text}" is asked as {in_words(asked)}, in any order.'
            changed[sentence] = None
            return asked
        case Text(text):
            return Text(" ".join(_phrase(text)) or text)
        case _:
            return expression


def _phrase(text: str) -> tuple[str, ...]:
    """Return the words as OPS finds them: no accents, no hyphens (a quoted hyphen finds nothing)."""
    return words(text)


def _stopped(text: str) -> bool:
    return not STOP_WORDS.isdisjoint(_phrase(text))


def _searchable(leaf: Text | Code) -> bool:
    if isinstance(leaf, Text):
        return bool(_phrase(leaf.text)) and not _stopped(leaf.text)
    return _index(leaf) in ("cpc", "ipc") and _SYMBOL.fullmatch(_symbol(leaf)) is not None


def _index(leaf: Text | Code) -> str:
    return "ta" if isinstance(leaf, Text) else leaf.scheme.strip().lower()


def _symbol(leaf: Code) -> str:
    return "".join(leaf.symbol.upper().split())
