"""Keys and tokens: what can be sent, how a token is asked for, how a key is taken out again."""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping
from urllib.parse import urlsplit

from connectors.connector import Request, Source
from connectors.errors import SourceChanged, SourceError, SourceRefused
from connectors.waiting import seconds

LOOPBACK = ("127.0.0.1", "::1", "localhost")
REMOVED = "[key removed]"
SHORTEST_SECRET = 8  # letters; shorter texts stand in innocent answers too


def check_sendable(source: Source, base_url: str, keys: Mapping[str, str], contact: str) -> None:
    """Return nothing where requests can go out so; else raise SourceRefused, saying how to mend it.

    Every declared key variable is set; keys and contact are visible ASCII; the base URL
    is http or https with a host and no password or query; keys go over https, or to loopback.
    """
    name, parts = source.name, urlsplit(base_url)
    missing = [variable for variable in source.key_variables if variable not in keys]
    if missing:
        raise SourceRefused(name, f"needs {' and '.join(missing)}. {source.how_to_get_a_key}".strip())
    for what, text in (*keys.items(), ("contact", contact)):
        if not _visible(text):
            raise SourceRefused(name, f"{what} holds a blank or a letter that can't be sent; copy it again")
    whole = parts.scheme in ("http", "https") and parts.hostname and not (parts.query or parts.fragment)
    if not whole or "@" in parts.netloc:
        raise SourceRefused(name, "its base_url must read http://host/… or https://host/…, and no more")
    if keys and parts.scheme == "http" and parts.hostname not in LOOPBACK:
        raise SourceRefused(name, "a key is never sent over plain http; write https:// in its base_url")


def token_request(source: Source) -> Request:
    """Return the request for a bearer token: OAuth 2.0 client credentials (RFC 6749, 4.4)."""
    return Request(
        source.name,
        source.token_path,
        method="POST",
        headers=(("Content-Type", "application/x-www-form-urlencoded"), ("Accept", "application/json")),
        body="grant_type=client_credentials",
        step="token",
    )


def basic_header(source: Source, keys: Mapping[str, str]) -> tuple[str, str]:
    """Return the Authorization header that holds the source's two keys, in declared order."""
    pair = ":".join(keys[variable] for variable in source.key_variables[:2])
    return "Authorization", "Basic " + base64.b64encode(pair.encode()).decode()


def read_token(source: str, body: bytes) -> tuple[str, float] | SourceError:
    """Return the token and the seconds it is good for (the field may be text; absent is for ever)."""
    try:
        answer = json.loads(body)
        token, lasts_s = answer["access_token"], float(answer.get("expires_in", "inf"))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        token, lasts_s = "", 0.0
    if isinstance(token, str) and token and _visible(token):
        return token, seconds(lasts_s)
    return SourceChanged(source, "its answer to the token request could not be read", path="access_token")


def how_to_mend(source: Source) -> str:
    """Return the sentence that says which variables to look at and where keys come from."""
    return f"Check {' and '.join(source.key_variables)}. {source.how_to_get_a_key}".strip()


def without(text: str, secrets: tuple[str, ...]) -> str:
    """Return the text with every secret in it replaced."""
    for secret in secrets:
        text = text.replace(secret, REMOVED)
    return text


def without_bytes(body: bytes, secrets: tuple[str, ...]) -> bytes:
    """Return the body as received, but for a key that the source echoed."""
    for secret in secrets:
        body = body.replace(secret.encode(), REMOVED.encode())
    return body


def _visible(text: str) -> bool:
    return all("!" <= letter <= "~" for letter in text)
