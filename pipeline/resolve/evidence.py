"""What identifiers, stated relations and families say about two records.

Evidence joins whatever the titles look like; a conflict forbids joining by likeness.
"""

from __future__ import annotations

from dataclasses import dataclass

from rapidfuzz import fuzz

from pipeline.resolve.profile import DEPOSITS, Profile, doi_parts, doi_runs, long_number

DOCUMENT, WORK, APART = "document", "work", "apart"

# Words of one work at different stages; every other class of document goes with itself only.
STAGES = frozenset({"published", "preprint", "report", "thesis", "chapter"})
# A work's versions appear within these years (conference to journal: one to four).
LONGEST_GAP = 5
_BOOKS = frozenset({"book", "report", "standard", ""})

# Same number, one document: the schemes whose numbers are given to documents, with their names.
NAMED = {
    "doi": "DOI",
    "pmid": "PMID",
    "pmcid": "PMCID",
    "arxiv": "arXiv number",
    "openalex": "OpenAlex work",
}
_SAME_RELATIONS = (
    "same as",
    "version of",
    "preprint of",
    "has preprint",
    "translation of",
    "same application",
    "family",
)
_APART_RELATIONS = (
    "supplement to", "part of", "other content than", "corrects", "corrected by", "retracts", "retracted by",
)  # fmt: skip

# Below this likeness (0..100) two titles have next to nothing in common.
_UNLIKE = 55.0
# From this likeness on they agree.
_AGREE = 90.0


@dataclass(frozen=True)
class Verdict:
    """same: document, work, or apart (not joined, and likeness may not join it).

    reason: words for the reader.
    """

    same: str
    reason: str


def evidence(a: Profile, b: Profile) -> Verdict | None:
    """Return what identifiers, relations and families say of the pair; None where they say nothing.

    A number shared by two records whose titles, and people or years, have nothing in common
    was given twice: it joins nothing, and `group` lets no third bring the two together.
    Agreement on one number with conflict on another joins as a work, never as a document.
    """
    found = (
        _shared_number(a, b)
        or _patent_evidence(a, b)
        or _stated(a, b)
        or _stated(b, a)
        or _siblings(a, b)
        or _doi_forms(a, b)
    )
    if found and found.same == DOCUMENT and (why := document_conflict(a, b)):
        return Verdict(WORK, f"{found.reason}, {why}")
    return found


def conflict(a: Profile, b: Profile) -> str:
    """Return which hard identifiers forbid joining the two by likeness, or "".

    DOIs conflict when one registrant gave both, unless just one of the two is a preprint, or
    they are written as forms of one (…/v1 and …/v2, 46-25 and 46.25). Two registrants often number one
    work: an archive its scan, a new publisher the old volumes, a server the preprint; such
    records may be versions by likeness, never one document. arXiv, PubMed and publication numbers
    conflict when both are known and differ, except across stages: a preprint's number says nothing
    about the article's.
    """
    if a.publications and b.publications and not a.publications.keys() & b.publications.keys():
        return "different publication numbers"
    if is_patent(a) != is_patent(b):
        return "a patent document and another kind of document"
    if _dois_conflict(a, b):
        return "different DOIs"
    if a.kind_class == b.kind_class == "picture" and _differ(a, b, "url"):
        return "different picture files"  # many bear one title and one name, and show different things
    if stages_differ(a, b):
        return ""
    for scheme in ("arxiv", "pmid", "pmcid"):
        if _differ(a, b, scheme):
            return f"different {NAMED[scheme]}s"
    return ""


def document_conflict(a: Profile, b: Profile) -> str:
    """Return why the two cannot be one document though they may be one work, or ""."""
    if stages_differ(a, b):
        return "different stages"
    if a.version and b.version and a.version != b.version:
        return "different versions"
    kinds = [
        (a.publications[key], b.publications[key]) for key in a.publications.keys() & b.publications.keys()
    ]
    if any(x and y and x != y for x, y in kinds):
        return "different kinds of publication"
    if not kinds and a.publications and b.publications:
        return "different publication numbers"
    for scheme in ("doi", "arxiv", "pmid", "pmcid"):
        if _differ(a, b, scheme):
            return f"different {NAMED[scheme]}s"
    return ""


