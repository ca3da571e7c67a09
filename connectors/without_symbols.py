"""What a source that knows words alone can be asked of an expression, and what is told of the rest."""

from __future__ import annotations

from collections.abc import Callable

from connectors.phrase import has_words
from queries.expression import Code, Expression, Text
from queries.split import loosen, one_concept_left


def without_symbols(
    title: str, expression: Expression, keep: Callable[[Text | Code], bool] = has_words
) -> tuple[Expression | None, tuple[str, ...]]:
    """Return the expression without what the source can't search for, and a sentence for each part left out.

    None, with the one reason, where it is not to be asked: no words are left, or one concept
    alone is, which would find far more than the sweep. title: the source's.
    """
    left, dropped = loosen(expression, keep)
    if left is None:
        return None, (f"{title} can't search for {'; '.join(dropped)}.",)
    if one_concept_left(expression, left):
        what = "; ".join(dropped)
        return None, (
            f"{title} can't search for {what}; what is left is one concept alone, which is too wide.",
        )
    return left, tuple(
        f"{title} can't search for {part}: it is left out of what is sent." for part in dropped
    )
