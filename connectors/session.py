"""The polite session: one source, one request at a time, every wait and limit in one place.

The only file that imports requests. Secrets are added here when sending; they are in no
Request, no Page, no error and no log line.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from http.cookiejar import DefaultCookiePolicy
from typing import Any, TypeVar
from urllib.parse import parse_qsl, quote, urljoin, urlsplit

import requests
import urllib3

from connectors.answer_body import BodyBroken, BodyTooLarge, read_body
from connectors.connector import Connector, Page, Request, Signed
from connectors.errors import (
    AnswerTooLarge,
    SourceBusy,
    SourceChanged,
    SourceDown,
    SourceError,
    SourceRefused,
    TokenExpired,
)
from connectors.keys import (
    SHORTEST_SECRET,
    basic_header,
    check_sendable,
    how_to_mend,
    read_token,
    token_request,
    without,
    without_bytes,
)
from connectors.waiting import Clock, Limits, Slots, backoff, retry_after, seconds
from connectors.watched_sockets import Watch, watched_pools

PROGRAM = "Antedate/0.1 (search for earlier publications)"
SECRET_HEADERS = ("set-cookie", "set-cookie2", "authorization", "proxy-authorization")
RENEW_EARLY_S = 60.0  # a token is renewed this long before it runs out
log = logging.getLogger(__name__)

T = TypeVar("T")
Pairs = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class _Wire:
    """What goes out, secrets included. Lives only inside the session."""

    method: str
    url: str
    params: Pairs
    headers: Pairs
    body: str


@dataclass(frozen=True)
class _Answer:
    """What came back, secrets removed."""

    status: int
    headers: dict[str, str]
    body: bytes


class Session:
    """Sends one source's requests. One slot for every attempt, one request at a time.

    attempts: requests that went out, token requests and redirects included. waited_s:
    seconds slept for slots, pauses and retries. Both only grow.
    """

    def __init__(
        self,
        connector: Connector,
        base_url: str = "",
        contact: str = "",
        keys: Mapping[str, str] | None = None,
        clock: Clock | None = None,
        limits: Limits | None = None,
    ) -> None:
        """Make ready; nothing is sent.

        base_url: instead of the source's own where not "". keys: variable -> value, of
        the declared ones that are set. Raises SourceRefused where a needed key is
        missing, a key or the contact holds what a header can't carry, or the base URL
        is not a plain http or https address.
        """
        self.connector = connector
        self.source = connector.SOURCE
        self.contact = contact.strip()
        self.clock = clock or Clock()
        self.limits = limits or Limits()
        self.attempts = 0
        self.waited_s = 0.0
        self._base_url = (base_url or self.source.base_url).rstrip("/")
        self._keys = {name: value.strip() for name, value in (keys or {}).items() if value.strip()}
        check_sendable(self.source, self._base_url, self._keys, self.contact)
        self._slots = Slots(self.source.seconds_between, self.clock)
        self._lock = threading.Lock()
        self._watch = Watch()
        self._token = ""
        self._token_until = 0.0
        self._http = _plain_http(self._watch)
        _silence_urllib3()

    def send(self, request: Request) -> Page:
        """Return the answer to the request, once one came that can be parsed.

        Busy and absent answers are asked for again, waiting longer each time or as long
        as the source says. Raises SourceError: SourceBusy at once where the wait would
        pass the patience limit, and after the last attempt; SourceDown after the last
        attempt; everything else at once.
        """
        with self._lock:
            for _ in ("the token at hand", "a new one"):
                with suppress(TokenExpired):
                    return self._persist(lambda: self._ask(request))
                self._token = ""
            raise SourceRefused(self.source.name, f"a new token was not accepted. {how_to_mend(self.source)}")

    def close(self) -> None:
        """Close the connection; the session is not used again."""
        self._http.close()

    def _ask(self, request: Request) -> Page | SourceError:
        """Send once; return the page if it can be parsed, else what is wrong."""
        signed = self._sign(request)
        answer = self._exchange(self._wire(request, signed), signed)
        if isinstance(answer, SourceError):
            return answer
        page = Page(request, answer.status, answer.headers, answer.body, self.clock.today().date())
        self._slots.hold(seconds(self.connector.pause(page)))
        error = self.connector.judge(page) or self._by_status(answer)
        if error is None:
            return page
        if error.retry_after_s is not None:
            return error
        asked_s = retry_after(answer.headers, self.clock.today())
        return type(error)(error.source, error.what, asked_s, error.path)

    def _by_status(self, answer: _Answer) -> SourceError | None:
        """Return what the status alone says, for what the connector let pass."""
        name, said = self.source.name, f"answered {answer.status}"
        if answer.status in (429, 503):
            return SourceBusy(name, said)
        if answer.status >= 500:
            return SourceDown(name, said)
        if 300 <= answer.status < 400:
            return SourceChanged(name, f"{said} and nowhere to go on")
        return None

    def _sign(self, request: Request) -> Signed:
        keys = dict(self._keys)
        if self.source.token_path:
            keys["token"] = self._fresh_token()
        return self.connector.sign(request, keys, self.contact)

    def _wire(self, request: Request, signed: Signed) -> _Wire:
        agent = PROGRAM
        if self.source.contact_wanted and self.contact:
            agent = f"{PROGRAM}; mailto:{self.contact}"
        url = f"{self._base_url}/{request.path.lstrip('/')}" if request.path else self._base_url
        headers = (("User-Agent", agent), *request.headers, *signed.headers)
        return _Wire(request.method, url, (*request.params, *signed.params), headers, request.body)

    # --- waiting -----------------------------------------------------------------

    def _persist(self, ask: Callable[[], T | SourceError]) -> T:
        """Ask until an answer comes that asking again can't better, or raise."""
        failures, last_wait_s = 0, 0.0
        while True:
            answer = ask()
            if not isinstance(answer, SourceError):
                return answer
            if isinstance(answer, TokenExpired) or not isinstance(answer, SourceBusy | SourceDown):
                raise answer
            failures += 1
            if failures >= self.limits.attempts:
                raise _given_up(answer, failures, last_wait_s)
            asked_s = seconds(answer.retry_after_s)
            last_wait_s = max(asked_s, backoff(failures, self.limits, self.clock.chance()))
            self._sleep(last_wait_s, answer.what)

    def _sleep(self, wait_s: float, why: str) -> None:
        """Sleep, or raise SourceBusy at once where that would pass our patience."""
        if wait_s > self.limits.patience_s:
            raise SourceBusy(
                self.source.name,
                f"{why}; it asks to be left alone for {wait_s:,.0f} s and this run waits at most"
                f" {self.limits.patience_s:,.0f} s. Run again after that; what came so far is kept",
                wait_s,
            )
        if wait_s > 0:
            self.clock.on_wait(wait_s, why)
            self.clock.sleep(wait_s)
            self.waited_s += wait_s

    # --- one exchange ------------------------------------------------------------

    def _exchange(self, wire: _Wire, signed: Signed) -> _Answer | SourceError:
        """Send, follow redirects on the same host, and return the answer or what went wrong."""
        secrets = self._secrets(signed)
        for _ in range(self.limits.redirects + 1):
            self._sleep(self._slots.wait_s(), "one request at a time, as the source asks")
            self._slots.take()
            self.attempts += 1
            answer = self._once(wire, secrets)
            if isinstance(answer, SourceError):
                return answer
            target = answer.headers.get("location", "")
            if answer.status not in (301, 302, 303, 307, 308) or not target:
                return answer
            onward = _redirected(wire, target, answer.status, signed)
            if onward is None:
                return SourceRefused(self.source.name, "sends us to another address, which is not followed")
            wire = onward
        return SourceRefused(self.source.name, f"redirects more than {self.limits.redirects} times")

    def _once(self, wire: _Wire, secrets: tuple[str, ...]) -> _Answer | SourceError:
        """Send one request and read its whole body. Errors are returned, not raised, so
        that none carries the library's text (and the URL with the key) as its context."""
        size = f"{self.limits.size_bytes / 1e6:,.0f} MB"
        with self._watch.over(self.limits.total_s):
            try:
                answer: _Answer | SourceError = self._receive(wire, secrets)
            except BodyTooLarge:
                answer = AnswerTooLarge(
                    self.source.name, f"its answer is larger than {size}; it was not read"
                )
            except BodyBroken as problem:
                answer = SourceDown(self.source.name, str(problem))
            except (requests.RequestException, urllib3.exceptions.HTTPError, OSError) as problem:
                answer = SourceDown(self.source.name, self._in_words(problem))
        if self._watch.expired:
            # Also where an answer came: a body without a stated length just ends at the shut socket.
            answer = SourceDown(self.source.name, f"gave no whole answer within {self.limits.total_s:g} s")
        if isinstance(answer, _Answer):
            log.debug("%s %s: %d, %d bytes", self.source.name, wire.method, answer.status, len(answer.body))
        return answer

    def _receive(self, wire: _Wire, secrets: tuple[str, ...]) -> _Answer:
        timeout = (min(self.limits.connect_s, self.limits.total_s), self.limits.total_s)
        with self._http.request(
            wire.method,
            wire.url,
            params=list(wire.params),
            headers=dict(wire.headers),
            data=wire.body.encode() or None,
            stream=True,
            timeout=timeout,
            allow_redirects=False,
        ) as response:
            length = response.headers.get("Content-Length", "")
            if length.isascii() and length.isdigit() and int(length[:15]) > self.limits.size_bytes:
                raise BodyTooLarge
            chunks: Iterable[bytes] = response.raw.stream(65536, decode_content=False)
            body = read_body(chunks, response.headers.get("Content-Encoding", ""), self.limits.size_bytes)
            headers = {k.lower(): without(v, secrets) for k, v in response.headers.items()}
            kept = {name: value for name, value in headers.items() if name not in SECRET_HEADERS}
            return _Answer(response.status_code, kept, without_bytes(body, secrets))

    def _in_words(self, problem: Exception) -> str:
        """Return what happened in our words: the library's hold the URL."""
        if isinstance(problem, requests.ConnectTimeout):
            return f"did not take the connection within {self.limits.connect_s:g} s"
        if isinstance(problem, requests.Timeout | urllib3.exceptions.TimeoutError | TimeoutError):
            return f"gave no whole answer within {self.limits.total_s:g} s"
        if isinstance(problem, requests.exceptions.SSLError):
            return "could not agree on encryption, or its certificate is not good"
        if isinstance(problem, requests.exceptions.ProxyError):
            return "could not be reached through the proxy"
        if isinstance(problem, urllib3.exceptions.HTTPError | requests.exceptions.ChunkedEncodingError):
            return "its answer was cut off"
        return "could not be reached, or closed the connection without an answer"

    # --- secrets -----------------------------------------------------------------

    def _secrets(self, signed: Signed) -> tuple[str, ...]:
        """Return every text that must not come back to us in an answer, longest first."""
        plain = {*self._keys.values(), self._token, *(v for _, v in (*signed.headers, *signed.params))}
        both = plain | {quote(text, safe="") for text in plain}
        return tuple(sorted((t for t in both if len(t) >= SHORTEST_SECRET), key=len, reverse=True))

    def _fresh_token(self) -> str:
        """Return a bearer token that is good for a while, asking for one where needed."""
        if not self._token or self.clock.now() >= self._token_until:
            asked_at = self.clock.now()
            self._token, lasts_s = self._persist(self._ask_token)
            self._token_until = asked_at + max(lasts_s - RENEW_EARLY_S, lasts_s / 2)
        return self._token

    def _ask_token(self) -> tuple[str, float] | SourceError:
        """Ask for a token once."""
        signed = Signed(headers=(basic_header(self.source, self._keys),))
        answer = self._exchange(self._wire(token_request(self.source), signed), signed)
        if isinstance(answer, SourceError):
            return answer
        if answer.status in (400, 401, 403):
            what = f"did not accept the key ({answer.status}). {how_to_mend(self.source)}"
            return SourceRefused(self.source.name, what)
        return self._by_status(answer) or read_token(self.source.name, answer.body)