def is_patent(profile: Profile) -> bool:
    """Tell whether the record is of a patent document."""
    return profile.kind_class == "patent" or bool(profile.publications)


def stages_differ(a: Profile, b: Profile) -> bool:
    """Tell whether the two are known to be different stages of writing (preprint, article …)."""
    return bool(a.kind_class and b.kind_class) and _stage(a) != _stage(b)


def _stage(profile: Profile) -> str:
    # Proceedings are registered as books by some agencies: their papers are then "chapters".
    return "published" if profile.kind_class == "chapter" else profile.kind_class


def _differ(a: Profile, b: Profile, scheme: str) -> bool:
    mine, theirs = a.ids.get(scheme), b.ids.get(scheme)
    return bool(mine and theirs and not mine & theirs)


def _dois_conflict(a: Profile, b: Profile) -> bool:
    if not _differ(a, b, "doi"):
        return False
    mine, theirs = a.ids["doi"], b.ids["doi"]
    if any(_one_registration(x, y) for x in mine for y in theirs):
        return False
    one_registrant = bool({doi.split("/")[0] for doi in mine} & {doi.split("/")[0] for doi in theirs})
    return one_registrant and (a.kind_class == b.kind_class or "preprint" not in (a.kind_class, b.kind_class))


def _one_registration(x: str, y: str) -> bool:
    """Tell whether two DOIs are written as forms of one: versions, punctuation, one article
    number in two series, or an archive's deposit beside its version (numbered next to it).
    """
    (registrant, runs_x), (other, runs_y) = doi_runs(x), doi_runs(y)
    if registrant != other:
        return False
    if runs_x == runs_y:
        return True
    number = long_number(doi_parts(x)[0])
    if number and number == long_number(doi_parts(y)[0]):
        return True
    last_x, last_y = (runs[-1] if runs else "" for runs in (runs_x, runs_y))
    deposits = registrant in DEPOSITS and last_x.isdigit() and last_y.isdigit()
    return deposits and runs_x[:-1] == runs_y[:-1] and abs(int(last_x) - int(last_y)) == 1


def _contradicted(a: Profile, b: Profile) -> bool:
    if (
        not a.title
        or not b.title
        or _alike(a, b) >= _UNLIKE
        or (a.language and b.language and a.language != b.language)
    ):
        return False
    strangers = bool(a.people and b.people) and not a.people & b.people
    return strangers or year_gap(a, b) not in (None, 0, 1)


def _alike(a: Profile, b: Profile) -> float:
    return max(fuzz.token_sort_ratio(a.title, b.title), fuzz.partial_ratio(a.title, b.title))


def year_gap(a: Profile, b: Profile) -> int | None:
    """Return the years between the two intervals, 0 where they meet, None where one is unknown."""
    if a.year_from is None or b.year_from is None:
        return None
    mine, theirs = (a.year_from, a.year_to or a.year_from), (b.year_from, b.year_to or b.year_from)
    return max(0, mine[0] - theirs[1], theirs[0] - mine[1])


def given_twice(a: Profile, b: Profile) -> bool:
    """Tell whether the two bear one number though nothing else agrees: it was given to two works."""
    return any(
        not a.ids.get(scheme, frozenset()).isdisjoint(b.ids.get(scheme, ())) for scheme in NAMED
    ) and _contradicted(a, b)


def _shared_number(a: Profile, b: Profile) -> Verdict | None:
    for scheme, name in NAMED.items():
        common = a.ids.get(scheme, frozenset()) & b.ids.get(scheme, frozenset())
        if common:
            number = f"{name} {min(common)}"
            if _contradicted(a, b):
                return Verdict(APART, f"both bear {number}, but nothing else agrees")
            return Verdict(DOCUMENT, f"same {number}")
    return _same_book(a, b) or _same_page(a, b)


def _same_book(a: Profile, b: Profile) -> Verdict | None:
    common = a.ids.get("isbn", frozenset()) & b.ids.get("isbn", frozenset())
    books = a.kind_class in _BOOKS and b.kind_class in _BOOKS and (a.kind_class or b.kind_class)
    if not common or not books or a.numbers != b.numbers or _alike(a, b) < _AGREE:
        return None
    return None if conflict(a, b) else Verdict(DOCUMENT, f"same ISBN {min(common)} and title")


