"""A weekly file parted into its documents, however the bytes come."""

from __future__ import annotations

import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from connectors.uspto_split import pieces

DECLARED = '<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE g SYSTEM "g.dtd" [ ]>\n<g>é {}</g>\n'
TYPED = "<!DOCTYPE b [\n<!ENTITY x 'y'>\n]>\n<b>{}</b>\n"
documents = st.lists(st.sampled_from([DECLARED, TYPED]).flatmap(
    lambda form: st.text("ab <>\n", max_size=30).map(lambda text: form.format(text.replace("<", "&lt;")))
), max_size=6)  # fmt: skip


def reading(body: bytes, step: int) -> io.RawIOBase:
    """Return a file that gives at most step bytes at a time."""

    class Slow(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            return super().read(step)

    return Slow(body)


@given(documents, st.integers(1, 200))
@settings(derandomize=True, deadline=None, max_examples=150)
def test_the_pieces_are_the_documents(made: list[str], step: int) -> None:
    """Every document comes out whole, in order, with its place, whatever the size of the chunks."""
    bodies = [each.encode() for each in made]
    whole = b"".join(bodies)
    found = list(pieces(reading(whole, step).read))
    assert [piece.body for piece in found] == bodies
    assert [whole[piece.offset : piece.offset + piece.size] for piece in found] == bodies


@pytest.mark.parametrize("step", [1, 7, 100, 10_000])
def test_a_document_too_long_is_passed_over(step: int) -> None:
    """Its bytes are counted, its neighbours are read, and what is held stays bounded."""
    first, last = DECLARED.format("one").encode(), DECLARED.format("three").encode()
    long = DECLARED.format("x" * 5_000).encode()
    found = list(pieces(reading(first + long + last, step).read, most_bytes=1_000))
    assert [piece.body for piece in found] == [first, b"", last]
    assert (found[1].offset, found[1].size) == (len(first), len(long))
    assert "too long" in found[1].problem


def test_a_file_without_a_declaration_is_one_document() -> None:
    """A single document may begin at once with its root; blanks alone are none."""
    assert [piece.body for piece in pieces(io.BytesIO(b"  <g/>\n").read)] == [b"  <g/>\n"]
    assert list(pieces(io.BytesIO(b"\xef\xbb\xbf \n").read)) == []
