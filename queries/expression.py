"""The boolean expressions a sweep is made of, and what they mean.

A source's query language is compiled from this tree; `matches` is the meaning every
compiled form is held to.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from queries.symbol import Judgement, below, extends
from queries.words import words as words


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


@dataclass(frozen=True)
class Document:
    """What an expression is judged on. title, abstract: "" where the source gives none.

    codes: (scheme, symbol) as stated; empty where none is stated. texts: further texts of
    it, each searched like the abstract: patent claims, paragraphs.
    """

    title: str
    abstract: str = ""
    codes: tuple[tuple[str, str], ...] = ()
    texts: tuple[str, ...] = ()


def leaves(expression: Expression) -> Iterator[Text | Code]:
    """Yield every word, phrase and symbol of the expression, in order, those under Not too."""
    match expression:
        case And(parts) | Or(parts):
            for part in parts:
                yield from leaves(part)
        case Not(part):
            yield from leaves(part)
        case _:
            yield expression


def simplify(expression: Expression) -> Expression:
    """Return an expression of the same meaning without nested groups of a kind.

    Repeated parts stand once, where they first stood; a group of one is its part.
    """
    match expression:
        case And(parts) | Or(parts):
            kind = type(expression)
            flat: dict[Expression, None] = {}
            for part in map(simplify, parts):
                flat |= dict.fromkeys(part.parts if isinstance(part, kind) else (part,))
            return next(iter(flat)) if len(flat) == 1 else kind(tuple(flat))
        case Not(part):
            return Not(simplify(part))
        case _:
            return expression


def matches(expression: Expression, document: Document) -> bool:
    """Return whether the expression holds on what the document states.

    A phrase is found within the title, the abstract or one of the texts, never across two;
    text without a word is found nowhere. A symbol holds where the document states it, one
    below it, or one that extends its digits. What is not stated counts as absent: see
    judge_within for the answer that allows for that.
    """
    return _matches(expression, document, _fields(document))


def matches_runs(expression: Expression, runs: str, codes: tuple[tuple[str, str], ...]) -> bool:
    """As matches, on texts whose words were found before: run_of of each, on a line of its own."""
    return _matches(expression, Document("", codes=codes), (runs,))


def run_of(text: str) -> str:
    """Return the text as a run of words, each between blanks, in which phrases are looked for."""
    return f" {' '.join(words(text))} "


def judge_within(expression: Expression, document: Document) -> Judgement:
    """Return whether the expression holds on the document, 'unknown' where too little is stated.

    'unknown': text not found while title or abstract is missing; a symbol not found
    while no symbol of its scheme is stated, or where the dots of the scheme decide.
    And, Or and Not follow three-valued logic (Kleene's strong one), so one 'no' in an And
    decides it. 'yes' implies matches, 'no' implies that it does not match.
    """
    return _judge(expression, document, _fields(document))


def in_words(expression: Expression) -> str:
    """Return the expression as one line that people can read, the same for the same meaning.

    Nested groups of a kind are one group, repeats left out, parts sorted, exclusions
    last; so the order in which terms are listed makes no other text. Different
    expressions never share a text: it can stand as their key.
    """
    return _line(simplify(expression))


def _fields(document: Document) -> tuple[str, ...]:
    """Return title, abstract and texts as runs of words."""
    return tuple(map(run_of, (document.title, document.abstract, *document.texts)))


_run = lru_cache(maxsize=4096)(run_of)


def _found(text: str, fields: tuple[str, ...]) -> bool:
    run = _run(text)
    return bool(run.strip()) and any(run in field for field in fields)


def _matches(expression: Expression, document: Document, fields: tuple[str, ...]) -> bool:
    match expression:
        case Text(text):
            return _found(text, fields)
        case Code(scheme, symbol):
            return any(
                below(symbol, stated) == "yes" or extends(symbol, stated)
                for stated in _stated(scheme, document)
            )
        case And(parts):
            return all(_matches(part, document, fields) for part in parts)
        case Or(parts):
            return any(_matches(part, document, fields) for part in parts)
        case Not(part):
            return not _matches(part, document, fields)


def _judge(expression: Expression, document: Document, fields: tuple[str, ...]) -> Judgement:
    match expression:
        case Text(text):
            if _found(text, fields):
                return "yes"
            missing = not all(field.strip() for field in fields[:2])
            return "unknown" if missing and words(text) else "no"
        case Code(scheme, symbol):
            stated = _stated(scheme, document)
            return _any_of([below(symbol, one) for one in stated]) if stated else "unknown"
        case And(parts):
            return _opposite(_any_of([_opposite(_judge(part, document, fields)) for part in parts]))
        case Or(parts):
            return _any_of([_judge(part, document, fields) for part in parts])
        case Not(part):
            return _opposite(_judge(part, document, fields))


def _stated(scheme: str, document: Document) -> list[str]:
    return [symbol for stated, symbol in document.codes if stated.casefold() == scheme.casefold()]


def _any_of(judgements: list[Judgement]) -> Judgement:
    if "yes" in judgements:
        return "yes"
    return "unknown" if "unknown" in judgements else "no"


def _opposite(judgement: Judgement) -> Judgement:
    if judgement == "unknown":
        return "unknown"
    return "no" if judgement == "yes" else "yes"


def _quoted(text: str) -> str:
    """Return the text in quotes on one line: blanks made one, what can't be printed escaped."""
    line = " ".join(unicodedata.normalize("NFC", text).split())
    escaped = line.replace("\\", "\\\\").replace('"', '\\"')
    shown = "".join(c if c.isprintable() else f"\\u{{{ord(c):x}}}" for c in escaped)
    return f'"{shown}"'


def _line(expression: Expression) -> str:
    match expression:
        case Text(text):
            return _quoted(text)
        case Code(scheme, symbol):
            return f"{scheme.upper() if scheme.isalnum() else _quoted(scheme)}:{_quoted(symbol)}"
        case Not(part):
            return f"not {_bracketed(part)}"
        case And(parts):
            plain = sorted(_bracketed(part) for part in parts if not isinstance(part, Not))
            barred = sorted(_line(part) for part in parts if isinstance(part, Not))
            return " and ".join(dict.fromkeys(plain + barred)) or "everything"
        case Or(parts):
            return " or ".join(dict.fromkeys(sorted(map(_bracketed, parts)))) or "nothing"


def _bracketed(part: Expression) -> str:
    return f"({_line(part)})" if isinstance(part, And | Or) else _line(part)
