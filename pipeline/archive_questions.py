"""What to ask the web archive about a capture: which addresses, and what its copies are held against."""

from __future__ import annotations

from connectors import web, web_archive
from connectors.connector import Page, Request
from connectors.errors import SourceError
from connectors.page_reader import Reading
from connectors.page_text import sample_of
from connectors.replay_address import replayed
from connectors.web_addresses import is_inner, take_apart


def questions(page: Page, reading: Reading) -> tuple[Request, ...]:
    """Return what to ask the archive of one capture: the address asked, where it led, the canonical one."""
    facts = dict(page.request.state)
    record = web.record_of(page, reading)
    about = {
        "page": page.request.path,
        "sha1": web_archive.sha1_base32(page.body),
        "sample": " ".join(sample_of(reading.texts.get("abstract", "")))
        if reading.kind == "web page"
        else "",
        "likeness": reading.likeness,
        "pixels": reading.pixels_sha256,
    }
    if reading.kind == "picture":
        about |= {"title": record.title, "text": record.abstract}
    found = dict.fromkeys((page.request.path, facts["final"], reading.canonical))
    wanted: dict[str, str] = {}
    for address in map(original, filter(None, found)):
        if place := _key(address):
            wanted.setdefault(place, address)
    return tuple(web_archive.earliest_request(address, about) for address in wanted.values())


def original(address: str) -> str:
    """Return the address itself, of an archived copy the one it is a copy of."""
    of_archive = replayed(address)
    return of_archive[1] if of_archive else address


def _key(address: str) -> str:
    """Return what the archive's index goes by: scheme, www, letter case of the host and port 80/443
    aside. "" for what a page calls its address and is none that can be asked for."""
    try:
        found = take_apart(address)
    except SourceError:
        return ""
    if is_inner(found.host):
        return ""
    port = "" if found.port in (80, 443) else f":{found.port}"
    return f"{found.host.removeprefix('www.')}{port}{found.target}"
