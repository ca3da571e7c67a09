"""A file of JSON lines that only grows. A line is on the disk before it is acknowledged."""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.errors import DiskFull, StoreDamaged
from pipeline.file_lock import lock


@dataclass(frozen=True)
class AppendLog:
    """The log at path. Several programs may append: each line goes out in one write."""

    path: Path

    def append(self, line: dict[str, Any], check: Callable[[], None] = lambda: None) -> None:
        """Add the line; when this returns it survives a crash of program and machine.

        check is called first, while no other program can append; what it raises leaves the
        log as it was.
        """
        data = json.dumps(line, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
        try:
            handle = os.open(self.path, os.O_RDWR | os.O_APPEND | os.O_CREAT, 0o600)
            try:
                lock(handle, wait=True)
                check()
                # A crash may have left half a line; it was never acknowledged. Starting on a
                # fresh line keeps the new one whole.
                _write_all(handle, b"\n" + data if _ends_torn(handle) else data)
                os.fsync(handle)
            finally:
                os.close(handle)
        except OSError as error:
            raise write_failed(error, self.path) from error

    def lines(self) -> Iterator[tuple[int, dict[str, Any]]]:
        """Yield (line number, line) in order, leaving out lines torn by a crash."""
        if not self.path.exists():
            return
        with self.path.open("rb") as handle:
            for number, raw in enumerate(handle, 1):
                line = _whole(raw)
                if line is not None:
                    yield number, line

    def torn(self) -> list[int]:
        """Return the numbers of the lines that do not read: writes that a crash cut off."""
        if not self.path.exists():
            return []
        with self.path.open("rb") as handle:
            return [number for number, raw in enumerate(handle, 1) if raw.strip() and _whole(raw) is None]


def write_file(path: Path, data: bytes) -> None:
    """Write the file so that it is either whole or absent, and on the disk, when this returns."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("wb") as handle:
            handle.write(data)
            handle.flush()
            os.fsync(handle.fileno())
        part.replace(path)
        _sync_folder(path.parent)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise write_failed(error, path) from error


def write_failed(error: OSError, path: Path) -> DiskFull | StoreDamaged:
    """Return our error for a failed write to path."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return DiskFull(
            f"{path}: no space left to write. Everything acknowledged before is kept. "
            "Free some space and give the command again: it goes on where it stopped."
        )
    return StoreDamaged(f"{path}: can't be written ({error.strerror}). Check its permissions and the disk.")


def _whole(raw: bytes) -> dict[str, Any] | None:
    try:
        line = json.loads(raw)
    except ValueError:
        return None
    return line if isinstance(line, dict) else None


def _ends_torn(handle: int) -> bool:
    try:
        size = os.lseek(handle, 0, os.SEEK_END)
    except OSError:  # a device, not a file
        return False
    if size == 0:
        return False
    os.lseek(handle, size - 1, os.SEEK_SET)
    return os.read(handle, 1) != b"\n"


def _write_all(handle: int, data: bytes) -> None:
    while data:
        data = data[os.write(handle, data) :]


def _sync_folder(folder: Path) -> None:
    if os.name == "nt":  # Windows can't open a folder to sync it
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
