"""Descriptions out of a corpus, paragraph by paragraph, for the documents asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pipeline.corpus.folder import CorpusFolder
from queries.expression import run_of


@dataclass(frozen=True)
class Paragraph:
    """A paragraph as printed. number: as printed, "" for a heading or where there is none."""

    number: str
    text: str

    def holds(self, words: str) -> bool:
        """Say whether the words stand in it next to each other, in order, case aside."""
        return run_of(words) in run_of(self.text)


def read_paragraphs(folder: Path, names: Sequence[str]) -> dict[str, tuple[Paragraph, ...]]:
    """Return the paragraphs of the documents of these names that the corpus has a description of.

    A document loaded twice is read as it was loaded last. Only the parts of the corpus that
    may hold the names are read. {} where there is no corpus.
    """
    import duckdb

    tables = [str(path) for path in CorpusFolder(folder).tables("paragraphs")]
    if not tables or not names:
        return {}
    query = (
        "SELECT filename, id, numbers, texts FROM read_parquet($tables, filename = true) "
        "WHERE id IN (SELECT unnest($names)) AND len(texts) > 0"
    )
    with duckdb.connect(config={"autoinstall_known_extensions": False}) as con:
        rows = con.execute(query, {"tables": tables, "names": list(names)}).fetchall()
    latest = {
        name: (numbers, texts) for _, name, numbers, texts in sorted(rows, key=lambda r: tables.index(r[0]))
    }
    return {name: tuple(map(Paragraph, *latest[name])) for name in dict.fromkeys(names) if name in latest}
