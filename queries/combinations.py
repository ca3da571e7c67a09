"""The combinations of one form of each concept, for services that know no OR within an AND."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import prod

from queries.expression import And, Code, Expression, Not, Or, Text
from queries.words import words

Texts = tuple[str, ...]


@dataclass(frozen=True)
class Combined:
    """chosen: for each combination the texts that must all be found. unsent: what is not sent, or ""."""

    chosen: tuple[Texts, ...]
    unsent: str = ""


def wanted_parts(expression: Expression) -> tuple[Expression, ...]:
    """Return the parts of an And that must hold, exclusions aside; any other expression alone."""
    parts = expression.parts if isinstance(expression, And) else (expression,)
    return tuple(part for part in parts if not isinstance(part, Not))


def combinations(concepts: Sequence[Expression], most: int) -> Combined:
    """Return a combination for each choice of one form of each concept, first forms first.

    Forms of the same words (hyphen or not) are one. Beyond `most` combinations the last
    forms of the longest concepts are left out, and named; new words go before endings of
    words already there. Symbols and exclusions choose nothing.
    """
    forms = [_alternatives(concept) for concept in concepts]
    kept = _bounded(forms, most)
    return Combined(tuple(_combined(kept)), _unsent(forms, kept))


def _alternatives(expression: Expression) -> list[Texts]:
    """Return what to ask for one concept: as written first, each set of words once."""
    distinct: dict[Texts, Texts] = {}
    for texts in _choices(expression):
        distinct.setdefault(tuple(sorted(_words(texts))), texts)
    return _new_words_first(list(distinct.values()))


def _choices(expression: Expression) -> list[Texts]:
    match expression:
        case Text(text):
            return [(" ".join(text.split()),)]
        case Or(parts):
            return [texts for part in parts for texts in _choices(part)]
        case And(parts):
            choices = [_choices(part) for part in parts if not isinstance(part, Not)]
            return [sum(choice, ()) for choice in product(*choices)]
        case Not() | Code():
            return []


def _words(texts: Texts) -> list[str]:
    return [word for text in texts for word in words(text)]


def _new_words_first(alternatives: list[Texts]) -> list[Texts]:
    """Return them so that endings of words already there (emitters after emitter) come last."""
    from Stemmer import Stemmer

    stem = Stemmer("english").stemWord
    seen: set[str] = set()
    new: list[Texts] = []
    again: list[Texts] = []
    for texts in alternatives:
        key = "".join(stem(word) for word in _words(texts))
        (again if key in seen else new).append(texts)
        seen.add(key)
    return new + again


def _bounded(concepts: list[list[Texts]], most: int) -> list[list[Texts]]:
    """Return the concepts with as many of their first forms as that many combinations allow."""
    sizes = [len(forms) for forms in concepts]
    while prod(sizes) > most and max(sizes) > 1:
        sizes[sizes.index(max(sizes))] -= 1
    return [forms[:size] for forms, size in zip(concepts, sizes, strict=True)]


def _unsent(concepts: list[list[Texts]], kept: list[list[Texts]]) -> str:
    """Return a sentence for the combinations not sent, all of which it names; "" where all are."""
    left_out = [texts for all_, some in zip(concepts, kept, strict=True) for texts in all_[len(some) :]]
    if not left_out:
        return ""
    sent, whole = prod(map(len, kept)), prod(map(len, concepts))
    named = ", ".join(repr(" ".join(texts)) for texts in left_out)
    return f"{sent:,} of {whole:,} combinations are sent: none of those with {named}."


def _combined(concepts: list[list[Texts]]) -> list[Texts]:
    """Return each combination, first forms first, each set of words once."""
    places = sorted(product(*(range(len(forms)) for forms in concepts)), key=sum)
    distinct: dict[frozenset[str], Texts] = {}
    for place in places:
        chosen = sum((forms[at] for forms, at in zip(concepts, place, strict=True)), ())
        distinct.setdefault(frozenset(_words(chosen)), chosen)
    return list(distinct.values())
