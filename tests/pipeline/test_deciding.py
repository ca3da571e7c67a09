"""Deciding: letters as people write them; nothing is written where a check objects."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.cli import main
from pipeline.deciding import element_letters
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


@pytest.mark.parametrize(
    ("day", "says"),
    [
        ("19", "no day"),
        ("19-03-04", "no day"),
        ("2023-02-29", "no day"),  # no leap year
        ("R5-05-01", "no day"),  # Reiwa 5 is 2023; an era year is not guessed
        ("2569-03-04", "future"),  # a year of the Thai calendar
        ("2999", "future"),
    ],
)
def test_a_day_that_cannot_be_is_refused(
    day: str, says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Before anything is written the error says how a day is written, or that it lies ahead."""
    assert main(["date", str(tmp_path), "#1", day, "--why", "the flyer"]) == 2
    assert says in capsys.readouterr().err and not (tmp_path / "decisions.jsonl").exists()


def test_a_date_by_hand_needs_its_reason(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without --why nothing is entered."""
    with pytest.raises(SystemExit):
        main(["date", str(tmp_path), "#1", "2019"])
    assert "--why" in capsys.readouterr().err
