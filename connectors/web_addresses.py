"""Which addresses may be fetched. Each comes from outside (a user's line, a page, a redirect), and
none may lead into this machine or the network it stands in.

Judged is the address a name resolves to, never its spelling: resolvers read 2130706433,
0177.0.0.1 and full-width digits as 127.0.0.1. Ranges: the IANA special-purpose address
registries for IPv4 and IPv6 (RFC 6890) and the multicast registries, read 2026-11-25.
"""

from __future__ import annotations

import re
import socket
from collections.abc import Callable
from dataclasses import dataclass
from ipaddress import IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network
from urllib.parse import urljoin, urlsplit

from w3lib.url import safe_url_string

from connectors.errors import InnerAddress, SourceDown, SourceRefused

SOURCE_NAME = "web"
PORTS = {"http": 80, "https": 443}
LONGEST = 4_000  # characters of an address

Lookup = Callable[[str, int], tuple[str, ...]]

_V4 = {
    "0.0.0.0/8": "this host (RFC 1122)",
    "10.0.0.0/8": "a private network (RFC 1918)",
    "100.64.0.0/10": "a carrier's inner network (RFC 6598)",
    "127.0.0.0/8": "this machine (RFC 1122)",
    "169.254.0.0/16": "link-local (RFC 3927)",
    "172.16.0.0/12": "a private network (RFC 1918)",
    "192.0.0.0/24": "protocol assignments (RFC 6890)",
    "192.0.2.0/24": "documentation (RFC 5737)",
    "192.88.99.0/24": "the 6to4 relay (RFC 7526)",
    "192.168.0.0/16": "a private network (RFC 1918)",
    "198.18.0.0/15": "benchmarking (RFC 2544)",
    "198.51.100.0/24": "documentation (RFC 5737)",
    "203.0.113.0/24": "documentation (RFC 5737)",
    "224.0.0.0/4": "multicast (RFC 5771)",
    "240.0.0.0/4": "reserved (RFC 1112)",
}
_V6 = {
    "::/96": "this machine, or an IPv4 address in old writing (RFC 4291)",
    "64:ff9b::/96": "translation to IPv4 (RFC 6052)",
    "64:ff9b:1::/48": "translation to IPv4 (RFC 8215)",
    "100::/64": "the discard prefix (RFC 6666)",
    "2001::/23": "protocol assignments, Teredo among them (RFC 2928, RFC 4380)",
    "2001:db8::/32": "documentation (RFC 3849)",
    "2002::/16": "6to4 (RFC 3056)",
    "3fff::/20": "documentation (RFC 9637)",
    "5f00::/16": "segment routing (RFC 9602)",
    "fc00::/7": "a private network (RFC 4193)",
    "fe80::/10": "link-local (RFC 4291)",
    "fec0::/10": "site-local (RFC 3879)",
    "ff00::/8": "multicast (RFC 4291)",
}
_BLOCKED = tuple((ip_network(block), why) for block, why in (_V4 | _V6).items())
_GLOBAL_V6 = IPv6Network("2000::/3")  # all that IANA has opened for global unicast
_MAPPED = IPv6Network("::ffff:0:0/96")
# Names that mean this machine or the network it stands in (RFC 6761, RFC 6762, RFC 8375).
_INNER = re.compile(
    r"(?:.*\.)?(?:localhost|local|internal|home\.arpa|localdomain|lan|intranet)|[^.:]*", re.ASCII
)


