"""The rules held: whole, dated, without overlap, and refused where they are not."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import pytest

from pipeline.law.cutoff import OFFICES
from pipeline.law.earlier_rights import BECAUSE
from pipeline.law.earlier_rights import SPARES as JUDGED
from pipeline.law.offices import SPARES, rules

ASKED_FOR = {"US", "EP", "WO", "JP", "KR", "CN", "CA", "AU", "IN", "GB", "DE"}


def test_every_office_asked_for_has_a_rule() -> None:
    """The offices the program promises are held; Brazil and Mexico beside them."""
    assert set(OFFICES) == ASKED_FOR | {"BR", "MX"}


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: f"{rule.office} {rule.valid_from} {rule.rights}")
def test_a_rule_names_its_text_and_the_day_it_was_checked(rule: Any) -> None:
    """No verdict can stand without a citation, its kind of source and the day of checking."""
    assert rule.cite_public and rule.cite_access and rule.cite_earlier and rule.source
    assert rule.checked >= rule.valid_from
    assert not rule.earlier_spares or rule.cite_spares
    for grace in rule.grace:
        assert grace.citation and grace.who
        assert grace.declaration == "no" or grace.statement, "a needed declaration says what to file"


def test_no_two_rules_govern_one_filing() -> None:
    """Rules of one office and right follow each other; they never overlap."""
    for one, other in combinations(rules(), 2):
        if one.office == other.office and set(one.rights) & set(other.rights):
            early, late = sorted((one, other), key=lambda rule: rule.valid_from)
            assert early.valid_until is not None and early.valid_until < late.valid_from


def test_every_way_out_of_an_earlier_right_is_judged_and_explained() -> None:
    """A word the data may hold has a rule and a reason behind it."""
    assert set(SPARES) == set(JUDGED) == set(BECAUSE)
