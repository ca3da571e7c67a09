"""The reading text of a page, and how much of one text stands in another.

A sample of a text's word groups travels with the look-up at the archive, so that what the
archive kept can be held against what was captured without either text being sent anywhere.
"""

from __future__ import annotations

import re
import warnings
from hashlib import blake2b

from bs4 import BeautifulSoup

LONGEST = 100_000  # characters kept of one page
GROUP = 4  # words
SAMPLE = 128  # groups; the share is then right to about 9 points in 100, two times in three to 4

_WORD = re.compile(r"\w+")
_SURROGATE = re.compile("[\x00\ud800-\udfff]")


def main_text(html: str) -> tuple[str, str]:
    """Return the page's reading text and what is to be said of it ("" for nothing).

    Navigation, advertising and comments are left out as well as a program can tell; where
    that leaves nothing, all visible text stands.
    """
    import trafilatura

    try:
        found = trafilatura.extract(html, include_comments=False, include_tables=True) or ""
    except Exception:  # noqa: BLE001 - hostile markup may break a reader in any way; the bytes are kept
        found = ""
    remark = ""
    if not found.strip():
        found, remark = _visible(html), "no main text was told apart: all visible text"
    text = _SURROGATE.sub("\ufffd", found).strip()
    if len(text) > LONGEST:
        return text[:LONGEST], f"the first {LONGEST:,} of {len(text):,} characters"
    return text, remark


def sample_of(text: str) -> tuple[str, ...]:
    """Return the hashes of SAMPLE of the text's word groups, the same ones every time.

    The least hashes: in effect drawn at random from all groups, each once.
    """
    return tuple(sorted(_groups(text))[:SAMPLE])


def share_of(sample: tuple[str, ...], text: str) -> float | None:
    """Return what part (0 to 1) of the sampled text stands in this one, None for too small a sample."""
    if len(sample) < 8:
        return None
    groups = _groups(text)
    return sum(group in groups for group in sample) / len(sample)


def _groups(text: str) -> set[str]:
    words = _WORD.findall(text.casefold())
    joined = (" ".join(words[at : at + GROUP]) for at in range(len(words) - GROUP + 1))
    return {blake2b(group.encode(), digest_size=4).hexdigest() for group in joined}


def _visible(html: str) -> str:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what reads as XML or as a file name is text here all the same
        soup = BeautifulSoup(html, "lxml")
    for tag in soup(["script", "style", "noscript", "template", "head"]):
        tag.decompose()
    return re.sub(r"\s*\n\s*", "\n", soup.get_text("\n"))
