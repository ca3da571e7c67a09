"""Cutting an expression to a source's limits, and loosening what a source can't express."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from queries.expression import And, Code, Expression, Not, Or, Text, in_words, leaves, simplify


class CannotSplit(ValueError):
    """No cut makes the expression fit. part: the smallest piece that still does not, in words."""

    def __init__(self, part: str) -> None:
        """Keep the part; the text is for the user."""
        super().__init__(part)
        self.part = part

    def __str__(self) -> str:
        """Say what does not fit and how to mend it."""
        return (
            f"too long for one request even in its smallest part: {self.part}. "
            "Use shorter terms, fewer words in a phrase, or fewer exclusions."
        )


@dataclass(frozen=True)
class Split:
    """parts: expressions whose union means the whole. notes: a sentence for each cut; () for none."""

    parts: tuple[Expression, ...]
    notes: tuple[str, ...] = ()


def split(expression: Expression, fits: Callable[[Expression], bool]) -> Split:
    """Return the expression in parts that fit, which together find what it finds.

    Alternatives are cut in halves, the largest group first, until every part fits;
    exclusions and everything else stay in every part. fits must hold for a shorter
    expression wherever it holds for a longer one. Raises CannotSplit where one
    alternative of each group is still too much.
    """
    whole = simplify(expression)
    if fits(whole):
        return Split((whole,))
    group = max(_groups(whole), key=lambda each: len(each.parts), default=None)
    if group is None:
        raise CannotSplit(in_words(whole))
    middle = (len(group.parts) + 1) // 2
    halves = [Or(group.parts[:middle]), Or(group.parts[middle:])]
    done = [split(_replace(whole, group, half), fits) for half in halves]
    size = len(group.parts)
    note = (
        f"{size} alternatives ({in_words(group.parts[0])} to {in_words(group.parts[-1])}) "
        f"were cut into {middle} and {size - middle}: together they are too much for one request."
    )
    notes = dict.fromkeys((note, *done[0].notes, *done[1].notes))
    return Split(tuple(dict.fromkeys(done[0].parts + done[1].parts)), tuple(notes))


def loosen(
    expression: Expression, keep: Callable[[Text | Code], bool]
) -> tuple[Expression | None, tuple[str, ...]]:
    """Return an expression of kept leaves only, which finds all that this one finds, and what went.

    A part that can't be said is left out of its And. An Or with such a part goes as a whole,
    and so does a Not: without it they would find less. None where nothing is left
    that narrows the search (exclusions alone do not). dropped: the parts left out, in
    words, in order; () means that the meaning is the same.
    """
    kept, dropped = _loosen(simplify(expression), keep)
    if kept is None or isinstance(kept, Not):
        return None, (in_words(expression),)
    return simplify(kept), dropped


def one_concept_left(asked: Expression, left: Expression) -> bool:
    """Say whether leaving out a symbol made the question one concept alone, far wider than was asked.

    asked: the expression; left: what loosen made of it.
    """
    wanted = [part for part in left.parts if not isinstance(part, Not)] if isinstance(left, And) else [left]
    return len(wanted) == 1 and any(isinstance(leaf, Code) for leaf in leaves(asked))


def _groups(expression: Expression) -> list[Or]:
    """Return the groups of alternatives that may be cut: none below a Not."""
    match expression:
        case Or(parts):
            inner = [group for part in parts for group in _groups(part)]
            return [expression, *inner] if len(parts) > 1 else inner
        case And(parts):
            return [group for part in parts for group in _groups(part)]
        case _:
            return []


def _replace(whole: Expression, group: Or, half: Or) -> Expression:
    """Return whole with that group (wherever an equal one may be cut) made its half."""
    if whole == group:
        return half
    match whole:
        case And(parts):
            return And(tuple(_replace(part, group, half) for part in parts))
        case Or(parts):
            return Or(tuple(_replace(part, group, half) for part in parts))
        case _:
            return whole


def _loosen(
    expression: Expression, keep: Callable[[Text | Code], bool]
) -> tuple[Expression | None, tuple[str, ...]]:
    match expression:
        case And(parts):
            tried = [_loosen(part, keep) for part in parts]
            kept = tuple(part for part, _ in tried if part is not None)
            dropped = tuple(line for _, lines in tried for line in lines)
            if all(isinstance(part, Not) for part in kept):
                return None, (in_words(expression),)
            return And(kept), dropped
        case Or(parts):
            tried = [_loosen(part, keep) for part in parts]
            some = tuple(part for part, _ in tried if part is not None)
            if len(some) < len(parts):
                return None, (in_words(expression),)
            return Or(some), tuple(line for _, lines in tried for line in lines)
        case Not(part):
            whole = all(keep(leaf) for leaf in leaves(part))
            return (expression, ()) if whole else (None, (in_words(expression),))
        case _:
            return (expression, ()) if keep(expression) else (None, (in_words(expression),))
