"""A lock on an open file that the system lets go of when the holder closes it or dies."""

from __future__ import annotations

import os
import sys

if sys.platform == "win32":
    import msvcrt

    # Windows locks bytes and shuts readers out of them: take one far behind any content.
    _BYTE = 0x7FFF0000

    def lock(handle: int, wait: bool) -> None:
        """Hold the file until it is closed. Raises OSError where another does and wait is False."""
        place = os.lseek(handle, 0, os.SEEK_CUR)
        os.lseek(handle, _BYTE, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_LOCK if wait else msvcrt.LK_NBLCK, 1)
        os.lseek(handle, place, os.SEEK_SET)
else:
    import fcntl

    def lock(handle: int, wait: bool) -> None:
        """Hold the file until it is closed. Raises OSError where another does and wait is False."""
        fcntl.flock(handle, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
