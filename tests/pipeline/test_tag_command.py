"""`antedate tag --elements`: letters as people write them."""

from __future__ import annotations

import pytest

from pipeline.commands.tag import element_letters
from pipeline.errors import NotFound


@pytest.mark.parametrize(
    ("written", "meant"),
    [("", ()), ("AC", ("A", "C")), ("a, c", ("A", "C")), ("A AA", ("A", "AA")), ("AAA", ("A",))],
)
def test_letters_run_together_or_apart(written: str, meant: tuple[str, ...]) -> None:
    """Blanks and commas may be left out; an element of two letters stands by itself."""
    assert element_letters(written, ("A", "B", "C", "AA")) == meant


def test_a_letter_the_matter_lacks_is_named() -> None:
    """The error lists the elements there are."""
    with pytest.raises(NotFound, match=r"no element 'D'.*A, B"):
        element_letters("AD", ("A", "B"))
