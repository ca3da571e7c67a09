"""Fetching as a guest: polite, bounded, never inside, and to the very address that was judged."""

from __future__ import annotations

import gzip
import itertools
import ssl
import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from typing import Any

import pytest

from connectors.errors import AnswerTooLarge, SourceBusy, SourceDown, SourceError, SourceRefused
from connectors.robots import AGENT, robots_of
from connectors.session import PROGRAM
from connectors.waiting import Clock, Limits
from connectors.web_addresses import Guard
from connectors.web_fetch import LIMITS, WebDoor

ALLOW = {"body": b"User-agent: *\nAllow: /\n"}


class FakeTime:
    """A clock that moves only when it is slept on."""

    def __init__(self) -> None:
        self.seconds = 0.0
        self.slept: list[float] = []

    def sleep(self, wait_s: float) -> None:
        self.slept.append(wait_s)
        self.seconds += wait_s

    def clock(self) -> Clock:
        now = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
        return Clock(
            lambda: self.seconds, self.sleep, lambda: now + timedelta(seconds=self.seconds), lambda: 0.5
        )


def door(url: str, limits: Limits = LIMITS, time: FakeTime | None = None) -> WebDoor:
    """Return a door for which the test's own server, and nothing else inside, is named."""
    return WebDoor(Guard(frozenset({url.removeprefix("http://")})), "", (time or FakeTime()).clock(), limits)


def site(pages: dict[str, Any], robots: dict[str, Any] = ALLOW) -> Callable[[Any], dict[str, Any]]:
    """Return the route of a site with these pages."""
    return lambda seen: robots if seen.path == "/robots.txt" else pages.get(seen.target, {"status": 404})


def test_a_page_comes_whole_with_every_header(scripted_server: Any) -> None:
    """Body and headers as sent, in order; who asks is said, and nothing else about the user."""
    server = scripted_server(
        route=site({"/a?b=1": {"body": b"<p>x", "headers": {"X-One": "1", "ETag": '"e"'}}})
    )
    got = WebDoor(
        Guard(frozenset({server.url.removeprefix("http://")})), "ann@firm.example", FakeTime().clock()
    ).fetch(f"{server.url}/a?b=1#part")
    hop = got.last
    assert (hop.status, hop.raw, hop.body, hop.ip) == (200, b"<p>x", b"<p>x", "127.0.0.1")
    assert ("X-One", "1") in hop.headers and hop.header("etag") == '"e"'
    assert [seen.target for seen in server.seen] == ["/robots.txt", "/a?b=1"]
    sent = server.seen[1].headers
    assert sent["user-agent"] == f"{PROGRAM}; mailto:ann@firm.example"
    assert sent["host"] == server.url.removeprefix("http://")
    assert set(sent) == {"host", "user-agent", "accept", "accept-encoding"}


