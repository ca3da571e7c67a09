"""The only opener of a matter's database: held for moments only, so that nobody is shut out.

What DuckDB sets up before it reads the first byte (its functions and types) is most of an
opening. It is kept for the small databases last opened, without the files: those are let go each
time. A large one's is given up, since only so does the memory go back that its work took.
"""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import duckdb

from pipeline.append_log import write_failed
from pipeline.errors import DiskFull, NothingSearched, StoreDamaged, StoreLocked, StoreTooNew

VERSION = 4
FILE_NAME = "antedate.duckdb"
# A missing extension would be looked for on the network. Left to itself DuckDB keeps what it has
# read in four fifths of the memory; past this limit it works through a folder beside the database.
_CONFIG: dict[str, str | bool | int | float | list[str]] = {
    "memory_limit": "2GB",
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
}


@dataclass
class _Engine:
    """DuckDB as set up for one database. users: how many openings hold its file now, in one mode.

    sound: no opening failed.
    """

    con: duckdb.DuckDBPyConnection
    read_only: bool = False
    users: int = 0
    sound: bool = True


# By the database's path, the last used last. One thread at a time changes it: a second could be
# handed an engine before the reader of Arrow tables is in it ("python_arrow_scan does not exist").
_ENGINES: dict[Path, _Engine] = {}
_MOST_ENGINES = 4
_SMALL_BYTES = 32 << 20
_CONNECTING = threading.Lock()


@contextmanager
def open_store(
    folder: Path,
    read_only: bool = False,
    wait_s: float = 20.0,
    sleep: Callable[[float], None] = time.sleep,
) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open the matter's database, making it when absent, and close it at the end.

    Everything inside is one transaction: it is all there afterwards, or nothing is.
    read_only: many may read at once; NothingSearched where there is no database yet.
    Waits up to wait_s for another program to let go. Raises StoreLocked, StoreTooNew,
    StoreDamaged or DiskFull.
    """
    path = folder / FILE_NAME
    if read_only and not path.exists():
        raise NothingSearched(f"{folder}: nothing has been searched yet. Run: antedate run {folder}")
    con = _connect(path, read_only, wait_s, sleep)
    sound = True
    try:
        _check_version(con, path, read_only)
        con.execute("BEGIN")
        yield con
        con.execute("COMMIT")
    except duckdb.Error as error:
        sound = False
        if isinstance(error, duckdb.OutOfMemoryException):
            raise DiskFull(f"{path}: DuckDB ran out of memory or temporary space: {error}") from error
        if isinstance(error, duckdb.IOException):
            raise _io_failed(error, path) from error
        raise
    finally:
        _let_go(path, con, sound)


def store_state(folder: Path) -> tuple[int, ...]:
    """Return what changes whenever another program writes the database; () where there is none."""
    found = []
    for path in (folder / FILE_NAME, folder / f"{FILE_NAME}.wal"):
        try:
            about = path.stat()
        except FileNotFoundError:
            continue
        found += [about.st_ino, about.st_mtime_ns, about.st_size]
    return tuple(found)


def _connect(
    path: Path, read_only: bool, wait_s: float, sleep: Callable[[float], None]
) -> duckdb.DuckDBPyConnection:
    waited = 0.0
    while True:
        try:
            with _CONNECTING:
                return _attached(path.resolve(), read_only)
        except (duckdb.IOException, duckdb.ConnectionException) as error:
            if not _is_lock(error):
                raise _io_failed(error, path) from error
            if waited >= wait_s:
                raise _locked(error, path, waited) from error
        sleep(0.05)
        waited += 0.05


def _attached(path: Path, read_only: bool) -> duckdb.DuckDBPyConnection:
    """Return a connection to the file, which is attached for as long as anyone here uses it."""
    engine = _ENGINES.pop(path, None) or _Engine(
        duckdb.connect(config={**_CONFIG, "temp_directory": str(_spilled(path))})
    )
    if not engine.users:
        quoted = str(path).replace("'", "''")
        try:
            engine.con.execute(f"ATTACH '{quoted}' AS store {'(READ_ONLY)' if read_only else ''}")
        except duckdb.Error:
            engine.con.close()
            raise
        engine.read_only = read_only
    _ENGINES[path] = engine
    if engine.read_only != read_only:
        raise duckdb.ConnectionException("it is open here in a different configuration")
    engine.users += 1
    idle = [other for other, kept in _ENGINES.items() if not kept.users]
    for other in idle[: max(0, len(_ENGINES) - _MOST_ENGINES)]:
        _ENGINES.pop(other).con.close()
    con = engine.con.cursor()
    con.execute("USE store")
    return con


def _let_go(path: Path, con: duckdb.DuckDBPyConnection, sound: bool) -> None:
    """Close the connection, and the file after the last; an engine not worth keeping is given up."""
    path = path.resolve()
    with _CONNECTING:
        con.close()
        engine = _ENGINES[path]
        engine.users -= 1
        engine.sound = engine.sound and sound
        if engine.users:
            return
        try:
            engine.con.execute("DETACH store")
        except duckdb.Error:  # as when the disk is full: what was written is in the log beside the file
            engine.sound = False
        large = path.exists() and path.stat().st_size > _SMALL_BYTES
        if not engine.sound or large or _spilled(path).exists():
            _ENGINES.pop(path).con.close()


def _spilled(path: Path) -> Path:
    """Return the folder that DuckDB puts beside the file for what its memory doesn't hold."""
    return path.with_name(f"{path.name}.tmp")


