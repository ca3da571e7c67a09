"""Judging with facts left open: every answer an open question allows is followed.

A rule is written for one state of affairs and asks for what it needs. A known fact is
answered; an open one opens a branch per possible answer. So the outcomes found are exactly
those some state of affairs leads to, and less evidence can only add to them. Nothing is
asked that the outcome does not hang on.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

Result = TypeVar("Result")


@dataclass(frozen=True)
class Question:
    """A fact left open. evidence: what would answer it, as words that follow 'settled by'."""

    name: str
    evidence: str


class OpenQuestion(Exception):
    """A rule asked for a fact that is open; raised by Asker, answered by explore."""

    def __init__(self, question: Question, answers: tuple[object, ...]) -> None:
        """Keep the question and the answers it may have."""
        super().__init__(question.name)
        self.question = question
        self.answers = answers


@dataclass(frozen=True)
class Asker:
    """The answers assumed on this branch."""

    assumed: Mapping[str, object]

    def choose(self, question: Question, answers: tuple[object, ...]) -> object:
        """Return the answer assumed, or open a branch per answer; one answer is no question."""
        if len(answers) == 1:
            return answers[0]
        if question.name not in self.assumed:
            raise OpenQuestion(question, answers)
        return self.assumed[question.name]

    def holds(self, fact: str | bool | None, question: Question) -> bool:
        """Return whether a yes/no fact holds; 'unknown' and None are asked both ways."""
        if fact in ("yes", True):
            return True
        if fact in ("no", False):
            return False
        return self.choose(question, (True, False)) is True

    def word(self, fact: str, question: Question, answers: tuple[str, ...]) -> str:
        """Return the fact, or each of `answers` where it is 'unknown'."""
        return fact if fact != "unknown" else str(self.choose(question, answers))


@dataclass(frozen=True)
class Explored(Generic[Result]):
    """What every branch led to, in order asked, and the questions that made a difference."""

    results: tuple[Result, ...]
    questions: tuple[Question, ...]


def explore(
    rule: Callable[[Asker], Result],
    outcome: Callable[[Result], object],
    assumed: Mapping[str, object] | None = None,
) -> Explored[Result]:
    """Return all results `rule` can come to, and the questions whose answer changes an outcome.

    rule must be pure: it is run again for every branch. Cost grows with the product of the
    open answers on one path of the rule.
    """
    assumed = assumed or {}
    try:
        return Explored((rule(Asker(assumed)),), ())
    except OpenQuestion as asked:
        question, answers = asked.question, asked.answers
    branches = [explore(rule, outcome, {**assumed, question.name: answer}) for answer in answers]
    outcomes = {frozenset(outcome(result) for result in branch.results) for branch in branches}
    mattering = [question] if len(outcomes) > 1 else []
    mattering += [inner for branch in branches for inner in branch.questions]
    results = tuple(result for branch in branches for result in branch.results)
    return Explored(results, tuple(dict.fromkeys(mattering)))
