"""Hostile and broken sources: slow, endless, cut, bombed, lying. Each is a clear error in bounded time."""

from __future__ import annotations

import gzip
import socket
import threading
import time
import tracemalloc
import zlib
from collections.abc import Iterator
from contextlib import suppress
from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest

from connectors.connector import Page, Request, Signed, Source
from connectors.errors import AnswerTooLarge, SourceChanged, SourceDown, SourceError
from connectors.session import Session
from connectors.waiting import Clock, Limits

SOURCE = Source(
    "gulper", "Gulper", ("article",), "https://gulper.example", 10, None, 0.0, "", "", date(2026, 1, 1), {}
)
ASK = Request("gulper", "works")
# What answers may take long on a busy machine; what hangs is soon given up.
PATIENT, QUICK = Limits(attempts=2), Limits(total_s=0.4, attempts=2)
MEGABYTE = b"x" * 1_000_000


def judge(page: Page) -> SourceError | None:
    """Take JSON alone for an answer, as a JSON source's connector does."""
    kind = page.headers.get("content-type", "")
    return SourceChanged("gulper", f"answered {kind} instead of JSON") if "html" in kind else None


CONNECTOR: Any = SimpleNamespace(
    SOURCE=SOURCE,
    sign=lambda _request, _keys, _contact: Signed(),
    judge=judge,
    pause=lambda _page: 0.0,
)


def session_for(url: str, limits: Limits = PATIENT) -> Session:
    """Return a session that waits for no retry."""
    return Session(CONNECTOR, url, clock=Clock(sleep=lambda _s: None), limits=limits)


def dripping(_ended: threading.Event) -> Iterator[bytes]:
    """Give a byte every 50 ms, for ever."""
    while not _ended.wait(0.05):
        yield b"."


def hanging(ended: threading.Event) -> Iterator[bytes]:
    """Give nothing."""
    ended.wait(30)
    yield b""


def endless(_ended: threading.Event) -> Iterator[bytes]:
    """Give 200 MB as fast as they are taken."""
    for _ in range(200):
        yield MEGABYTE


def bomb() -> bytes:
    """Return a gzip body of 200 kB that unfolds to 200 MB."""
    packer = zlib.compressobj(9, wbits=31)
    zeros = bytes(1_000_000)
    return b"".join(packer.compress(zeros) for _ in range(200)) + packer.flush()


@pytest.mark.parametrize("body", [dripping, hanging])
def test_a_body_that_does_not_end_is_left_in_time(scripted_server: Any, body: Any) -> None:
    """The deadline is for the whole answer: a byte now and then does not push it on."""
    server = scripted_server({"body": body}, {"body": body})
    began = time.monotonic()
    with pytest.raises(SourceDown, match=r"no whole answer within 0.4 s, 2 times"):
        session_for(server.url, QUICK).send(ASK)
    assert time.monotonic() - began < 10


def test_headers_that_do_not_end_are_left_in_time() -> None:
    """A source that sends its headers a byte at a time is held to the same deadline."""
    ended = threading.Event()
    listener = socket.create_server(("127.0.0.1", 0))

    def drip() -> None:
        link, _ = listener.accept()
        with link, suppress(OSError):
            link.sendall(b"HTTP/1.1 200 OK\r\nX-Long: ")
            while not ended.wait(0.05):
                link.sendall(b"a")

    thread = threading.Thread(target=drip)
    thread.start()
    began = time.monotonic()
    try:
        with pytest.raises(SourceDown, match="no whole answer"):
            session_for(
                f"http://127.0.0.1:{listener.getsockname()[1]}", Limits(total_s=0.4, attempts=1)
            ).send(ASK)
        assert time.monotonic() - began < 10
    finally:
        ended.set()
        thread.join(5)
        listener.close()


def test_200_megabytes_are_neither_read_nor_held(scripted_server: Any) -> None:
    """Past the size limit reading stops, whether the length was stated or not; it is not asked again."""
    for headers in ({}, {"Content-Length": "200000000"}):
        server = scripted_server({"body": endless, "headers": headers})
        tracemalloc.start()
        with pytest.raises(AnswerTooLarge, match="larger than 5 MB"):
            session_for(server.url, Limits(size_bytes=5_000_000)).send(ASK)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert peak < 20_000_000


