"""The verdicts as CSV (RFC 4180): one row a reference, office and group of elements.

The cautions stand in the last column of every row, so that no row travels without them.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping

from pipeline import cautions
from pipeline.exports.csv_list import harmless
from pipeline.judging import Judged
from pipeline.listing import Hit
from pipeline.plain_text import public_text

COLUMNS = (
    "place", "id", "title", "numbers", "earliest public date", "stated by", "tag", "office", "elements",
    "verdict", "counts for", "reason", "citation", "would be settled by", "the office presumes",
    "declaration needed", "version", "basis", "rule", "caution",
)  # fmt: skip


def write_verdicts(hits: Iterable[Hit], judged: Mapping[str, tuple[Judged, ...]], basis: str) -> bytes:
    """Return the table in the order of the hits, UTF-8 with a byte order mark.

    basis: what the verdicts rest on. Cells that would begin a formula get an apostrophe.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for hit in hits:
        for one in judged.get(hit.reference_id, ()):
            writer.writerow([harmless(cell) for cell in _cells(hit, one, basis)])
    return out.getvalue().encode("utf-8-sig")


def _cells(hit: Hit, one: Judged, basis: str) -> tuple[str, ...]:
    verdict = one.verdict
    rule = cautions.written_down(verdict.rule_checked, verdict.rule_source) if verdict.rule_checked else ""
    return (
        str(hit.place or ""), hit.reference_id, hit.title, "; ".join(hit.numbers), public_text(hit.public),
        hit.public_says, hit.tag.tag if hit.tag else "", one.office, one.elements or "all",
        one.words + (" (provisional)" if verdict.provisional else ""), verdict.counts_for, verdict.reason,
        verdict.citation, "; ".join(verdict.settle_by), one.presumed, verdict.declaration_needed,
        one.version_id, basis, rule, f"{cautions.ESTIMATE} {cautions.UNDECIDED}",
    )  # fmt: skip
