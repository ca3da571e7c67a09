"""The README's table of what each source's dates prove, its limits, nights and terms: from the declarations.

Run from anywhere: `python tests/readme_sources.py` writes it anew into the README.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from connectors.connector import Source  # noqa: E402
from connectors.record import PUBLIC_EVENTS  # noqa: E402
from connectors.registry import CONNECTORS  # noqa: E402
from pipeline.plan import LATE_ARRIVALS, WHOLE_EVERY  # noqa: E402

README = ROOT / "README.md"
BEGIN = "<!-- from here to the end of the table: python tests/readme_sources.py -->\n"
END = "<!-- end of the table -->"
HEAD = (
    "| source | its dates, and what each proves | limits | asked each night | terms of use |\n"
    "| --- | --- | --- | --- | --- |\n"
)


def table() -> str:
    """Return the table, a row for each source of the registry."""
    return HEAD + "\n".join(_row(connector.SOURCE) for connector in CONNECTORS)


def _row(source: Source) -> str:
    cells = (f"`{source.name}`", _dates(source), _limits(source), _night(source), _terms(source))
    return "| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |"


def _dates(source: Source) -> str:
    kinds = source.dates_stated.items()
    public = [f"**{kind}**: {proves}" for kind, proves in kinds if PUBLIC_EVENTS[kind]]
    others = [f"{kind}: {proves}" for kind, proves in kinds if not PUBLIC_EVENTS[kind]]
    return ". ".join((*public, *others))


def _limits(source: Source) -> str:
    if source.ranked_depth:
        reach = f"the best {source.ranked_depth} of each request"
    else:
        reach = f"to {source.depth:,} of a query" if source.depth else "to the end"
    pace = f"; one request every {source.seconds_between:g} s" if source.seconds_between else ""
    return f"{source.page_size:,} a page, {reach}{pace}"


def _night(source: Source) -> str:
    if source.added_filter:
        news = f"what was added or changed, with {LATE_ARRIVALS.days} days' overlap"
        return f"{news}; every {WHOLE_EVERY.days} days everything"
    again = f"; families again after {source.look_up_again_days} days" if source.look_up_again_days else ""
    return f"everything, since it does not tell what is new{again}"


def _terms(source: Source) -> str:
    off = f" **Off** until you turn it on: {source.off_because}." if source.off_because else ""
    return source.terms_of_use.rstrip(".") + "." + off


def readme_with_table(text: str) -> str:
    """Return the README with the table as it must stand there."""
    before, begin, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not (begin and end):
        raise SystemExit(f"{README} lacks the lines between which the table stands")
    return f"{before}{begin}{table()}\n{end}{after}"


if __name__ == "__main__":
    README.write_text(readme_with_table(README.read_text(encoding="utf-8")), encoding="utf-8")
