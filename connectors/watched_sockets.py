"""A deadline for the whole of an attempt, headers and body together.

A read time-out counts anew with every read, so a source that sends a byte a second would
hold the run for ever. The watch shuts the socket from outside when the time is up.
"""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

from urllib3 import HTTPConnectionPool, HTTPSConnectionPool
from urllib3.connection import HTTPConnection, HTTPSConnection


class Watch:
    """Shuts the one open socket when an attempt lasts too long. expired: it did."""

    def __init__(self) -> None:
        """Begin with no socket and nothing to watch."""
        self.expired = False
        self._socket: socket.socket | None = None

    def opened(self, sock: socket.socket) -> None:
        """Take note of the socket in use; shut it at once where time is already up."""
        self._socket = sock
        if self.expired:
            self._end()

    def certificate(self) -> bytes:
        """Return the certificate (DER) that the other side of the open socket showed, b"" without TLS."""
        shown = getattr(self._socket, "getpeercert", None)
        return (shown(binary_form=True) or b"") if shown else b""

    @contextmanager
    def over(self, total_s: float) -> Iterator[None]:
        """Watch what happens inside: after total_s the socket is shut and expired is True."""
        self.expired = False
        timer = threading.Timer(total_s, self._end)
        timer.daemon = True
        timer.start()
        try:
            yield
        finally:
            timer.cancel()
            timer.join()

    def _end(self) -> None:
        self.expired = True
        if self._socket is not None:
            with suppress(OSError):  # closed already
                # Not the SSL socket's own shutdown: that one changes state under the reader.
                socket.socket.shutdown(self._socket, socket.SHUT_RDWR)


def watched_pools(watch: Watch) -> dict[str, Any]:
    """Return urllib3's pool classes by scheme, with connections that tell the watch their socket."""

    class Plain(HTTPConnection):
        def connect(self) -> None:
            super().connect()
            if self.sock is not None:
                watch.opened(self.sock)

    class Secure(HTTPSConnection):
        def connect(self) -> None:
            super().connect()
            if self.sock is not None:
                watch.opened(self.sock)

    class PlainPool(HTTPConnectionPool):
        ConnectionCls = Plain

    class SecurePool(HTTPSConnectionPool):
        ConnectionCls = Secure

    return {"http": PlainPool, "https": SecurePool}
