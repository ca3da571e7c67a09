"""An expression as plain lists, so that the journal can keep what was asked."""

from __future__ import annotations

from typing import Any

from queries.expression import And, Code, Expression, Not, Or, Text


def expression_data(expression: Expression) -> list[Any]:
    """Return the expression as nested lists: ["and", [...], ...]."""
    match expression:
        case Text(text):
            return ["text", text]
        case Code(scheme, symbol):
            return ["code", scheme, symbol]
        case Not(part):
            return ["not", expression_data(part)]
        case And(parts):
            return ["and", *map(expression_data, parts)]
        case Or(parts):
            return ["or", *map(expression_data, parts)]


def expression_from(data: list[Any]) -> Expression:
    """Return the expression that expression_data wrote. Raises ValueError for anything else."""
    match data:
        case ["text", str(text)]:
            return Text(text)
        case ["code", str(scheme), str(symbol)]:
            return Code(scheme, symbol)
        case ["not", part]:
            return Not(expression_from(part))
        case ["and", *parts]:
            return And(tuple(map(expression_from, parts)))
        case ["or", *parts]:
            return Or(tuple(map(expression_from, parts)))
    raise ValueError(f"not an expression: {str(data)[:100]}")
