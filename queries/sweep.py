"""Query set → sweeps: the boolean expressions that are put to every source."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import combinations

from queries.concept import Concept, QuerySet, Term
from queries.expression import And, Code, Expression, Not, Or, Text, in_words, leaves
from queries.variants import forms
from queries.words import words


@dataclass(frozen=True)
class Sweep:
    """One expression made out of the query set, with the name the search log shows."""

    name: str
    expression: Expression

    @property
    def has_codes(self) -> bool:
        """True where a classification symbol is part of it."""
        return any(isinstance(leaf, Code) for leaf in leaves(self.expression))


def sweeps(query_set: QuerySet) -> tuple[Sweep, ...]:
    """Return the sweeps of a query set, widest question last, each meaning once.

    All concepts together ("all concepts"); every pair ("A + B"); every classification
    code with each concept ("A01G 25/02 + A"). One concept stands alone under its name;
    with two, all together is the pair and is asked once. Exclusions are left out of
    each. Raises ValueError, naming the concept or the term, for no concept at all, a
    concept without terms, a term without a letter or digit, or two concepts of one name.
    """
    concepts = query_set.concepts
    _refuse_unusable(query_set)
    found = {concept.name: any_form(concept.terms) for concept in concepts}
    exclusions = tuple(Not(any_form((term,))) for term in query_set.exclusions)
    made = [_sweep(_all_name(concepts), found.values(), exclusions)]
    for one, two in combinations(found, 2):
        made.append(_sweep(f"{one} + {two}", (found[one], found[two]), exclusions))
    several = {code.scheme.casefold() for code in query_set.codes}
    for code in dict.fromkeys(query_set.codes):
        label = f"{code.scheme.upper()} {code.symbol}" if len(several) > 1 else code.symbol
        made += [_sweep(f"{label} + {name}", (code, part), exclusions) for name, part in found.items()]
    return _distinct(made)


def _distinct(made: list[Sweep]) -> tuple[Sweep, ...]:
    """Return each meaning once, each under a name of its own: the search log goes by name."""
    by_meaning: dict[str, Sweep] = {}
    for sweep in made:
        by_meaning.setdefault(in_words(sweep.expression), sweep)
    by_name: dict[str, Sweep] = {}
    for sweep in by_meaning.values():
        name, number = sweep.name, 2
        while name in by_name:
            name, number = f"{sweep.name} ({number})", number + 1
        by_name[name] = replace(sweep, name=name)
    return tuple(by_name.values())


def _all_name(concepts: tuple[Concept, ...]) -> str:
    return concepts[0].name if len(concepts) == 1 else "all concepts"


def _refuse_unusable(query_set: QuerySet) -> None:
    if not query_set.concepts:
        raise ValueError("the query set has no concept; give at least one, with its terms")
    names = [concept.name for concept in query_set.concepts]
    for concept in query_set.concepts:
        if not concept.terms:
            raise ValueError(f"concept '{concept.name}' has no terms; give it at least one")
        if names.count(concept.name) > 1:
            raise ValueError(f"two concepts are named '{concept.name}'; give each its own name")
        for term in concept.terms:
            _refuse_wordless(term, f"concept '{concept.name}'")
    for term in query_set.exclusions:
        _refuse_wordless(term, "the exclusions")


def _refuse_wordless(term: Term, where: str) -> None:
    if not words(term.text):
        raise ValueError(f"{where}: the term {term.text!r} has no letter or digit to search for")


def any_form(terms: Iterable[Term]) -> Expression:
    """Return the alternatives of all terms; forms that differ in case or blanks alone stand once."""
    distinct: dict[str, Text] = {}
    for term in terms:
        for form in forms(term):
            distinct.setdefault(form.casefold(), Text(form))
    alternatives = tuple(distinct.values())
    return alternatives[0] if len(alternatives) == 1 else Or(alternatives)


def _sweep(name: str, parts: Iterable[Expression], exclusions: tuple[Not, ...]) -> Sweep:
    together = (*parts, *exclusions)
    return Sweep(name, together[0] if len(together) == 1 else And(together))
