"""What the user judged of each reference: tags follow the records they were made on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from pipeline.decisions import Decision


@dataclass(frozen=True)
class Tag:
    """The standing judgement on a reference. elements: letters it shows; category: ST.14."""

    tag: str
    note: str
    elements: tuple[str, ...]
    category: str
    decision: Decision


def tags_by_reference(standing: Iterable[Decision], reference_of: Mapping[str, str]) -> dict[str, list[Tag]]:
    """Return reference_id -> its tags, latest first; the first is the one in force.

    reference_of: record_id -> reference_id, for every record. A tag holds for every
    reference that has a record it was made on: after a merge both tags stand in the
    history, after a split each part keeps it.
    """
    tags: dict[str, list[Tag]] = {}
    for decision in standing:
        if decision.kind == "tag":
            references = (reference_of.get(record) for record in decision.records)
            for reference in dict.fromkeys(filter(None, references)):
                tags.setdefault(reference, []).insert(0, _tag(decision))
    return tags


def _tag(decision: Decision) -> Tag:
    facts = decision.facts
    return Tag(facts["tag"], facts["note"], tuple(facts["elements"]), facts["category"], decision)
