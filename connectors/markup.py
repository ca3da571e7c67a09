"""Titles, abstracts and names as plain text, whatever markup a source puts into them."""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Callable

from bs4 import BeautifulSoup
from bs4.element import Tag

# Only these names are markup; any other '<' is a less-than sign ("a <b and c> d" stays).
_INLINE = (
    "a|b|bold|emph|em|email|ext-link|font|i|inline-formula|inline-graphic|italic|monospace|named-content"
    "|overline|roman|s|sans-serif|sc|scp|small|span|strike|strong|styled-content|sub|sup|tex-math|tt|u"
    "|underline|xref|alternatives|annotation|annotation-xml|semantics|math|maction|menclose|merror|mfenced"
    "|mfrac|mi|mmultiscripts|mn|mo|mover|mpadded|mphantom|mprescripts|mroot|mrow|ms|mspace|msqrt|mstyle"
    "|msub|msubsup|msup|mtable|mtd|mtext|mtr|munder|munderover|none"
)
_BLOCK = (
    "abstract|address|article|blockquote|br|break|caption|dd|def-item|def-list|disp-formula|disp-quote|div"
    "|dl|dt|fig|graphic|h[1-6]|hr|img|label|li|list|list-item|ol|p|sec|section|statement"
    "|supplementary-material|table|table-wrap|tbody|td|term|th|thead|title|tr|ul"
)
_PREFIXED = r"(?:[A-Za-z][\w.-]{0,20}:)?"
_NAMES = f"{_INLINE}|{_BLOCK}"
_ATTRIBUTES = r"""(?:\s+[\w.:-]+\s*=\s*(?:"[^"<]*"|'[^'<]*'))*"""
_TAG = re.compile(rf"</?{_PREFIXED}(?:{_NAMES}){_ATTRIBUTES}\s*/?>", re.IGNORECASE)
_PAIR = re.compile(rf"<({_PREFIXED}(?:{_NAMES})){_ATTRIBUTES}\s*>[^<]*</\1\s*>", re.IGNORECASE)
_ENTITY = re.compile(r"&(?:#\d{1,7}|#[xX][0-9A-Fa-f]{1,6}|[A-Za-z][A-Za-z0-9]{1,31});")
_HEADINGS = {"abstract", "summary"}
_IS_BLOCK = re.compile(_BLOCK).fullmatch
# Formulas written twice: the second writing is for typesetting programs.
_SECOND_WRITINGS = frozenset({"annotation", "annotation-xml", "tex-math"})


def plain_text(markup: str) -> str:
    """Return the text of a title or abstract on one line, without markup.

    HTML, JATS and MathML tags go, their text stays (H<sub>2</sub>O is H2O); block tags
    part words. A leading heading 'Abstract' goes. Entities are resolved, twice where the
    source escaped twice. A '<' that begins no known tag is text. Then as clean_text.
    "" for "". Bounds nothing; time grows with the length.
    """
    text = _once(markup)
    if _ENTITY.search(text) or (text != markup and _PAIR.search(text)):
        text = _once(text)
    return clean_text(text)


def clean_text(text: str) -> str:
    """Return the text on one line: blanks of all kinds (U+00A0 too) made one, ends trimmed.

    Control characters, marks that turn or hide the direction of writing, zero-width
    spaces and half surrogate pairs are taken out: they can't be shown, or disguise what is.
    Joiners stay, since Persian and Indic words need them.
    """
    if text.isascii() and text.isprintable() and "  " not in text:
        return text.strip()
    return " ".join("".join(map(_shown, text)).split())


def _shown(character: str) -> str:
    if character.isspace():
        return " "
    if character in "\u200c\u200d\u00ad":  # joiners; a soft hyphen is taken out below
        return "" if character == "\u00ad" else character
    return "" if unicodedata.category(character) in ("Cc", "Cf", "Cs") else character


def _once(markup: str) -> str:
    """Return the text with one layer of markup and entities resolved."""
    if "<" not in markup:
        return _unescape(markup)
    visible = _between(markup, "<![CDATA[", "]]>", lambda inside: html.escape(inside, quote=False))
    for start, end in (("<!--", "-->"), ("<?", "?>")):
        visible = _between(visible, start, end, lambda _: " ")
    if not _TAG.search(visible):
        return _unescape(visible)
    return _without_tags(visible)


def _between(text: str, start: str, end: str, change: Callable[[str], str]) -> str:
    """Replace all from start to end, both included, by the change of what stands between.

    By find, not by a pattern: a pattern looks for the end anew from every start, and an
    answer of a million starts without an end would hold the run for hours.
    """
    pieces, at = [], 0
    while (begin := text.find(start, at)) >= 0 and (stop := text.find(end, begin + len(start))) >= 0:
        pieces += [text[at:begin], change(text[begin + len(start) : stop])]
        at = stop + len(end)
    return "".join([*pieces, text[at:]])


def _unescape(text: str) -> str:
    """Resolve entities that end in a semicolon; '&para' in 'x&param' is no entity."""
    return _ENTITY.sub(lambda found: html.unescape(found[0]), text)


def _without_tags(markup: str) -> str:
    tree = BeautifulSoup(_only_known_tags(markup), "html.parser")
    elements = [each for each in tree.find_all(True) if isinstance(each, Tag)]
    has_math = any(_local(each) == "math" for each in elements)
    heading_seen = False
    for each in elements:
        name = _local(each)
        if name in _SECOND_WRITINGS and (has_math or name != "tex-math"):
            each.clear()
        elif name == "title" and not heading_seen:
            heading_seen = True
            if clean_text(each.get_text()).rstrip(":.").casefold() in _HEADINGS:
                each.clear()
    return tree.get_text()


def _local(element: Tag) -> str:
    return element.name.rpartition(":")[2].lower()


def _only_known_tags(markup: str) -> str:
    """Escape every '<' that begins no known tag, and every '&' that begins no whole entity."""
    pieces, end = [], 0
    for tag in _TAG.finditer(markup):
        pieces += [_escaped(markup[end : tag.start()]), _spelled_out(tag[0])]
        end = tag.end()
    return "".join([*pieces, _escaped(markup[end:])])


def _spelled_out(tag: str) -> str:
    """Return the tag without attributes, between blanks where it parts words; <p/> as <p></p>."""
    name = re.match(r"</?([\w.:-]+)", tag)
    word = name[1].lower() if name else ""
    plain = f"</{word}>" if tag.startswith("</") else f"<{word}>"
    if tag.endswith("/>"):
        plain = f"<{word}></{word}>"
    return f" {plain} " if _IS_BLOCK(word.rpartition(":")[2]) else plain


def _escaped(text: str) -> str:
    return html.escape(_unescape(text), quote=False)
