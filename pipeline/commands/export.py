"""`antedate export`: the cited-reference list in the format asked for."""

from __future__ import annotations

from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path

from pipeline import cautions
from pipeline.append_log import write_file
from pipeline.cited import read_cited
from pipeline.errors import NotFound
from pipeline.exports import FORMATS
from pipeline.matter import load_matter
from pipeline.plain_text import wrapped


def export(args: Namespace) -> int:
    """Write the references with the tags chosen; the file's ending says the format."""
    matter = load_matter(args.matter)
    write = FORMATS.get(args.file.suffix.lower().lstrip("."))
    if write is None:
        raise NotFound(f"{args.file}: no format goes by that ending; known: {', '.join(FORMATS)}")
    cited = read_cited(matter, datetime.now(UTC).date(), tuple(args.tags))
    if not cited:
        raise NotFound(
            f"no reference is tagged {' or '.join(args.tags)}; nothing was written. "
            f"Tag some with: antedate tag {args.matter} ID relevant"
        )
    write_file(Path(args.file), write(cited))
    print(f"{len(cited)} references written to {args.file}")
    flagged = [(one.number or one.title, flag) for one in cited for flag in one.flags]
    for name, flag in flagged:
        print(wrapped(f"{name}: {flag}", "  ", 300))
    for caution in (cautions.NOT_A_FILING, cautions.DUTY, cautions.PERSONAL_DATA):
        print(wrapped(caution))
    return 0
