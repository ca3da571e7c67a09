"""Fetches a page that the user points at: politely, bounded, and never from inside.

The second and last file that speaks to the network. `session.py` speaks to services whose
addresses we wrote; here every address comes from outside, so each is judged, resolved once,
and the connection is made to the very IP address that was judged. urllib3 is used and not
requests: it takes an IP address and the name its certificate must show.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import certifi
import urllib3

from connectors.answer_body import BodyBroken, BodyTooLarge, read_body
from connectors.errors import AnswerTooLarge, SourceBusy, SourceDown, SourceError, SourceRefused
from connectors.robots import Robots, robots_of
from connectors.session import PROGRAM
from connectors.waiting import Clock, Limits, Slots, backoff, retry_after
from connectors.watched_sockets import Watch, watched_pools
from connectors.web_addresses import SOURCE_NAME, Address, Guard, take_apart

# A product page is far below this, a picture and most manuals too; more is a download.
LIMITS = Limits(
    size_bytes=25_000_000, total_s=30.0, connect_s=10.0, attempts=2, patience_s=60.0, redirects=10
)
SECONDS_BETWEEN = 1.0
MOST_ADDRESSES = 3  # of one host that are tried in turn
_REDIRECTS = (301, 302, 303, 307, 308)


@dataclass(frozen=True)
class Hop:
    """One request and its answer. raw: the body as sent, chunk framing undone; body: decoded.

    headers: as received, in order, repeats kept. certificate: sha256 of the one shown, "" without TLS.
    """

    address: Address
    ip: str
    sent: tuple[tuple[str, str], ...]
    status: int
    reason: str
    headers: tuple[tuple[str, str], ...]
    raw: bytes
    body: bytes
    at: datetime
    certificate: str = ""

    def header(self, name: str) -> str:
        """Return the first value of a header, "" where it is absent."""
        return next((value for key, value in self.headers if key.lower() == name), "")


@dataclass(frozen=True)
class Fetched:
    """What came: every hop in order, the last one the answer (status 200)."""

    hops: tuple[Hop, ...]

    @property
    def last(self) -> Hop:
        """Return the answer itself."""
        return self.hops[-1]


class WebDoor:
    """Fetches addresses one after another. Keeps each host's robots.txt and slots for its life."""

    def __init__(
        self,
        guard: Guard,
        contact: str = "",
        clock: Clock | None = None,
        limits: Limits = LIMITS,
        ca_file: str = "",
    ) -> None:
        """Make ready; nothing is sent. ca_file: certificates trusted, else those requests trusts."""
        self.guard = guard
        self.clock = clock or Clock()
        self.limits = limits
        self.agent = f"{PROGRAM}; mailto:{contact}" if contact else PROGRAM
        self._ca_file = ca_file
        self._robots: dict[str, Robots] = {}
        self._slots: dict[str, Slots] = {}

    def fetch(self, url: str, beside: Address | None = None) -> Fetched:
        """Return the answer at the address, redirects followed and kept.

        beside: the page that named it, where it was not the user. Raises SourceRefused for
        an address that is not to be fetched, here or after a redirect, and for any status
        but 200; SourceBusy, SourceDown and AnswerTooLarge as the session does.
        """
        address = take_apart(url, beside)
        hops: list[Hop] = []
        for _ in range(self.limits.redirects + 1):
            if why := self._rules(address).refusal(address.url):
                raise SourceRefused(SOURCE_NAME, f"{address.url}: {why}")
            hop = self._persist(address)
            hops.append(hop)
            if hop.status not in _REDIRECTS or not hop.header("location"):
                _check_status(hop)
                return Fetched(tuple(hops))
            address = take_apart(hop.header("location"), address)
        raise SourceRefused(SOURCE_NAME, f"{url}: redirects more than {self.limits.redirects} times")

    def _rules(self, address: Address) -> Robots:
        """Return the site's rules, asked for once; the site's slots follow its delay."""
        if address.origin not in self._robots:
            try:
                hop = self._robots_hop(address)
                rules = robots_of(hop.status, hop.body)
            except (SourceDown, SourceBusy, AnswerTooLarge) as problem:
                rules = Robots(closed=f"its robots.txt could not be read ({problem.what})")
            self._robots[address.origin] = rules
            self._slots_of(address).between_s = max(SECONDS_BETWEEN, rules.delay_s())
        return self._robots[address.origin]

    def _robots_hop(self, address: Address) -> Hop:
        asked = take_apart(f"{address.origin}/robots.txt")
        for _ in range(6):  # RFC 9309, 2.3.1.2: five redirects in a row are followed
            hop = self._once(asked)
            if hop.status not in _REDIRECTS or not hop.header("location"):
                return hop
            asked = take_apart(hop.header("location"), asked)
        raise SourceDown(SOURCE_NAME, "it redirects more than 5 times")

    def _persist(self, address: Address) -> Hop:
        """Ask, and once more after a wait where the host is busy or did not answer."""
        failures = 0
        while True:
            try:
                hop = self._once(address)
                if hop.status not in (429, 503):
                    return hop
                headers = {name.lower(): value for name, value in hop.headers}
                error: SourceError = SourceBusy(
                    SOURCE_NAME,
                    f"{address.url}: answered {hop.status}",
                    retry_after(headers, self.clock.today()),
                )
            except SourceDown as problem:
                error = problem
            failures += 1
            wait_s = max(error.retry_after_s or 0.0, backoff(failures, self.limits, self.clock.chance()))
            if failures >= self.limits.attempts or wait_s > self.limits.patience_s:
                raise error
            self._wait(wait_s, error.what)

    def _wait(self, wait_s: float, why: str) -> None:
        if wait_s > 0:
            self.clock.on_wait(wait_s, why)
            self.clock.sleep(wait_s)

    def _slots_of(self, address: Address) -> Slots:
        return self._slots.setdefault(address.host, Slots(SECONDS_BETWEEN, self.clock))

    # --- one exchange ------------------------------------------------------------

    def _once(self, address: Address) -> Hop:
        """Send one request to an address that was judged, and read the whole answer."""
        ips = self.guard.resolve(address)[:MOST_ADDRESSES]
        slots = self._slots_of(address)
        self._wait(slots.wait_s(), "one request a second to a host")
        slots.take()
        watch = Watch()
        with watch.over(self.limits.total_s):
            try:
                hop = self._at_one_of(ips, address, watch)
            except BodyTooLarge:
                size = f"{self.limits.size_bytes / 1e6:,.0f} MB"
                raise AnswerTooLarge(SOURCE_NAME, f"{address.url} is larger than {size}; not read") from None
            except BodyBroken as problem:
                raise SourceDown(SOURCE_NAME, f"{address.url}: {problem}") from None
            except (urllib3.exceptions.HTTPError, OSError) as problem:
                what = self._in_words(problem, watch)
                raise SourceDown(SOURCE_NAME, f"{address.url}: {what}") from None
        if watch.expired:  # a body without a stated length just ends at the shut socket
            raise SourceDown(SOURCE_NAME, f"{address.url}: {self._in_words(TimeoutError(), watch)}")
        return hop

    def _at_one_of(self, ips: tuple[str, ...], address: Address, watch: Watch) -> Hop:
        """Return the answer from the first of the judged IP addresses that takes the connection."""
        for ip in ips[:-1]:
            try:
                return self._at(ip, address, watch)
            except (urllib3.exceptions.NewConnectionError, urllib3.exceptions.ConnectTimeoutError):
                if watch.expired:
                    raise
        return self._at(ips[-1], address, watch)

    def _at(self, ip: str, address: Address, watch: Watch) -> Hop:
        at = self.clock.today()
        sent = (
            ("Host", address.authority),
            ("User-Agent", self.agent),
            ("Accept", "*/*"),
            ("Accept-Encoding", "identity"),  # what is kept is then what stands there, byte for byte
        )
        with self._pool(ip, address, watch) as pool:
            response = pool.urlopen(
                "GET",
                address.target,
                headers=dict(sent),
                retries=False,
                redirect=False,
                preload_content=False,
                decode_content=False,
            )
            headers = tuple((str(k), str(v)) for k, v in response.headers.iteritems())
            shown = watch.certificate()
            raw, body = self._read(response)
            certificate = hashlib.sha256(shown).hexdigest() if shown else ""
            reason = str(response.reason or "")
            return Hop(address, ip, sent, response.status, reason, headers, raw, body, at, certificate)

    def _pool(self, ip: str, address: Address, watch: Watch) -> Any:
        timeout = urllib3.Timeout(connect=self.limits.connect_s, read=self.limits.total_s)
        named: dict[str, Any] = {"timeout": timeout, "maxsize": 1, "retries": False}
        if address.scheme == "https":
            named |= {
                "cert_reqs": "CERT_REQUIRED",
                "ca_certs": self._ca_file or certifi.where(),
                "server_hostname": address.host,  # the name in the address, not the IP we connect to
                "assert_hostname": address.host,
            }
        return watched_pools(watch)[address.scheme](ip, address.port, **named)

    def _read(self, response: Any) -> tuple[bytes, bytes]:
        """Return the body as sent and decoded, each within the size limit."""
        kept: list[bytes] = []
        length = response.headers.get("Content-Length", "")
        if length.isascii() and length.isdigit() and int(length[:15]) > self.limits.size_bytes:
            raise BodyTooLarge
        chunks = _noted(response.stream(65536, decode_content=False), kept, self.limits.size_bytes)
        body = read_body(chunks, response.headers.get("Content-Encoding", ""), self.limits.size_bytes)
        return b"".join(kept), body

    def _in_words(self, problem: Exception, watch: Watch) -> str:
        if watch.expired or isinstance(problem, urllib3.exceptions.ReadTimeoutError | TimeoutError):
            return f"gave no whole answer within {self.limits.total_s:g} s"
        if isinstance(problem, urllib3.exceptions.SSLError):
            return "could not agree on encryption, or its certificate is not good for that name"
        if isinstance(problem, urllib3.exceptions.NewConnectionError):
            return "could not be reached"
        if isinstance(problem, urllib3.exceptions.ConnectTimeoutError):
            return f"did not take the connection within {self.limits.connect_s:g} s"
        return "its answer was cut off, or is no HTTP"


def _noted(chunks: Iterable[bytes], kept: list[bytes], limit_bytes: int) -> Iterator[bytes]:
    """Yield the pieces as they come, keeping them. Raises BodyTooLarge past the limit."""
    size = 0
    for chunk in chunks:
        size += len(chunk)
        if size > limit_bytes:
            raise BodyTooLarge
        kept.append(chunk)
        yield chunk


def _check_status(hop: Hop) -> None:
    """Return nothing for status 200; else raise what it means for a page pointed at."""
    if hop.status == 200:
        return
    url, status = hop.address.url, hop.status
    if status in (404, 410):
        raise SourceRefused(SOURCE_NAME, f"{url}: answered {status}, there is no such page (any more)")
    if status in (401, 403, 407, 451):
        raise SourceRefused(SOURCE_NAME, f"{url}: answered {status}, it is not open to everyone")
    if status >= 500:
        raise SourceDown(SOURCE_NAME, f"{url}: answered {status}")
    raise SourceRefused(SOURCE_NAME, f"{url}: answered {status}, not with a page")
