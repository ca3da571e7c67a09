"""A body read to its end or not at all: bounded before and after decoding."""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator

GZIP = 31  # zlib's window bits for a gzip stream
PIECE = 1 << 18  # bytes decoded at a time


class BodyTooLarge(Exception):
    """The body, as sent or decoded, passed the limit; reading stopped there."""


class BodyBroken(Exception):
    """The body is not what its headers say; the text says how."""


def read_body(chunks: Iterable[bytes], encoding: str, limit_bytes: int) -> bytes:
    """Return the whole body, decoded.

    chunks: the body as sent, in pieces. encoding: its Content-Encoding ('', 'identity',
    'gzip'). Never holds more than limit_bytes and one piece.
    Raises BodyTooLarge past limit_bytes, BodyBroken for a cut or garbled gzip stream and
    for an encoding that was not asked for.
    """
    coding = encoding.strip().lower()
    if coding in ("", "identity"):
        return _joined(chunks, limit_bytes)
    if coding in ("gzip", "x-gzip"):
        return _joined(_gunzipped(chunks), limit_bytes)
    raise BodyBroken(f"its body has the encoding {coding[:40]!r}, which was not asked for")


def _joined(chunks: Iterable[bytes], limit_bytes: int) -> bytes:
    body = bytearray()
    for chunk in chunks:
        if len(body) + len(chunk) > limit_bytes:
            raise BodyTooLarge
        body += chunk
    return bytes(body)


def _gunzipped(chunks: Iterable[bytes]) -> Iterator[bytes]:
    """Yield the decoded pieces; several gzip members one after another are one body (RFC 1952)."""
    stream, begun = zlib.decompressobj(GZIP), False
    for chunk in chunks:
        rest = chunk
        while rest:
            if stream.eof:
                rest = rest.lstrip(b"\0")  # padding after the last member
                stream, begun = zlib.decompressobj(GZIP), False
            if rest:
                yield _piece(stream, rest)
                begun, rest = True, stream.unused_data if stream.eof else stream.unconsumed_tail
    if begun and not stream.eof:
        raise BodyBroken("its answer was cut off inside a gzip stream")


def _piece(stream: zlib._Decompress, data: bytes) -> bytes:
    """Return the next PIECE bytes at most, so that a bomb unfolds only as far as it is read."""
    try:
        return stream.decompress(data, PIECE)
    except zlib.error:
        raise BodyBroken("its gzip body is garbled") from None
