"""`antedate verdicts`: each office's verdict on each reference, as a table for the practitioner."""

from __future__ import annotations

from argparse import Namespace
from datetime import UTC, datetime

from pipeline import cautions
from pipeline.append_log import write_file
from pipeline.errors import NotFound
from pipeline.exports.verdicts_csv import write_verdicts
from pipeline.judging import Judging
from pipeline.listing import read_hits
from pipeline.matter import load_matter
from pipeline.plain_text import wrapped


def verdicts(args: Namespace) -> int:
    """Write the table. A working paper: unlike the cited-reference list it is not for filing."""
    matter = load_matter(args.matter)
    if args.file.suffix.lower() != ".csv":
        raise NotFound(f"{args.file}: the table is written as .csv; give the file that ending")
    hits = [hit for hit in read_hits(args.matter) if not args.tags or (hit.tag and hit.tag.tag in args.tags)]
    judging = Judging(matter, datetime.now(UTC).date(), args.if_filed_on)
    judged = judging.judge(args.matter, [hit.reference_id for hit in hits])
    if not judged:
        raise NotFound("no reference to judge; nothing was written. Run the matter, or give other --tags.")
    write_file(args.file, write_verdicts(hits, judged, judging.basis))
    rows = sum(map(len, judged.values()))
    print(f"{rows} verdicts on {len(judged)} references written to {args.file}")
    for caution in (
        judging.basis,
        cautions.ESTIMATE,
        cautions.UNDECIDED,
        cautions.ONE_VERSION,
        cautions.RULES,
    ):
        print(wrapped(caution))
    return 0
