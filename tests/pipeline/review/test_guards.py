"""Who is answered: this machine's own browser; who may change anything: our own pages."""

from __future__ import annotations

import pytest
from starlette.datastructures import Headers

from pipeline.review.guards import Guard

OURS = {"host": "127.0.0.1:8123", "origin": "http://127.0.0.1:8123", "content-length": "3"}


async def nothing(scope: object, receive: object, send: object) -> None:
    """Be an application that answers nothing."""


@pytest.mark.parametrize(
    ("method", "changed", "status"),
    [
        ("GET", {}, None),
        ("GET", {"host": "localhost:8123"}, None),
        ("GET", {"host": "LOCALHOST:8123"}, None),
        ("GET", {"host": "rebound.example:8123"}, 421),
        ("GET", {"host": "127.0.0.1:9"}, 421),
        ("GET", {"host": "127.0.0.1"}, 421),
        ("GET", {"host": ""}, 421),
        ("POST", {}, None),
        ("POST", {"sec-fetch-site": "same-origin"}, None),
        ("POST", {"sec-fetch-site": "cross-site"}, 403),
        ("POST", {"sec-fetch-site": "same-site"}, 403),
        ("POST", {"sec-fetch-site": "none"}, 403),
        ("POST", {"origin": "http://evil.example"}, 403),
        ("POST", {"origin": "http://127.0.0.1:9"}, 403),
        ("POST", {"origin": "https://127.0.0.1:8123"}, 403),
        ("POST", {"origin": "null"}, 403),
        ("POST", {"origin": None}, 403),
        ("POST", {"origin": None, "sec-fetch-site": "same-origin"}, None),
        ("POST", {"content-length": None}, 411),
        ("POST", {"content-length": "x"}, 411),
        ("POST", {"content-length": "500001"}, 413),
        ("PUT", {}, 405),
        ("DELETE", {}, 405),
        ("OPTIONS", {}, 405),
    ],
)
def test_who_is_answered(method: str, changed: dict[str, str | None], status: int | None) -> None:
    """Another host, another origin, another method and a body without bound are refused."""
    headers = {name: text for name, text in (OURS | changed).items() if text is not None}
    refused = Guard(nothing, 8123).refusal(method, Headers(headers))
    assert (refused[0] if refused else None) == status
