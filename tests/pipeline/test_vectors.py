"""Vectors found again by the text they were made of."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.embed import text_key
from pipeline.store import open_store
from pipeline.vectors import text_of, vectors_of

RECORD = """INSERT INTO record VALUES ('r', 1, 'files', 'r', 1, 0, 'run', 'c', 'article', ?, ?, '', [], '', '', '',
'', '', '', '', FALSE, [], [])"""
# Everything that str.strip takes away, and signs that look so and that it leaves.
BLANK = "".join(chr(code) for code in range(1, 0x110000) if chr(code).isspace())
TEXTS = [("", ""), ("Emitter", ""), ("", "Of clay."), ("Emitter", "Of clay."), (BLANK, "Of clay."), ("Emitter", BLANK),
         ("\u200b", "\ufeff"), (" Emitter ", "\u00a0Of clay.\u3000"), ("滴灌", "Ω\n'")]  # fmt: skip


@pytest.mark.parametrize(("title", "abstract"), TEXTS)
def test_a_record_finds_the_vector_of_its_text(title: str, abstract: str, tmp_path: Path) -> None:
    """The key that DuckDB makes of title and abstract is the one that the vector was kept under."""
    with open_store(tmp_path) as con:
        con.execute(RECORD, [title, abstract])
        kept = [text_key(text_of(title, abstract)), "model", [0.6, 0.8]]
        con.execute("INSERT INTO embedding VALUES (?, ?, ?)", kept)
        assert vectors_of(con, ["r", "none"], "model")["record_id"].to_pylist() == ["r"]
        assert not vectors_of(con, ["r"], "another").num_rows


def test_another_text_finds_no_vector(tmp_path: Path) -> None:
    """A changed abstract has no vector until it is embedded."""
    with open_store(tmp_path) as con:
        con.execute(RECORD, ["Emitter", "Of clay."])
        con.execute("INSERT INTO embedding VALUES (?, 'model', [1.0])", [text_key("Emitter\nOf sand.")])
        assert not vectors_of(con, ["r"], "model").num_rows
