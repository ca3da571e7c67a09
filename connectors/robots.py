"""What a site lets programs fetch: its robots.txt (RFC 9309), read by protego.

AGENT is the word by which a site names us there; our User-Agent begins with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

AGENT = "Antedate"
MOST_BYTES = 512_000  # RFC 9309, 2.5: at least 500 KiB must be read; what is behind them is not
LONGEST_DELAY_S = 30.0


@dataclass(frozen=True)
class Robots:
    """One site's rules. text: its robots.txt; closed: why nothing may be fetched, else ""."""

    text: str = ""
    closed: str = ""

    def refusal(self, url: str) -> str:
        """Return why the address is not to be fetched, or ""."""
        if self.closed:
            return self.closed
        if not self.text:
            return ""
        return "" if self._rules().can_fetch(url, AGENT) else "its robots.txt asks programs not to fetch it"

    def delay_s(self) -> float:
        """Return the seconds between requests it asks for (a common extension), LONGEST_DELAY_S at most."""
        asked = self._rules().crawl_delay(AGENT) if self.text else None
        return min(float(asked or 0.0), LONGEST_DELAY_S)

    def _rules(self) -> Any:
        from protego import Protego

        return Protego.parse(self.text)


def robots_of(status: int, body: bytes) -> Robots:
    """Return the rules that an answer to /robots.txt makes (RFC 9309, 2.3.1).

    4xx: nothing is ruled out. Anything else but 2xx: everything is, since the site could not say.
    """
    if 200 <= status < 300:
        return Robots(body[:MOST_BYTES].decode("utf-8", "replace"))
    if 400 <= status < 500 and status != 429:
        return Robots()
    return Robots(closed=f"its robots.txt answered {status}, to be taken as a no (RFC 9309); try later")
