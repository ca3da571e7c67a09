"""One file a format; each turns listed references into bytes."""

from __future__ import annotations

from collections.abc import Callable

from pipeline.cited_reference import CitedReference
from pipeline.exports.csl_json import write_csl
from pipeline.exports.csv_list import write_csv
from pipeline.exports.ris import write_ris
from pipeline.exports.xlsx import write_xlsx

# By the file's ending. No format carries scores, verdicts, tags or the user's notes.
FORMATS: dict[str, Callable[[tuple[CitedReference, ...]], bytes]] = {
    "csv": write_csv,
    "ris": write_ris,
    "json": write_csl,
    "xlsx": write_xlsx,
}
