"""Two runs of one matter never overlap: a lock the system lets go of when the holder dies."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline.errors import RunInProgress
from pipeline.file_lock import lock


@contextmanager
def run_lock(folder: Path) -> Iterator[None]:
    """Hold the matter's run lock. Raises RunInProgress, naming the process that holds it."""
    busy = (
        f"{folder}: a run is going on (process {{holder}}). Nothing was started; "
        f"follow it with: antedate status {folder}"
    )
    with hold(folder / "run.lock", busy):
        yield


@contextmanager
def hold(path: Path, busy: str) -> Iterator[None]:
    """Hold the lock file. Raises RunInProgress with busy, {holder} in it being who holds it."""
    handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        try:
            lock(handle, wait=False)
        except OSError as error:
            holder = os.read(handle, 20).decode("ascii", "replace").strip() or "unknown"
            raise RunInProgress(busy.replace("{holder}", holder)) from error
        os.ftruncate(handle, 0)
        os.pwrite(handle, f"{os.getpid()}\n".encode(), 0) if hasattr(os, "pwrite") else None
        yield
    finally:
        os.close(handle)
