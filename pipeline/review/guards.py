"""Who may ask: this machine's own browser, and for changes our own pages only."""

from __future__ import annotations

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

# A note of 100,000 characters fits; nothing we ask for is longer.
MOST_BYTES = 500_000
# No script or style but our own files, nothing from outside, never inside another's frame.
# Referrer: with none at all, browsers would send `Origin: null` with our own forms.
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
        "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}


class Guard:
    """Refuses requests for another host and changes from other pages; adds HEADERS to every answer.

    The host is checked because any web page can point a name of its own at 127.0.0.1 and
    would then read ours; the origin because any page can post a form to any address.
    """

    def __init__(self, app: ASGIApp, port: int) -> None:
        """Guard the app that listens on the port of this machine."""
        self.app = app
        self.hosts = tuple(f"{name}:{port}" for name in ("127.0.0.1", "localhost"))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or pass the request on."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        refused = self.refusal(scope["method"], Headers(scope=scope))
        app = PlainTextResponse(refused[1], refused[0]) if refused else self.app
        await app(scope, receive, send_with_headers)

    def refusal(self, method: str, headers: Headers) -> tuple[int, str] | None:
        """Return status and reason where the request is refused, else None."""
        if headers.get("host", "").lower() not in self.hosts:
            return 421, f"This page answers only at http://{self.hosts[0]}/ on this machine."
        if method in ("GET", "HEAD"):
            return None
        if method != "POST":
            return 405, "Only GET and POST are answered."
        if not self._from_our_page(headers):
            return 403, "Changes are taken only from this program's own pages. Nothing was changed."
        length = headers.get("content-length", "")
        if not length.isdigit():
            return 411, "The length of what is sent must be stated. Nothing was changed."
        if int(length) > MOST_BYTES:
            return 413, f"More than {MOST_BYTES:,} bytes were sent. Nothing was changed; shorten the text."
        return None

    def _from_our_page(self, headers: Headers) -> bool:
        """Say whether the browser vouches for it; one that says nothing is not believed."""
        site, origin = headers.get("sec-fetch-site"), headers.get("origin")
        ours = {f"http://{host}" for host in self.hosts}
        if site not in (None, "same-origin") or (origin is not None and origin not in ours):
            return False
        return site is not None or origin is not None
