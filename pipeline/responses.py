"""Raw answers as received: bodies by content hash, and the journal of what was asked.

responses/ab/ab12….gz holds a body, compressed; journal.jsonl holds one line for each run
started and ended, sweep asked, answer received and sweep ended, in order. Together they
make the whole database again.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import zlib
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from connectors.connector import Page, Request
from pipeline.append_log import AppendLog, write_file
from pipeline.errors import StoreDamaged
from queries.window import Window


@dataclass(frozen=True)
class Responses:
    """The raw answers of one matter, in folder."""

    folder: Path

    @property
    def journal(self) -> AppendLog:
        """Return the journal."""
        return AppendLog(self.folder / "journal.jsonl")

    def body_path(self, sha256: str) -> Path:
        """Return where the body with that hash lies."""
        return self.folder / "responses" / sha256[:2] / f"{sha256}.gz"

    def keep(self, page: Page, run_id: str, sweep: str, now: datetime) -> None:
        """Store the answer: body first, then its line; after this no crash loses it."""
        sha256 = hashlib.sha256(page.body).hexdigest()
        path = self.body_path(sha256)
        if not path.exists():
            write_file(path, gzip.compress(page.body, 6, mtime=0))
        self.journal.append(
            {
                "line": "answer",
                "run": run_id,
                "source": page.request.source,
                "sweep": sweep,
                "request": request_data(page.request),
                "status": page.status,
                "headers": dict(page.headers),
                "at": now.astimezone(UTC).isoformat(),
                "on": page.received_on.isoformat(),
                "sha256": sha256,
                "size": len(page.body),
            }
        )

    def body(self, sha256: str) -> bytes:
        """Return the body, checked against its hash."""
        path = self.body_path(sha256)
        try:
            body = gzip.decompress(path.read_bytes())
        except FileNotFoundError:
            raise StoreDamaged(
                f"{path} is missing: the journal names it. Bring it back from a backup, or remove the "
                "line with that sha256 from journal.jsonl to go on without it."
            ) from None
        except (OSError, EOFError, zlib.error) as error:
            raise StoreDamaged(f"{path} can't be unpacked ({error}). Bring it back from a backup.") from error
        if hashlib.sha256(body).hexdigest() != sha256:
            raise StoreDamaged(
                f"{path} is not what was received: its hash differs. Bring it back from a backup."
            )
        return body

    def page(self, line: dict[str, Any]) -> Page:
        """Return the answer that an 'answer' line of the journal describes."""
        return Page(
            request=request_from(line["request"]),
            status=line["status"],
            headers=line["headers"],
            body=self.body(line["sha256"]),
            received_on=date.fromisoformat(line["on"]),
        )

    def answers(self, after: int = 0) -> Iterator[tuple[int, dict[str, Any]]]:
        """Yield (journal line number, line) of every answer after that line number."""
        for number, line in self.journal.lines():
            if number > after and line.get("line") == "answer":
                yield number, line


def request_key(request: Request) -> str:
    """Return a text that is equal for equal requests."""
    return json.dumps(request_data(request), sort_keys=True)


def request_data(request: Request) -> dict[str, Any]:
    """Return the request as JSON can hold it. A Request never holds a secret."""
    data = asdict(request)
    data["window"] = {name: day and day.isoformat() for name, day in data["window"].items()}
    return data


def request_from(data: dict[str, Any]) -> Request:
    """Return the request that request_data wrote."""

    def pairs(name: str) -> tuple[tuple[str, str], ...]:
        return tuple((str(key), str(value)) for key, value in data[name])

    days = {name: day and date.fromisoformat(day) for name, day in data["window"].items()}
    rest = {"params": pairs("params"), "headers": pairs("headers"), "state": pairs("state")}
    return Request(**{**data, **rest, "window": Window(**days)})
