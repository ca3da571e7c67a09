"""The only opener of a matter's database: short connections, so that nobody is shut out."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.resources import files
from pathlib import Path

import duckdb

from pipeline.append_log import write_failed
from pipeline.errors import DiskFull, NothingSearched, StoreDamaged, StoreLocked, StoreTooNew

VERSION = 3
FILE_NAME = "antedate.duckdb"
# A missing extension would be looked for on the network. Left to itself DuckDB keeps what it has
# read in four fifths of the memory; past this limit it works through a folder beside the database.
_CONFIG: dict[str, str | bool | int | float | list[str]] = {
    "memory_limit": "2GB",
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
}

# Connections of one process share what DuckDB 2.0.1 sets up for the first of them; a second
# thread may get it before the reader of Arrow tables is in it ("python_arrow_scan does not exist").
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
    try:
        _check_version(con, path, read_only)
        con.execute("BEGIN")
        yield con
        con.execute("COMMIT")
    except duckdb.OutOfMemoryException as error:
        raise DiskFull(f"{path}: DuckDB ran out of memory or temporary space: {error}") from error
    except duckdb.IOException as error:
        raise _io_failed(error, path) from error
    finally:
        con.close()


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
                return duckdb.connect(str(path), read_only=read_only, config=_CONFIG)
        except (duckdb.IOException, duckdb.ConnectionException) as error:
            if not _is_lock(error):
                raise _io_failed(error, path) from error
            if waited >= wait_s:
                raise _locked(error, path, waited) from error
        sleep(0.05)
        waited += 0.05


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
