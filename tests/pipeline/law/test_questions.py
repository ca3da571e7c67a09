"""Open facts are followed both ways, and only those that matter are reported."""

from __future__ import annotations

from pipeline.law.questions import Asker, Question, explore

WARM, SUNNY = Question("warm", "a thermometer"), Question("sunny", "a window")


def same(result: object) -> object:
    """Return the result as its own outcome."""
    return result


def test_every_combination_of_open_answers_is_reached() -> None:
    """Two open facts that both matter give all four results and both questions."""

    def rule(ask: Asker) -> tuple[bool, bool]:
        return ask.holds("unknown", WARM), ask.holds(None, SUNNY)

    found = explore(rule, same)
    assert set(found.results) == {(True, True), (True, False), (False, True), (False, False)}
    assert found.questions == (WARM, SUNNY)


def test_a_question_without_effect_is_not_reported() -> None:
    """An open fact whose answer changes nothing is no reason for doubt."""

    def rule(ask: Asker) -> bool:
        ask.holds("unknown", WARM)
        return ask.holds("unknown", SUNNY)

    assert explore(rule, same).questions == (SUNNY,)


def test_known_facts_open_nothing() -> None:
    """A known fact gives one result."""
    found = explore(lambda ask: (ask.holds("yes", WARM), ask.word("rain", SUNNY, ("sun", "rain"))), same)
    assert (found.results, found.questions) == (((True, "rain"),), ())
