"""What a run leaves to read in the morning: what is new, best first, and what failed."""

from __future__ import annotations

from pathlib import Path

from pipeline import cautions
from pipeline.append_log import write_file
from pipeline.listing import Hit, read_hits
from pipeline.matter import Matter
from pipeline.plain_text import public_text, safe
from pipeline.store import open_store

MOST = 25


def write_digest(matter: Matter, run_id: str) -> Path:
    """Write digests/<run>.md in the matter and return its path."""
    with open_store(matter.folder, read_only=True) as con:
        run = con.execute("SELECT outcome FROM run WHERE run_id = ?", [run_id]).fetchone()
        troubles = con.execute(
            "SELECT source, sweep, outcome, reason FROM search WHERE run_id = ? AND reason <> '' "
            "ORDER BY outcome, source, sweep",
            [run_id],
        ).fetchall()
    hits = read_hits(matter.folder)
    new = [hit for hit in hits if hit.first_run == run_id]
    lines = [f"# {safe(matter.name)}: run {run_id}, {run[0] if run else 'unknown'}", ""]
    lines += [
        f"{len(new)} new of {len(hits)} references; {sum(not hit.tag for hit in hits)} not judged yet.",
        "",
    ]
    for hit in new[:MOST]:
        lines.append(_line(hit))
    if len(new) > MOST:
        lines.append(f"… and {len(new) - MOST} more: antedate hits --run {run_id}")
    failed = [row for row in troubles if row[2] in ("failed", "incomplete")]
    lines += [
        "",
        "## Not answered in full" if failed else "Every source that was asked answered in full.",
        "",
    ]
    lines += [
        f"- {source}, {_plain(sweep)}: {outcome}: {_plain(reason)}"
        for source, sweep, outcome, reason in failed
    ]
    skipped = dict.fromkeys(f"- {row[0]}: {_plain(row[3])}" for row in troubles if row[2] == "skipped")
    if skipped:
        lines += ["", "## Not asked", "", *skipped]
    lines += ["", cautions.NEVER_PROOF, cautions.ESTIMATE, ""]
    path = matter.folder / "digests" / f"{run_id.replace(':', '')}.md"
    write_file(path, "\n".join(lines).encode())
    return path


def _line(hit: Hit) -> str:
    near = ", ".join(f"{match.element} {match.closeness:.2f}" for match in hit.closeness)
    facts = (
        f"public {public_text(hit.public)}",
        near,
        *map(_plain, hit.numbers[:2]),
        f"id {hit.reference_id}",
    )
    return f"{hit.place}. {_plain(hit.title) or '(no title stated)'}: " + "; ".join(filter(None, facts))


def _plain(text: str) -> str:
    """Return outside text so that Markdown shows it as it is."""
    return "".join(f"\\{char}" if char in "\\`*_[]<>#|" else char for char in safe(text, 300))
