"""The web and the archive that captures are tried on, and the matter they go into."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from PIL import Image, ImageDraw

from connectors.web_archive import sha1_base32
from pipeline.capture import CaptureEnd
from pipeline.listing import Hit, read_hits
from pipeline.load import load_answers
from pipeline.references import resolve_references
from pipeline.store import open_store

PUBLIC = "93.184.216.34"  # stands for every host of the tests; the loopback server answers for it
TEXT = " ".join(f"Emitter {n} flushes its seat when spring {n} warms in the sun." for n in range(60))
PAGE = (
    '<!doctype html><html lang="en"><head><title>The Flusher</title><link rel="canonical" href="/flusher">'
    '<meta property="article:published_time" content="2009-05-02"></head><body><main><h1>The Flusher</h1>'
    f'<p>{TEXT}</p><figure><img src="/cut.png" alt="the seat"><figcaption>The seat, cut open</figcaption></figure>'
    "</main></body></html>"
).encode()
HEAD = ["urlkey", "timestamp", "original", "mimetype", "statuscode", "digest", "length"]


def picture() -> bytes:
    """Return a picture's file."""
    image = Image.new("RGB", (200, 150), "white")
    pen = ImageDraw.Draw(image)
    pen.ellipse((20, 20, 120, 120), outline="black", width=5)
    pen.line((0, 0, 200, 150), fill="black", width=7)
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


PICTURE = picture()
HTML, PNG = {"Content-Type": "text/html; charset=utf-8"}, {"Content-Type": "image/png"}


@dataclass
class World:
    """The web and the archive as they are now; both may be changed between captures.

    pages: path -> answer. captures: address without scheme -> (timestamp, body, headers).
    """

    pages: dict[str, dict[str, Any]]
    captures: dict[str, tuple[str, bytes, dict[str, str]]]
    asked: list[str]

    def answer(self, seen: Any) -> dict[str, Any]:
        """Return what the web or the archive answers."""
        self.asked.append(seen.target)
        if seen.path == "/cdx/search/cdx":
            return self.index(seen)
        if seen.path.startswith("/web/"):
            return self.replay(seen.target)
        return self.pages.get(seen.path, {"status": 404})

    def index(self, seen: Any) -> dict[str, Any]:
        """Return the index's answer for an address, or for it and a digest."""
        address = seen.query["url"].partition("://")[2]
        found = self.captures.get(address.partition("/")[2])
        if found is None:
            return {"body": b"[]"}
        row = ["key", found[0], f"http://{address}", "text/html", "200", sha1_base32(found[1]), "9"]
        if "digest" in seen.target and row[5] not in seen.target:
            return {"body": b"[]"}
        return {"body": json.dumps([HEAD, row]).encode()}

    def replay(self, target: str) -> dict[str, Any]:
        """Return the copy itself, with its moment."""
        path = target.partition("id_/http://")[2].partition("/")[2]
        timestamp, body, headers = self.captures[path]
        at = datetime.strptime(timestamp, "%Y%m%d%H%M%S").replace(tzinfo=UTC)
        moment = at.strftime("%a, %d %b %Y %H:%M:%S GMT")
        return {"body": body, "headers": {**headers, "Memento-Datetime": moment}}


MATTER = """
offices = ["US", "EP"]
[invention]
title = "Self-flushing emitter"
summary = "A drip emitter that flushes itself when the sun warms the line."
[invention.elements]
A = "a drip emitter"
[[concept]]
name = "emitter"
terms = ["drip emitter"]
[[date]]
kind = "filing"
day = "2015-01-01"
office = "EP"
[source.web_archive]
base_url = "{url}"
"""


@dataclass
class Bench:
    """A matter, the world, and what captures into it."""

    folder: Path
    world: World
    url: str
    now: datetime
    capture: Callable[..., CaptureEnd]

    def hits(self) -> list[Hit]:
        """Return the references, worked out without vectors."""
        load_answers(self.folder)
        resolve_references(self.folder, "")
        return read_hits(self.folder)

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        """Return what a query of the store gives."""
        with open_store(self.folder, read_only=True) as con:
            return con.execute(query).fetchall()


def archive(bench: Bench, path: str, timestamp: str, body: bytes, headers: dict[str, str] = HTML) -> None:
    """Put a capture into the archive."""
    bench.world.captures[path] = (timestamp, body, headers)
