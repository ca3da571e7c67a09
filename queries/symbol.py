"""Which classification symbols lie below which (CPC and IPC)."""

from __future__ import annotations

import re
from typing import Literal

Judgement = Literal["yes", "no", "unknown"]

# Section, class, subclass, main group, subgroup; blanks and leading zeros differ by source.
_SYMBOL = re.compile(r"([A-HY])(?:(\d{2})(?:([A-Z])(?:\s*0*(\d{1,4})(?:\s*/\s*(\d{2,6}))?)?)?)?", re.ASCII)


def below(asked: str, stated: str) -> Judgement:
    """Return whether the stated symbol is the asked one or lies below it.

    Section, class, subclass and main group (`A01G 25`, `A01G 25/00`) hold everything that
    begins with them. Below a subgroup the order is given by dots in the printed scheme,
    which a symbol does not show: a dotted child always stands after its parent in the
    same main group (IPC Guide, hierarchical order of subgroups), so an earlier subgroup
    is 'no' and a later one 'unknown'. A stated symbol wider than the asked one is
    'unknown' too: the document may be about any part of it. Symbols not written as CPC
    or IPC write them are compared as text.
    """
    ask, say = _SYMBOL.fullmatch(asked.strip().upper()), _SYMBOL.fullmatch(stated.strip().upper())
    if ask is None or say is None:
        return "yes" if asked.split() == stated.split() else "no"
    wanted, found = _places(ask), _places(say)
    if found[: len(wanted)] == wanted:
        return "yes"
    if wanted[: len(found)] == found:
        return "unknown"
    if len(wanted) == len(found) == 5 and wanted[:4] == found[:4] and found[4] > wanted[4]:
        return "unknown"
    return "no"


def extends(asked: str, stated: str) -> bool:
    """Return whether the stated symbol is the asked subgroup with further digits.

    A01G 25/023 extends A01G 25/02: the way CPC nearly always numbers what it puts below
    an IPC subgroup. Nearly: A61K 31/045 does not stand below A61K 31/04, so `below` says
    'unknown'.
    """
    ask, say = _SYMBOL.fullmatch(asked.strip().upper()), _SYMBOL.fullmatch(stated.strip().upper())
    if ask is None or say is None or len(_places(ask)) < 5 or len(_places(say)) < 5:
        return False
    wanted, found = _places(ask), _places(say)
    return wanted[:4] == found[:4] and found[4].startswith(wanted[4])


def _places(symbol: re.Match[str]) -> tuple[str, ...]:
    """Return the parts that narrow, widest first; group 00 adds nothing to its main group."""
    parts = [part for part in symbol.groups() if part is not None]
    if len(parts) == 5 and set(parts[4]) == {"0"}:
        parts.pop()
    return tuple(parts)