@dataclass(frozen=True)
class Address:
    """An address taken apart. host: lower case, ASCII; target: path and query as sent."""

    url: str
    scheme: str
    host: str
    port: int
    target: str

    @property
    def authority(self) -> str:
        """Return host and port as a Host header writes them."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return host if self.port == PORTS[self.scheme] else f"{host}:{self.port}"

    @property
    def origin(self) -> str:
        """Return scheme, host and port: what one robots.txt stands for."""
        return f"{self.scheme}://{self.authority}"


@dataclass(frozen=True)
class Guard:
    """What may be fetched. named: hosts (`host` or `host:port`) the matter names, which may lie inside.

    lookup: host and port -> every address they resolve to; the system's unless a test gives one.
    """

    named: frozenset[str] = frozenset()
    lookup: Lookup | None = None

    def is_named(self, address: Address) -> bool:
        """Say whether the matter names this host."""
        return bool({address.host, f"{address.host}:{address.port}", address.authority} & self.named)

    def resolve(self, address: Address) -> tuple[str, ...]:
        """Return the host's addresses, all of them fit to be reached.

        Raises InnerAddress where any one is not (a name that leads inside once leads inside
        again), SourceDown where the name resolves to nothing. The caller connects to what is
        returned and resolves no more.
        """
        named = self.is_named(address)
        if not named and is_inner(address.host):
            raise InnerAddress(SOURCE_NAME, f"{address.host} lies in this machine or its network. {_HOW}")
        found = (self.lookup or look_up)(address.host, address.port)
        if not found:
            raise SourceDown(SOURCE_NAME, f"{address.host} is not known: its name resolves to nothing")
        for ip in () if named else found:
            if why := refusal(ip):
                raise InnerAddress(SOURCE_NAME, f"{address.host} resolves to {ip}, which is {why}. {_HOW}")
        return found


_HOW = 'If it is meant, name it in matter.toml: [capture] hosts = ["…"]'


def look_up(host: str, port: int) -> tuple[str, ...]:
    """Return every address the system's resolver gives, in its order; () where it knows none."""
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError):
        return ()
    return tuple(dict.fromkeys(str(entry[4][0]) for entry in found))


def is_inner(host: str) -> bool:
    """Say whether a name means this machine or its network, whatever it resolves to."""
    try:
        return bool(refusal(host))
    except ValueError:  # a name, not an IP address
        return bool(_INNER.fullmatch(host))


def refusal(ip: str) -> str:
    """Return why an IP address may not be reached, or "" where it is public."""
    address = ip_address(ip)
    if isinstance(address, IPv6Address) and address in _MAPPED:
        address = ip_address(int(address) & 0xFFFFFFFF)
    for block, why in _BLOCKED:
        if _holds(block, address):
            return why
    if isinstance(address, IPv6Address) and address not in _GLOBAL_V6:
        return "outside the global range 2000::/3 (IANA)"
    return ""


def _holds(block: IPv4Network | IPv6Network, address: object) -> bool:
    return block.version == getattr(address, "version", 0) and address in block


def take_apart(url: str, beside: Address | None = None) -> Address:
    """Return the address of a URL as it would be sent, its fragment left off.

    beside: the page that names it; a relative URL is read against it, and a port other
    than 80 and 443 is taken only where that page's own address has it. Without beside the
    user wrote it and any port is theirs to choose.
    Raises SourceRefused for another scheme than http and https, user name or password,
    blanks, control characters or backslashes in the host, no host, or a length past LONGEST.
    """
    text = url.strip(" \t\r\n")
    if len(text) > LONGEST:
        raise _no(text, f"it is longer than {LONGEST:,} characters")
    try:
        joined = urljoin(beside.url, text) if beside else text
        parts = urlsplit(joined)
        raw_host = parts.hostname or ""
        port = parts.port
    except ValueError:
        raise _no(text, "it can't be taken apart") from None
    scheme = parts.scheme.lower()
    if scheme not in PORTS:
        raise _no(
            text, f"only http and https are fetched, not {scheme[:20] or 'an address without a scheme'}"
        )
    if "@" in parts.netloc:
        raise _no(text, "it holds a user name or password")
    if not raw_host or re.search(r"[\x00-\x20\x7f\\]", parts.netloc) or "\\" in text.split("?")[0]:
        raise _no(text, "its host is missing or holds blanks or backslashes")
    port = PORTS[scheme] if port is None else port
    if beside and port not in PORTS.values() and (raw_host, port) != (beside.host, beside.port):
        raise _no(text, f"a page leads to port {port}; only 80 and 443 are followed")
    return _sendable(joined, port)


def _sendable(url: str, port: int) -> Address:
    """Return the address percent-encoded and its host in ASCII (IDNA), as it goes out."""
    try:
        sent = urlsplit(safe_url_string(url.partition("#")[0], quote_path=True))
        host = (sent.hostname or "").rstrip(".").lower()
        host.encode("ascii")
    except (ValueError, UnicodeError):
        raise _no(url, "its host can't be written in ASCII (IDNA)") from None
    target = (sent.path or "/") + (f"?{sent.query}" if sent.query else "")
    bare = Address("", sent.scheme.lower(), host, port, target)
    return Address(bare.origin + target, bare.scheme, host, port, target)


def _no(text: str, why: str) -> SourceRefused:
    shown = re.sub(r"//[^/@\s]*@", "//…@", text[:200])
    return SourceRefused(SOURCE_NAME, f"{shown!r} is not fetched: {why}")