def _is_lock(error: duckdb.Error) -> bool:
    text = str(error).lower()
    return "lock" in text or "different configuration" in text


def _locked(error: duckdb.Error, path: Path, waited_s: float) -> StoreLocked:
    holder = re.search(r"held in (\S+) \(PID (\d+)\)", str(error))
    who = f"{holder.group(1)} (process {holder.group(2)})" if holder else "another program"
    return StoreLocked(
        f"{path} is held by {who}; waited {waited_s:.0f} s. Nothing was changed. "
        "Try again when it is done, or end that process."
    )


def _io_failed(error: duckdb.Error, path: Path) -> StoreDamaged | DiskFull:
    text = str(error)
    if "No space left" in text or "File too large" in text:
        failed = write_failed(OSError(28, "No space left on device"), path)
        return failed if isinstance(failed, DiskFull) else DiskFull(text)
    if "version number" in text:
        return StoreDamaged(f"{path} is no database this DuckDB reads. Run: antedate rebuild {path.parent}")
    return StoreDamaged(
        f"{path} can't be read: {text.splitlines()[0]}. Everything in it can be made again: "
        f"antedate rebuild {path.parent}"
    )


def _check_version(con: duckdb.DuckDBPyConnection, path: Path, read_only: bool) -> None:
    version = _version(con)
    if version is None and not read_only:
        con.execute("BEGIN")
        con.execute(files("pipeline").joinpath("schema.sql").read_text(encoding="utf-8"))
        con.execute("INSERT INTO meta VALUES (?)", [VERSION])
        con.execute("COMMIT")
    elif version is None or version < VERSION:
        raise StoreDamaged(f"{path} was written by an older version. Run: antedate rebuild {path.parent}")
    elif version > VERSION:
        raise StoreTooNew(
            f"{path} was written by a newer version (schema {version}; this program knows {VERSION}). "
            "Nothing was changed. Update the program, or work with the newer one."
        )


def _version(con: duckdb.DuckDBPyConnection) -> int | None:
    # Asked at every opening: looking first whether there is the table would cost half an opening more.
    try:
        row = con.execute("SELECT max(version) FROM meta").fetchone()
    except duckdb.CatalogException:
        return None
    return int(row[0]) if row and row[0] is not None else None
