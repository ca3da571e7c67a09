"""A file of many XML documents behind one another → the documents, one at a time.

The office's weekly files are not XML as a whole: each document in them has a declaration and
a document type of its own (fact read in the office's product records: "concatenated").
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

# A weekly file holds documents of up to some 10 MB; sequence listings can be longer.
MOST_BYTES = 64_000_000
_CHUNK = 1 << 20
# Neither can stand inside an element but in a CDATA section, which the office does not use.
_START = re.compile(rb"<\?xml\s|<!DOCTYPE\s")
_LONGEST_START = 10
_ELEMENT = re.compile(rb"<[A-Za-z]")
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


@dataclass(frozen=True)
class Piece:
    """One document as it stands in the file: bytes [offset, offset + size).

    body: its bytes; b"" where problem says why they were not kept.
    """

    offset: int
    size: int
    body: bytes
    problem: str = ""


def pieces(read: Callable[[int], bytes], most_bytes: int = MOST_BYTES) -> Iterator[Piece]:
    """Yield every document of the stream in order; nothing but blanks between them is left out.

    read: as a binary file's. At most most_bytes and a chunk are held at a time: a longer
    document is passed over, and its piece says so. A stream without a declaration is one document.
    """
    buffer, offset, scan, dropped = bytearray(), 0, 1, 0
    has_element = False
    while chunk := read(_CHUNK):
        buffer += chunk
        while found := _START.search(buffer, scan):
            at = found.start()
            has_element = has_element or _ELEMENT.search(buffer, 0, at) is not None
            if not has_element and found[0].startswith(b"<!D"):
                scan = at + 1  # the document type of the declaration before it
                continue
            yield from _piece(bytes(buffer[:at]), offset, dropped, most_bytes)
            offset += dropped + at
            del buffer[:at]
            scan, dropped, has_element = 1, 0, False
        scan = max(1, len(buffer) - _LONGEST_START + 1)
        if dropped or len(buffer) > most_bytes:
            has_element = True
            cut = scan if scan < len(buffer) else 0
            dropped += cut
            del buffer[:cut]
            scan = 0
    yield from _piece(bytes(buffer), offset, dropped, most_bytes)


def _piece(body: bytes, offset: int, dropped: int, most_bytes: int) -> Iterator[Piece]:
    size = dropped + len(body)
    if size > most_bytes:
        yield Piece(offset, size, b"", f"the document is too long to be read ({size:,} bytes)")
    elif body.strip() and body.strip() != _BYTE_ORDER_MARK:
        yield Piece(offset, size, body)