def test_no_proxy_of_the_environment_is_used(scripted_server: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A proxy would resolve the name for us, and lead where no one judged."""
    for name in ("http_proxy", "HTTP_PROXY", "ALL_PROXY"):
        monkeypatch.setenv(name, "http://127.0.0.1:9")
    server = scripted_server(route=site({"/": {"body": b"x"}}))
    assert door(server.url).fetch(server.url + "/").last.body == b"x"


def test_the_name_robots_know_us_by_is_the_one_we_give() -> None:
    """A site that names us in robots.txt means our User-Agent."""
    assert PROGRAM.startswith(AGENT + "/")


# RFC 9309: longest match wins, Allow wins a tie, * and $ are special (2.2.2, 2.2.3); an agent's own
# group goes before * (2.2.1); 4xx rules nothing out (2.3.1.3), 5xx everything (2.3.1.4).
ROBOTS = [
    (200, "User-agent: *\nDisallow: /a\nAllow: /a/b", "/a/b", True),
    (200, "User-agent: *\nDisallow: /a\nAllow: /a/b", "/a/c", False),
    (200, "User-agent: *\nDisallow: /*.pdf$", "/x.pdf", False),
    (200, "User-agent: *\nDisallow: /*.pdf$", "/x.pdf?y", True),
    (200, "User-agent: *\nDisallow: /\n\nUser-agent: antedate\nAllow: /", "/x", True),
    (200, "User-agent: antedate\nDisallow: /", "/x", False),
    (200, "User-agent: other\nDisallow: /", "/x", True),
    (200, "", "/x", True),
    (200, "<html>no robots here</html>", "/x", True),
    (404, "", "/x", True),
    (403, "User-agent: *\nDisallow: /", "/x", True),
    (429, "", "/x", False),
    (500, "", "/x", False),
    (503, "", "/x", False),
]


@pytest.mark.parametrize(("status", "text", "path", "allowed"), ROBOTS)
def test_robots_txt_is_read_as_the_standard_says(status: int, text: str, path: str, allowed: bool) -> None:
    """The rules of RFC 9309, one a row."""
    assert (robots_of(status, text.encode()).refusal(f"http://shop.example{path}") == "") is allowed


def test_a_page_that_robots_txt_closes_is_not_asked_for(scripted_server: Any) -> None:
    """Neither the page itself nor one that it redirects to."""
    robots = {"body": b"User-agent: *\nDisallow: /closed"}
    server = scripted_server(
        route=site({"/to": {"status": 302, "headers": {"Location": "/closed/x"}}}, robots)
    )
    through = door(server.url)
    for path in ("/closed/y", "/to"):
        with pytest.raises(SourceRefused, match="robots"):
            through.fetch(server.url + path)
    assert [seen.path for seen in server.seen] == ["/robots.txt", "/to"]


def test_a_site_that_can_not_show_its_robots_txt_is_left_alone(scripted_server: Any) -> None:
    """5xx for robots.txt means no (RFC 9309, 2.3.1.4), and the text says so."""
    server = scripted_server(route=site({"/": {"body": b"x"}}, {"status": 500}))
    with pytest.raises(SourceRefused, match=r"robots\.txt answered 500"):
        door(server.url).fetch(server.url)


def test_one_request_a_second_to_a_host_or_slower_where_it_asks(scripted_server: Any) -> None:
    """A second between any two, robots.txt among them; Crawl-delay makes it longer, up to 30 s."""
    for robots, least in (
        (b"", 1.0),
        (b"User-agent: *\nCrawl-delay: 7", 7.0),
        (b"User-agent: *\nCrawl-delay: 999", 30.0),
    ):
        time = FakeTime()
        server = scripted_server(route=site({"/1": {"body": b"1"}, "/2": {"body": b"2"}}, {"body": robots}))
        through = door(server.url, time=time)
        through.fetch(f"{server.url}/1")
        through.fetch(f"{server.url}/2")
        assert time.slept[-1] == pytest.approx(least) and len(time.slept) == 2


@pytest.mark.parametrize("status", [301, 302, 303, 307, 308])
def test_redirects_are_followed_by_hand_and_kept(scripted_server: Any, status: int) -> None:
    """Every hop is in the result, relative targets read against the hop."""
    pages = {
        "/a": {"status": status, "headers": {"Location": "b?c=d"}},
        "/b?c=d": {"body": b"there"},
    }
    got = door(url := scripted_server(route=site(pages)).url).fetch(f"{url}/a")
    assert [(hop.status, hop.address.target) for hop in got.hops] == [(status, "/a"), (200, "/b?c=d")]


LEADS = [
    "http://10.0.0.1/", "http://[::1]/", "http://localhost/", "http://169.254.169.254/latest/meta-data",
    "http://[::ffff:127.0.0.1]/", "file:///etc/passwd", "ftp://shop.example/x", "http://u:p@shop.example/",
    "//127.0.0.1:80/", "gopher://x.example/", "http://inside.example/",
]  # fmt: skip


@pytest.mark.parametrize("leads", LEADS)
def test_a_redirect_leads_nowhere_inside(scripted_server: Any, leads: str) -> None:
    """The guard judges every hop: a public page cannot send us inside, nor to another scheme."""
    server = scripted_server(route=site({"/": {"status": 302, "headers": {"Location": leads}}}))
    host = server.url.removeprefix("http://")

    def lookup(name: str, port: int) -> tuple[str, ...]:
        return ("127.0.0.1",) if name == "127.0.0.1" else ("10.9.8.7",)

    with pytest.raises(SourceRefused):
        WebDoor(Guard(frozenset({host}), lookup), "", FakeTime().clock()).fetch(server.url)
    assert [seen.path for seen in server.seen] == ["/robots.txt", "/"]


def test_a_redirect_loop_ends(scripted_server: Any) -> None:
    """After ten redirects it is given up, and said."""
    server = scripted_server(route=site({"/": {"status": 302, "headers": {"Location": "/"}}}))
    with pytest.raises(SourceRefused, match="more than 10 times"):
        door(server.url).fetch(server.url + "/")
    assert len(server.seen) == 12


def test_the_connection_goes_to_the_address_that_was_judged(scripted_server: Any) -> None:
    """The name is resolved once a hop and the connection made to that answer: a name that changes
    between the look and the leap (DNS rebinding) gains nothing."""
    server = scripted_server(route=site({"/": {"body": b"x"}}))
    port = int(server.url.rsplit(":", 1)[1])
    answers = iter([("127.0.0.1",), ("127.0.0.1",)])
    asked: list[str] = []

    def lookup(name: str, at: int) -> tuple[str, ...]:
        asked.append(name)
        return next(answers)

    guard = Guard(frozenset({f"shop.example:{port}"}), lookup)
    hop = WebDoor(guard, "", FakeTime().clock()).fetch(f"http://shop.example:{port}/").last
    # The test's own network refuses to resolve shop.example: only the pinned address can have answered.
    assert (hop.ip, hop.body, server.seen[1].headers["host"]) == ("127.0.0.1", b"x", f"shop.example:{port}")
    assert asked == ["shop.example", "shop.example"]  # robots.txt, then the page


BODIES = [
    ("Content-Length says more than the limit", {"body": b"x" * 2_000}),
    ("no length is stated", {"body": lambda _: itertools.repeat(b"x" * 500, 8)}),
    (
        "gzip that unfolds past it",
        {"body": gzip.compress(b"\0" * 500_000), "headers": {"Content-Encoding": "gzip"}},
    ),
]


BODIES.append(
    (
        "little content and endless padding",
        {
            "body": gzip.compress(b"x") + b"\0" * 5_000,
            "headers": {"Content-Encoding": "gzip", "Content-Length": ""},
        },
    )
)


@pytest.mark.parametrize(("how", "answer"), BODIES)
def test_a_body_past_the_limit_is_not_read(scripted_server: Any, how: str, answer: dict[str, Any]) -> None:
    """As stated, as sent and as unfolded: the limit holds."""
    server = scripted_server(route=site({"/": answer}))
    with pytest.raises(AnswerTooLarge, match="not read"):
        door(server.url, Limits(size_bytes=1_000, attempts=1)).fetch(server.url + "/")


def test_packed_bodies_are_kept_as_sent_and_read_unpacked(scripted_server: Any) -> None:
    """A server that packs though it was not asked to: both forms are there."""
    packed = gzip.compress(b"<p>hello")
    server = scripted_server(route=site({"/": {"body": packed, "headers": {"Content-Encoding": "gzip"}}}))
    hop = door(server.url).fetch(server.url).last
    assert (hop.raw, hop.body) == (packed, b"<p>hello")


def test_a_page_that_drips_is_cut_off_in_time(scripted_server: Any) -> None:
    """A byte now and then resets no clock: the whole answer has one deadline."""

    def drip(ended: threading.Event) -> Iterator[bytes]:
        while not ended.wait(0.05):
            yield b"x"

    server = scripted_server(route=site({"/": {"body": drip}}))
    with pytest.raises(SourceDown, match=r"within 0\.5 s"):
        door(server.url, Limits(total_s=0.5, attempts=1)).fetch(server.url + "/")


def test_a_cut_body_is_no_page(scripted_server: Any) -> None:
    """Shorter than its stated length: not kept as if it were whole."""
    server = scripted_server(route=site({"/": {"body": b"half", "headers": {"Content-Length": "80"}}}))
    with pytest.raises(SourceDown, match="cut off"):
        door(server.url, Limits(attempts=1)).fetch(server.url + "/")


STATUSES = [
    (404, SourceRefused, "no such page"), (410, SourceRefused, "no such page"), (403, SourceRefused, "not open"),
    (401, SourceRefused, "not open"), (451, SourceRefused, "not open"), (500, SourceDown, "500"),
    (204, SourceRefused, "204"), (418, SourceRefused, "418"), (300, SourceRefused, "300"),
]  # fmt: skip


@pytest.mark.parametrize(("status", "error", "says"), STATUSES)
def test_any_status_but_200_is_an_error_in_words(
    scripted_server: Any, status: int, error: type[SourceError], says: str
) -> None:
    """What it means is said, with the address."""
    server = scripted_server(route=site({"/x": {"status": status}}))
    with pytest.raises(error, match=says):
        door(server.url, Limits(attempts=1)).fetch(f"{server.url}/x")


def test_a_busy_site_is_asked_once_more_when_it_says(scripted_server: Any) -> None:
    """Retry-After is waited for; a second 429 ends it, and one past our patience at once."""
    busy = {"status": 429, "headers": {"Retry-After": "20"}}
    time = FakeTime()
    server = scripted_server(ALLOW, busy, {"body": b"x"})
    assert door(server.url, time=time).fetch(server.url + "/").last.body == b"x"
    assert 20.0 in time.slept
    for script in ((ALLOW, busy, busy), (ALLOW, {"status": 503, "headers": {"Retry-After": "3600"}})):
        server = scripted_server(*script)
        with pytest.raises(SourceBusy):
            door(server.url).fetch(server.url + "/")


def test_what_is_no_http_is_down() -> None:
    """A closed port and a server that speaks something else are told apart from a page."""
    with pytest.raises(SourceRefused, match="could not be read"):
        door("http://127.0.0.1:9").fetch("http://127.0.0.1:9/")


# --- encryption ------------------------------------------------------------------


@pytest.fixture(scope="module")
def secure_site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[int, str]]:
    """Give the port of a TLS server whose certificate is for shop.example, and its own authority's file."""
    folder = tmp_path_factory.mktemp("tls")
    _write_certificate(folder, "shop.example")
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(folder / "cert.pem", folder / "key.pem")

    class Answer(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            body = b"" if self.path == "/robots.txt" else b"sealed"
            self.send_response(200)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, format: str, *args: Any) -> None:
            """Keep the test output quiet."""

    server = HTTPServer(("127.0.0.1", 0), Answer)
    server.handle_error = lambda *_: None  # type: ignore[method-assign]  # refused handshakes
    server.socket = context.wrap_socket(server.socket, server_side=True)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    yield server.server_address[1], str(folder / "cert.pem")
    server.shutdown()
    server.server_close()
    thread.join(5)


def _write_certificate(folder: Path, name: str) -> None:
    """Write a self-signed certificate for the name, good for a day."""
    x509 = pytest.importorskip("cryptography.x509", reason="no library to make a certificate with")
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, name)])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder().subject_name(subject).issuer_name(subject).public_key(key.public_key())
        .serial_number(7).not_valid_before(now - timedelta(hours=1)).not_valid_after(now + timedelta(days=1))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName(name)]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )  # fmt: skip
    (folder / "cert.pem").write_bytes(made.public_bytes(serialization.Encoding.PEM))
    form = serialization.PrivateFormat.PKCS8
    plain = serialization.NoEncryption()
    (folder / "key.pem").write_bytes(key.private_bytes(serialization.Encoding.PEM, form, plain))


def secure_door(port: int, host: str, ca_file: str) -> WebDoor:
    """Return a door to the TLS server under a name of our choice."""
    guard = Guard(frozenset({f"{host}:{port}"}), lambda *_: ("127.0.0.1",))
    return WebDoor(guard, "", FakeTime().clock(), Limits(attempts=1), ca_file)


def test_the_certificate_is_checked_against_the_name_and_not_the_ip(secure_site: tuple[int, str]) -> None:
    """Connected to a pinned IP address, the name in the address is what the certificate must show."""
    port, ca_file = secure_site
    hop = secure_door(port, "shop.example", ca_file).fetch(f"https://shop.example:{port}/").last
    assert hop.body == b"sealed" and len(hop.certificate) == 64
    with pytest.raises(SourceRefused, match="certificate"):
        secure_door(port, "other.example", ca_file).fetch(f"https://other.example:{port}/")


def test_a_certificate_of_an_unknown_authority_is_refused(secure_site: tuple[int, str]) -> None:
    """With the usual authorities the test's own certificate is worth nothing."""
    port, _ = secure_site
    with pytest.raises(SourceRefused, match="certificate"):
        secure_door(port, "shop.example", "").fetch(f"https://shop.example:{port}/")
