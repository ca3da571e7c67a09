"""What a source of words alone is asked, and what is said of the rest."""

from __future__ import annotations

import pytest

from connectors.without_symbols import without_symbols
from queries.expression import And, Code, Expression, Not, Or, Text

SYMBOL = Code("cpc", "A01G 25/02")
EMITTER = Or((Text("emitter"), Text("dripper")))


@pytest.mark.parametrize(
    ("asked", "left", "told"),
    [
        (And((EMITTER, Text("valve"))), And((EMITTER, Text("valve"))), ()),
        (EMITTER, EMITTER, ()),
        (
            And((SYMBOL, EMITTER, Text("valve"))),
            And((EMITTER, Text("valve"))),
            ('Paper can\'t search for CPC:"A01G 25/02": it is left out of what is sent.',),
        ),
        (
            And((SYMBOL, EMITTER, Not(Text("hose")))),
            None,
            ('Paper can\'t search for CPC:"A01G 25/02"; what is left is one concept alone, which is too wide.',),
        ),
        (And((SYMBOL, Not(Text("hose")))), None, ('Paper can\'t search for CPC:"A01G 25/02" and not "hose".',)),
        (Text("+"), None, ('Paper can\'t search for "+".',)),
    ],
    ids=["whole", "one concept from the start", "two concepts", "one concept left", "exclusions left", "no word"],
)  # fmt: skip
def test_what_is_asked_and_told(asked: Expression, left: Expression | None, told: tuple[str, ...]) -> None:
    """Each part left out is named; nothing is said to be left out of what is not sent."""
    assert without_symbols("Paper", asked) == (left, told)
