"""`antedate capture`: pages and pictures the user points at, and when the web archive first saw them."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from connectors.web import SOURCE as WEB
from connectors.web_archive import SOURCE as ARCHIVE
from pipeline.capture import Captured, Wanted, archive_setting, capture, check_addresses
from pipeline.commands.nightly import EXIT_CODES, say
from pipeline.errors import BadAddress, NotFound
from pipeline.listing import find_reference, read_hits
from pipeline.matter import Matter, load_matter
from pipeline.normalise import record_id
from pipeline.plain_text import public_text, safe, wrapped

CAUTION = (
    "A page's own dates are its owner's word and prove nothing. What proves is the archive's capture: "
    "public by that day, for what it shows. Read the archived copy before you rely on it."
)


def capture_pages(args: Namespace) -> int:
    """Say what will leave the machine, capture, and say of each address what came of it."""
    matter = load_matter(args.matter)
    written = [("address", url) for url in args.urls] + (read_list(args.list) if args.list else [])
    if not written:
        raise BadAddress("no address given. Write one or more, or --list FILE with one a line")
    wanted = Wanted(check_addresses(written), args.pictures, not args.no_archive)
    print_plan(matter, wanted)
    if args.plan:
        print("nothing was sent (--plan)")
        return 0
    end = capture(args.matter, wanted, say)
    for captured in end.captured:
        _print_captured(args.matter, captured)
    print()
    print(wrapped(CAUTION))
    print(f"capture {end.run_id}: {end.outcome}")
    return EXIT_CODES[end.outcome]


def read_list(path: Path) -> list[tuple[str, str]]:
    """Return (where, address) for each line of the file that is not empty or a note (#)."""
    try:
        lines = path.read_text(encoding="utf-8-sig").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise BadAddress(f"{path} can't be read as a list of addresses, one a line: {error}") from error
    texts = [(f"{path.name}, line {number}", line.strip()) for number, line in enumerate(lines, 1)]
    return [(where, text) for where, text in texts if text and not text.startswith("#")]


def print_plan(matter: Matter, wanted: Wanted) -> None:
    """Print what leaves this machine, to whom, word for word where it is known beforehand."""
    print("What leaves this machine")
    for origin in dict.fromkeys(address.origin for address in wanted.addresses):
        print(f"  to {origin}, one request a second at most:")
        print(f"    GET {origin}/robots.txt")
        for address in wanted.addresses:
            if address.origin == origin:
                print("    GET " + safe(address.url, 4_000))
    pictures = f"up to {wanted.pictures} pictures of each page" if wanted.pictures else "no pictures"
    print(wrapped(f"then where these lead (redirects), and {pictures}, from wherever they lie", "  "))
    why = archive_setting(matter, wanted)
    setting = matter.sources[ARCHIVE.name]
    base = setting.base_url or ARCHIVE.base_url
    if why:
        print(f"  to the web archive: nothing ({why})")
    else:
        told = (
            f"to the web archive ({base}): each of these addresses, the address each page gives as its own, "
            f"its pictures' addresses, and the SHA-1 of what was fetched; one request every "
            f"{ARCHIVE.seconds_between:g} s. --no-archive keeps them from it"
        )
        print(wrapped(told, "  "))
    contact = matter.sources[WEB.name].contact
    print(f"  who asks: Antedate{f', {contact}' if contact else '; no contact is given in matter.toml'}")
    print("  nothing else: no cookie, no summary, no search term\n")


def _print_captured(folder: Path, captured: Captured) -> None:
    print(f"\n{safe(captured.address, 300)}")
    if captured.reading:
        print(f"  {captured.reading.kind}, {captured.size:,} bytes, kept whole in {captured.evidence}")
        told = dict(captured.reading.details)
        for name in ("the page's own claim", "its claims differ"):
            if name in told:
                print(wrapped(f"{name}: {told[name]}", "  ", 400))
    if captured.reason:
        print(wrapped(f"{captured.outcome}: {captured.reason}", "  ", 1_000))
    if captured.pictures or captured.left_out:
        more = f"; {captured.left_out} more on the page were left" if captured.left_out else ""
        print(f"  {captured.pictures} picture{'s' * (captured.pictures != 1)} kept{more}")
    for url, compared in captured.archived.items():
        print(wrapped(f"archive: {compared}: {url}", "  ", 600))
    if captured.archive_outcome == "complete" and not captured.archived:
        print("  archive: holds no copy; that proves nothing")
    elif captured.archive_reason:
        print(wrapped(f"archive: {captured.archive_outcome}: {captured.archive_reason}", "  ", 1_000))
    _print_reference(folder, captured)


def _print_reference(folder: Path, captured: Captured) -> None:
    try:
        reference = find_reference(folder, record_id(WEB.name, captured.address))
    except NotFound:
        return
    hit = next(hit for hit in read_hits(folder) if hit.reference_id == reference)
    says = f", says {hit.public_says}" if hit.public_says else ""
    print(f"  reference {reference}, place {hit.place or '-'}: public {public_text(hit.public)}{says}")