def _redirected(wire: _Wire, target: str, status: int, signed: Signed) -> _Wire | None:
    """Return the request for the new place, with its secrets; None for another scheme or host."""
    try:
        where, here = urlsplit(urljoin(wire.url, target)), urlsplit(wire.url)
    except ValueError:  # not a URL
        return None
    if where[:2] != here[:2]:
        return None
    secret = {name for name, _ in signed.params}  # its echo in the target was blotted out
    query = tuple(pair for pair in parse_qsl(where.query, keep_blank_values=True) if pair[0] not in secret)
    bare = where._replace(query="", fragment="").geturl()
    wire = replace(wire, url=bare, params=(*query, *signed.params))
    if wire.method == "POST" and status in (301, 302, 303):
        return replace(wire, method="GET", body="")
    return wire


def _given_up(error: SourceError, failures: int, last_wait_s: float) -> SourceError:
    """Return the error of the last attempt, saying how often it was tried."""
    what = f"{error.what}, {failures} times, last wait {last_wait_s:.0f} s. Run again later to go on"
    return type(error)(error.source, what, error.retry_after_s, error.path)


class _WatchedAdapter(requests.adapters.HTTPAdapter):
    """The library's adapter over watched sockets; it never retries by itself."""

    def __init__(self, watch: Watch) -> None:
        self._pools = watched_pools(watch)
        super().__init__(pool_connections=1, pool_maxsize=1, max_retries=0)

    def init_poolmanager(self, *args: Any, **named: Any) -> None:
        super().init_poolmanager(*args, **named)
        self.poolmanager.pool_classes_by_scheme = self._pools

    def proxy_manager_for(self, proxy: Any, **named: Any) -> Any:
        manager = super().proxy_manager_for(proxy, **named)
        manager.pool_classes_by_scheme = self._pools
        return manager


class _NoRedirects(requests.Session):
    """The library's session, blind to redirects: told not to follow one, it would still read
    the redirect's whole body, however long, and fail on a Location that is no URL."""

    def get_redirect_target(self, resp: requests.Response) -> None:  # noqa: ARG002
        return None


def _plain_http(watch: Watch) -> requests.Session:
    """Return a session without cookies, .netrc and retries of its own."""
    http = _NoRedirects()
    http.auth = lambda prepared: prepared  # else requests looks for a password in .netrc
    http.cookies.set_policy(DefaultCookiePolicy(allowed_domains=[]))
    http.headers.clear()
    http.headers.update({"Accept-Encoding": "gzip", "Accept": "*/*"})
    for scheme in ("http://", "https://"):
        http.mount(scheme, _WatchedAdapter(watch))
    return http


def _never(_record: logging.LogRecord) -> bool:
    return False


def _silence_urllib3() -> None:
    """Drop urllib3's own lines about requests at every level: they hold the URL with its key."""
    for name in ("urllib3.connectionpool", "urllib3.connection", "urllib3.util.retry"):
        logging.getLogger(name).addFilter(_never)
