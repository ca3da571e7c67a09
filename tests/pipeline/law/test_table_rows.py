"""Every rule table refuses a bad row by file, row and key, and says how to mend it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

import pytest

from pipeline.law.clock_rules import clock_rules, rule_of
from pipeline.law.closed_days import closed, closure_of
from pipeline.law.offices import rule_of as office_rule_of
from pipeline.law.table_rows import table
from pipeline.law.terms import term_of

READERS: dict[str, tuple[str, Callable[[Mapping[str, Any]], Any]]] = {
    "terms.toml": ("term", term_of),
    "clocks.toml": ("clock", rule_of),
    "offices.toml": ("rule", office_rule_of),
    "closed_days.toml": ("closure", closure_of),
}
FIRST = {name: table(name)[key][0] for name, (key, _) in READERS.items()}
every_table = pytest.mark.parametrize("name", READERS)
GRACE = {"who": ["inventor"], "months": 6, "counts_from": "actual", "citation": "x"}


def refused(name: str, row: Mapping[str, Any]) -> str:
    """Return what is said of the row; it must begin with file and row."""
    with pytest.raises(ValueError) as error:
        READERS[name][1](row)
    assert str(error.value).startswith(f"{name}: US")
    return str(error.value)


@every_table
def test_the_rows_held_are_read(name: str) -> None:
    """The same rows that the tests below spoil."""
    assert all(READERS[name][1](row) for row in table(name)[READERS[name][0]])


@every_table
def test_an_unknown_key_is_refused_with_the_known_ones(name: str) -> None:
    """A slip of the pen gets its right word; the others are listed, as the file writes them."""
    said = refused(name, {**FIRST[name], "sourcee": "read"})
    assert "unknown key sourcee, did you mean source?" in said and "; known are " in said
    assert "valid_from" not in said


@every_table
def test_a_missing_key_is_named(name: str) -> None:
    """A row without its source is no row, nor one without its office."""
    for key in ("source", "office"):
        with pytest.raises(ValueError, match=f"{name}: .*: {key} is missing; write it into the row"):
            READERS[name][1]({held: value for held, value in FIRST[name].items() if held != key})


@every_table
def test_a_word_of_another_list_is_refused(name: str) -> None:
    """How the rule was read is one of three words."""
    said = refused(name, {**FIRST[name], "source": "red"})
    assert said.endswith("source = 'red', did you mean read?; it may be 'read', 'read (secondary)', 'memory'")


@pytest.mark.parametrize(
    ("name", "change", "says"),
    [
        ("terms.toml", {"years": "20"}, "years = '20'; it must be a whole number"),
        ("terms.toml", {"years": True}, "years = True; it must be a whole number"),
        ("terms.toml", {"kinds": "patent"}, "kinds = 'patent'; it must be a list of texts"),
        ("terms.toml", {"kinds": [1]}, r"kinds = \[1\]; it must be a list of texts"),
        ("terms.toml", {"filed_from": "1995-06-08"}, "filed_from = '1995-06-08'; it must be a day without quotes"),
        ("terms.toml", {"counts": "priority"}, "counts = 'priority'; it may be 'filing', 'earliest_benefit', 'grant'"),
        ("clocks.toml", {"kind": "dead line"}, "kind = 'dead line', did you mean deadline?"),
        ("clocks.toml", {"start": "birth"}, "start = 'birth'.*; it may be 'own disclosure', "),
        ("clocks.toml", {"month_end": "no"}, "month_end = 'no'; it must be true or false"),
        ("clocks.toml", {"days": 3}, "write months or days, one of the two"),
        ("clocks.toml", {"rolls": False}, "unknown key rolls"),
        ("offices.toml", {"use": "abroad"}, "use = 'abroad'; it may be 'anywhere', 'here', 'never'"),
        ("offices.toml", {"valid_from": date(2000, 1, 1)}, "unknown key valid_from"),
        ("offices.toml", {"earlier": [{"office": "US"}]}, "earlier: needs is missing"),
        ("offices.toml", {"earlier": [{"office": "US", "needs": "luck"}]}, "earlier: needs = 'luck'"),
        ("offices.toml", {"earlier_spares": ["own_graze"]}, "'own_graze', did you mean own_grace?"),
        ("offices.toml", {"grace": [{**GRACE, "month": 6}]}, "grace: unknown key month, did you mean months?"),
        ("offices.toml", {"grace": [{**GRACE, "counts_from": "never"}]}, "grace: counts_from = 'never'"),
        ("closed_days.toml", {"day": "2024-12-24"}, "day = '2024-12-24'; it must be a day without quotes"),
        ("closed_days.toml", {"why": 1}, "why = 1; it must be a text in quotes"),
    ],
)  # fmt: skip
def test_a_bad_row_says_what_it_may_hold(name: str, change: dict[str, Any], says: str) -> None:
    """Kinds and words of each table's own, lists as well as single ones."""
    with pytest.raises(ValueError, match=says):
        READERS[name][1]({**FIRST[name], **change})


def test_what_is_made_from_a_row_is_as_before() -> None:
    """Only deadlines roll over closed days; a closure closes its office."""
    assert {rule.rolls for rule in clock_rules() if rule.kind == "deadline"} == {True}
    assert {rule.rolls for rule in clock_rules() if rule.kind != "deadline"} == {False}
    assert closed("US", date(2024, 12, 24)) == "closed by executive order"
