"""The one opener of the database: locked, newer, damaged, half-written."""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import pyarrow as pa
import pytest

from pipeline.errors import NotFound, StoreDamaged, StoreLocked, StoreTooNew
from pipeline.store import FILE_NAME, VERSION, open_store


def test_everything_in_one_opening_is_all_or_nothing(tmp_path: Path) -> None:
    """An error inside leaves the database as it was."""
    with open_store(tmp_path) as con:
        con.execute("INSERT INTO topic VALUES (1, 'kept', 1)")
    with pytest.raises(ZeroDivisionError), open_store(tmp_path) as con:
        con.execute("INSERT INTO topic VALUES (2, 'lost', 1)")
        raise ZeroDivisionError
    with open_store(tmp_path, read_only=True) as con:
        assert con.execute("SELECT terms FROM topic").fetchall() == [("kept",)]


def test_a_held_database_names_its_holder(tmp_path: Path) -> None:
    """Another process with the file open: StoreLocked with its process number, nothing changed."""
    with open_store(tmp_path):
        pass
    code = f"import duckdb,sys; c=duckdb.connect(r'{tmp_path / FILE_NAME}'); print('held',flush=True); sys.stdin.read()"
    with subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as holder:
        assert holder.stdout is not None
        holder.stdout.readline()
        with (
            pytest.raises(StoreLocked, match=rf"process {holder.pid}\).*Try again"),
            open_store(tmp_path, wait_s=0.2),
        ):
            pass
        holder.communicate(b"")
    with open_store(tmp_path, wait_s=0.2) as con:
        assert con.execute("SELECT version FROM meta").fetchone() == (VERSION,)


def test_a_newer_database_is_left_alone(tmp_path: Path) -> None:
    """A version this program does not know is refused with both numbers."""
    with open_store(tmp_path) as con:
        con.execute("UPDATE meta SET version = 99")
    with pytest.raises(StoreTooNew, match="schema 99; this program knows"), open_store(tmp_path):
        pass


def test_a_damaged_database_says_how_to_mend(tmp_path: Path) -> None:
    """Bytes that are no database: the error names rebuild."""
    (tmp_path / FILE_NAME).write_bytes(b"not a database" * 1000)
    with pytest.raises(StoreDamaged, match="antedate rebuild"), open_store(tmp_path):
        pass


def test_reading_where_nothing_was_searched(tmp_path: Path) -> None:
    """Reading makes no database; the error says what to run."""
    with pytest.raises(NotFound, match="antedate run"), open_store(tmp_path, read_only=True):
        pass
    assert not (tmp_path / FILE_NAME).exists()


def test_threads_may_open_it_all_at_once(tmp_path: Path) -> None:
    """A page's drawings are asked for together: each connection reads, and takes in tables, from the start."""
    with open_store(tmp_path) as con:
        con.execute("INSERT INTO topic VALUES (1, 'a', 1), (2, 'b', 1)")

    together = Barrier(6)  # all closed before, so that each round one of them is the first to open it

    def read(number: int) -> int:
        together.wait(30)
        with open_store(tmp_path, read_only=True) as con:
            con.register("wanted", pa.table({"topic_id": pa.array([number % 2 + 1], pa.int32())}))
            found = con.execute("SELECT count(*) FROM topic SEMI JOIN wanted USING (topic_id)").fetchall()
        together.wait(30)
        return int(found[0][0])

    with ThreadPoolExecutor(6) as pool:
        assert set(pool.map(read, range(300))) == {1}