def _same_page(a: Profile, b: Profile) -> Verdict | None:
    common = a.ids.get("url", frozenset()) & b.ids.get("url", frozenset())
    if not common or a.title != b.title or not a.title or conflict(a, b):
        return None
    same = WORK if year_gap(a, b) or document_conflict(a, b) else DOCUMENT
    return Verdict(same, f"same address {min(common)} and title")


def _patent_evidence(a: Profile, b: Profile) -> Verdict | None:
    """Return what publication, application, priority and family numbers say.

    One publication number and kind is one document; where one side does not say the kind,
    only a US number is (each US level has numbers of its own). One application's publications
    are versions. Identical priorities make a simple family, any shared one an extended family.
    """
    common = a.publications.keys() & b.publications.keys()
    if common:
        number = min(common)
        mine, theirs = a.publications[number], b.publications[number]
        if mine == theirs or (not (mine and theirs) and number.upper().startswith("US")):
            return Verdict(DOCUMENT, f"same publication {number}{mine or theirs}")
        kinds = " and ".join(sorted(kind or "kind not stated" for kind in (mine, theirs)))
        return Verdict(WORK, f"same publication number {number}, {kinds}")
    if not (is_patent(a) and is_patent(b)):
        return None
    applications = _applications(a) & _applications(b)
    if applications:
        return Verdict(WORK, f"same application {min(applications)}")
    return _family(a, b)


def _family(a: Profile, b: Profile) -> Verdict | None:
    """Return what priorities and a source's family numbers say (the EPO's simple and extended family).

    An application that is itself a priority of the other belongs to its family, also where it
    claims one of its own: a continuation may name its parent and not the parent's provisional.
    """
    shared = a.priorities & b.priorities
    if shared and a.priorities == b.priorities:
        return Verdict(WORK, f"same simple family: the same priorities ({', '.join(sorted(shared))})")
    numbers = a.ids.get("family", frozenset()) & b.ids.get("family", frozenset())
    if numbers:
        return Verdict(WORK, f"same family number {min(numbers)}")
    if shared:
        return Verdict(WORK, f"extended family: both have priority {min(shared)}")
    claimed = (a.priorities & _applications(b)) | (b.priorities & _applications(a))
    if claimed:
        number = min(claimed)
        return Verdict(WORK, f"extended family: application {number} of the one is a priority of the other")
    return None


def _applications(profile: Profile) -> frozenset[str]:
    return profile.ids.get("application", frozenset())


def _stated(a: Profile, b: Profile) -> Verdict | None:
    """Return what a's source states about its relation to b."""
    hits = sorted(
        (kind, scheme, key) for kind, scheme, key in a.relations if key and key in b.ids.get(scheme, ())
    )
    for kind, scheme, key in hits:
        if kind in _SAME_RELATIONS:
            same = DOCUMENT if kind == "same as" and not document_conflict(a, b) else WORK
            return Verdict(same, f"{a.source} states: {kind} {scheme} {key}")
    for kind, scheme, key in hits:
        if kind in _APART_RELATIONS:
            return Verdict(APART, f"{a.source} states: {kind} {scheme} {key}")
    return None


def _siblings(a: Profile, b: Profile) -> Verdict | None:
    """Join two that are stated to be versions of one third thing, on the shelf or not."""
    kinds = ("version of", "preprint of")
    mine, theirs = ({(s, key) for kind, s, key in p.relations if kind in kinds and key} for p in (a, b))
    scheme, key = min(mine & theirs, default=("", ""))
    return Verdict(WORK, f"both are stated to be versions of {scheme} {key}") if key else None


def _doi_forms(a: Profile, b: Profile) -> Verdict | None:
    """Join forms of one DOI where title and people agree as well."""
    if not _differ(a, b, "doi") or a.numbers != b.numbers or _alike(a, b) < _AGREE:
        return None
    forms = [(x, y) for x in a.ids["doi"] for y in b.ids["doi"] if _one_registration(x, y)]
    if not forms or (a.people and b.people and not a.people & b.people):
        return None
    return Verdict(WORK, "DOIs {} and {} are forms of one, and the titles agree".format(*min(forms)))
