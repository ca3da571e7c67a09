"""The one opener of the database: locked, newer, damaged, half-written."""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from threading import Barrier

import duckdb
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


def test_between_openings_the_file_is_anybodys(tmp_path: Path) -> None:
    """Another process writes between two openings, with nothing to wait for; the second reads what it wrote,
    also where the file is another one by then."""
    code = "import duckdb,sys; c=duckdb.connect(sys.argv[1]); c.execute(sys.argv[2]); c.close()"

    def write(statement: str) -> None:
        subprocess.run([sys.executable, "-c", code, str(tmp_path / FILE_NAME), statement], check=True)

    def terms() -> list[tuple[str]]:
        with open_store(tmp_path, read_only=True) as con:
            return con.execute("SELECT terms FROM topic").fetchall()

    with open_store(tmp_path) as con:
        con.execute("INSERT INTO topic VALUES (1, 'ours', 1)")
    assert not (tmp_path / f"{FILE_NAME}.wal").exists()
    write("UPDATE topic SET terms = 'theirs'")
    assert terms() == [("theirs",)]
    (tmp_path / FILE_NAME).replace(tmp_path / "aside")
    with open_store(tmp_path) as con:
        con.execute("INSERT INTO topic VALUES (1, 'anew', 1)")
    assert terms() == [("anew",)]


def test_openings_at_once_are_of_one_mode(tmp_path: Path) -> None:
    """Within a process too a writer waits for readers, and is told apart from them; several databases do not mix."""
    folders = [tmp_path / str(number) for number in range(7)]
    for number, folder in enumerate(folders):
        folder.mkdir()
        with open_store(folder) as con:
            con.execute("INSERT INTO topic VALUES (?, '', 1)", [number])
    with ExitStack() as held:
        reading = [held.enter_context(open_store(folder, read_only=True)) for folder in folders]
        found = [con.execute("SELECT topic_id FROM topic").fetchall() for con in reading]
        assert found == [[(number,)] for number in range(7)]
        with pytest.raises(StoreLocked), open_store(folders[0], wait_s=0.1):
            pass
    with open_store(folders[0]) as con:
        con.execute("DELETE FROM topic")


def test_after_a_failure_it_opens_as_before(tmp_path: Path) -> None:
    """A statement that DuckDB refuses ends its opening alone."""
    with pytest.raises(duckdb.Error), open_store(tmp_path) as con:
        con.execute("INSERT INTO topic VALUES (1, 'lost', 1)")
        con.execute("SELECT no_such_column FROM topic")
    with open_store(tmp_path) as con:
        assert con.execute("SELECT * FROM topic").fetchall() == []


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="only Linux tells what a process holds")
def test_a_large_database_leaves_no_memory_held(tmp_path: Path) -> None:
    """DuckDB gives back what it read only with all that it set up: of a large file nothing is kept."""
    code = (
        "import resource, sys; from pathlib import Path; from pipeline.store import open_store\n"
        "def held(): return int(Path('/proc/self/statm').read_text().split()[1]) * resource.getpagesize() >> 20\n"
        "with open_store(Path(sys.argv[1])) as con:\n"
        "    con.execute('CREATE TABLE big AS SELECT hash(i) AS a, hash(i + 1) AS b FROM range(6000000) r(i)')\n"
        "before = held()\n"
        "with open_store(Path(sys.argv[1]), read_only=True) as con:\n"
        "    con.execute('CREATE TEMP TABLE sorted AS FROM big ORDER BY a'); inside = held()\n"
        "print(before, inside, held())\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True, check=True
    )
    before, inside, after = (int(word) for word in done.stdout.split())
    assert inside > before + 100
    assert after < before + 50