def test_a_gzip_bomb_stops_at_the_decoded_size(scripted_server: Any) -> None:
    """200 kB on the wire that mean 200 MB are unfolded only as far as the limit."""
    server = scripted_server({"body": bomb(), "headers": {"Content-Encoding": "gzip"}})
    tracemalloc.start()
    with pytest.raises(AnswerTooLarge):
        session_for(server.url, Limits(size_bytes=5_000_000)).send(ASK)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 20_000_000


def test_a_redirect_with_an_endless_body_is_not_swallowed(scripted_server: Any) -> None:
    """The body of a redirect is held to the same limit as any other."""
    server = scripted_server({"status": 302, "headers": {"Location": "/on"}, "body": endless})
    with pytest.raises(AnswerTooLarge):
        session_for(server.url, Limits(size_bytes=5_000_000)).send(ASK)


@pytest.mark.parametrize(
    ("answer", "what"),
    [
        ({"body": b'{"a": 1', "headers": {"Content-Length": "400"}}, "cut off"),
        (
            {"body": gzip.compress(MEGABYTE)[:-9], "headers": {"Content-Encoding": "gzip"}},
            "cut off inside a gzip",
        ),
        ({"body": b"not gzip", "headers": {"Content-Encoding": "gzip"}}, "gzip body is garbled"),
        ({"body": b"x", "headers": {"Content-Encoding": "br"}}, "encoding 'br', which was not asked for"),
        ({"body": b"5\r\nab", "headers": {"Transfer-Encoding": "chunked", "Content-Length": ""}}, "cut off"),
        ({"status": 503}, "answered 503"),
    ],
)
def test_a_broken_answer_is_asked_for_again(scripted_server: Any, answer: dict[str, Any], what: str) -> None:
    """Once broken, then whole, is a good answer; broken to the end is SourceDown, saying how."""
    server = scripted_server(answer, {"body": b"{}"})
    assert session_for(server.url).send(ASK).body == b"{}"
    server = scripted_server(answer, answer)
    with pytest.raises(SourceError, match=what):
        session_for(server.url).send(ASK)


def test_gzip_is_decoded_members_and_padding_included(scripted_server: Any) -> None:
    """Two gzip members and trailing zeros are one body (RFC 1952, 2.2)."""
    body = gzip.compress(b"one, ") + gzip.compress(b"two") + b"\0\0"
    server = scripted_server({"body": body, "headers": {"Content-Encoding": "gzip"}})
    assert session_for(server.url).send(ASK).body == b"one, two"
    assert server.seen[0].headers["accept-encoding"] == "gzip"


def test_html_instead_of_json_is_raised_as_the_connector_judges_it(scripted_server: Any) -> None:
    """A log-in page in the place of an answer is no answer, and is not asked for five times."""
    server = scripted_server({"body": b"<html>", "headers": {"Content-Type": "text/html"}})
    with pytest.raises(SourceChanged, match="text/html instead of JSON"):
        session_for(server.url).send(ASK)


def test_a_port_where_nobody_listens_is_source_down() -> None:
    """A refused connection is said in our words."""
    with pytest.raises(SourceDown, match="could not be reached"):
        session_for("http://127.0.0.1:1").send(ASK)


def test_after_a_failure_the_session_goes_on(scripted_server: Any) -> None:
    """A hung and a cut answer leave the session fit for the next request."""
    server = scripted_server(
        {"body": hanging}, {"body": b"a", "headers": {"Content-Length": "9"}}, {"body": b"ok"}
    )
    session = session_for(server.url, Limits(total_s=2, attempts=2))
    with pytest.raises(SourceDown):
        session.send(ASK)
    assert session.send(ASK).body == b"ok"


def test_one_connection_serves_many_requests_and_is_watched_in_each(scripted_server: Any) -> None:
    """A kept connection is used again, and a hang on it is cut like any other."""
    hang = {"body": hanging, "headers": {"Content-Length": "9"}}
    server = scripted_server({"body": b"a"}, {"body": b"b"}, hang, {"body": b"c"}, keep_alive=True)
    session = session_for(server.url, Limits(total_s=2, attempts=1))
    assert [session.send(ASK).body for _ in range(2)] == [b"a", b"b"]
    with pytest.raises(SourceDown, match="no whole answer"):
        session.send(ASK)
    assert session.send(ASK).body == b"c"
    links = [seen.link for seen in server.seen]
    assert links[0] == links[1] == links[2] != links[3]
    session.close()
