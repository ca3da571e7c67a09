"""Titles as they are compared, and what in a title forbids trusting its likeness."""

from __future__ import annotations

import html
import re
import unicodedata
from itertools import pairwise

# Long enough for any real title; a longer one is compared by its beginning.
LONGEST_TITLE = 600

_TAG = re.compile(r"</?[A-Za-z][^<>]{0,80}>")
# Scripts written without blanks: each character is taken as a word of its own.
_UNSPACED = re.compile(r"([\u0e00-\u0e7f\u3040-\u30ff\u3400-\u9fff\uac00-\ud7af])")
# A letter lost in a wrong decoding: "B?hlen".
_LOST = re.compile(r"(?<![^\W_])\?(?=[^\W_])|(?<=[^\W_])\?(?=[^\W_])|\ufffd")
_LETTERS = str.maketrans(
    {"ø": "o", "Ø": "O", "æ": "ae", "Æ": "AE", "œ": "oe", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ı": "i"}
)
_WORD = re.compile(r"[^\W_]+")
_ROMAN = {
    tens + ones: str(10 * len(tens) + place)
    for tens in ("", "x", "xx", "xxx")
    for place, ones in enumerate(("", "i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix"))
    if tens + ones
}
_SPELLED = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7",
            "eight": "8", "nine": "9", "ten": "10", "eleven": "11", "twelve": "12"}  # fmt: skip
_ORDINAL = {"first": "1", "second": "2", "third": "3", "fourth": "4", "fifth": "5", "sixth": "6",
            "seventh": "7", "eighth": "8", "ninth": "9", "tenth": "10", "eleventh": "11",
            "twelfth": "12"}  # fmt: skip
_COUNTED = frozenset(("part", "parts", "pt", "volume", "vol", "chapter", "no", "number", "phase", "section",
                      "series", "book", "paper", "type"))  # fmt: skip
_TELLING = _COUNTED.union(_ROMAN, _ORDINAL)
_DIGITS = re.compile(r"\d+")
_NEGATIONS = frozenset(("no", "not", "without", "never", "cannot"))
# Words that make no other title of one.
ARTICLES = frozenset(("a", "an", "the"))
_NOTICES = (
    ("correction", r"(author |publisher )?(correction|corrigend(um|a)|errat(um|a)|addend(um|a))\b"),
    ("correction", r".* (corrigendum|erratum|addendum)$"),
    ("retraction", r"removal notice\b|.* retracted$"),
    ("retraction", r"(notice of )?(retraction|retracted|withdrawn|withdrawal|expression of concern)\b"),
    ("comment", r"(a )?(comments?|commentary|discussion|letter) (on|to|of)\b"),
    ("reply", r"(a |the |authors? (s )?)?(reply|response|rejoinder) (to|by)\b|authors? (s )?response for\b"),
    ("reply", r".* (reply|rejoinder|authors response)$"),
    ("review", r"(book )?reviews? of (?!the literature)|book reviews?\b|(peer )?review for\b"),
    ("review", r"(decision letter|referee report|reviewer report) (for|of|on)\b"),
    ("supplement", r"supplement(ary|al)? (material|information|data|file|table|figure)s?\b"),
    (
        "supplement",
        r"additional file\b|data from\b|replication (data|code|files|package|materials?) (for|of)\b",
    ),
    (
        "supplement",
        r"appendix (to|for)\b|.* ((online|web|technical) appendix|supplementary (materials?|information))$",
    ),
    (
        "protocol",
        r".* (study|trial|review) protocol$|(study |trial )?protocol (for|of) an? (randomi|systematic )",
    ),
    ("summary", r"(abstract|summary|highlights) of\b|in this issue\b"),
)
_NOTICE = tuple((name, re.compile(pattern)) for name, pattern in _NOTICES)
# The first three letters of such titles, and how others end: most need not be matched with every pattern.
_NOTICE_HEADS = frozenset((
    "a c", "a d", "a l", "a r", "abs", "add", "app", "aut", "boo", "com", "cor", "dat", "dec", "dis", "err",
    "exp", "hig", "in ", "let", "not", "pee", "pro", "pub", "ref", "rej", "rem", "rep", "res", "ret", "rev",
    "stu", "sum", "sup", "the", "tri", "wit",
))  # fmt: skip
_NOTICE_ENDS = (
    " corrigendum", " erratum", " addendum", " reply", " rejoinder", " authors response", " retracted",
    " appendix", " material", " materials", " information", " protocol",
)  # fmt: skip
# A heading before another document's title, the sign after it lost in the plain title: "Reply: …".
_REPLY_TO = re.compile(
    r"\A\s*(?:authors?['’]?s?['’]?\s+|in\s+)?(?:reply|response|rebuttal|rejoinder)\s*[:.—–]\s+", re.I
)
_ABOUT = re.compile(r"\A\s*re:\s*", re.IGNORECASE)

# What a catalogue adds to the title to say what sort of talk or paper it was.
_SORT = (
    r"((extended|demo|panel|tutorial|invited|short|poster) )?abstract|tutorial( abstract| session)?"
    r"|panel( session| abstract)?|demo(nstration)?( abstract| paper)?|poster( abstract)?|invited|preprint"
    r"|(short|long|full|invited|experience|industrial|position|regular|research|challenges?)"
    r" (paper|version|talk)"
    r"|extended version|abstract only|guest editors? (foreword|introduction)"
)
_SORT_AT_END = re.compile(rf"(?P<core>.+? .+?) (?:{_SORT})")
# The words such an ending ends with: most titles need not be searched for one.
_SORT_ENDS = (
    " abstract", " tutorial", " session", " panel", " demo", " demonstration", " paper", " poster",
    " invited", " preprint", " version", " talk", " only", " foreword", " introduction",
)  # fmt: skip
_SORT_ONLY = re.compile(_SORT)
# A citation's year, taken for the beginning of its title.
_YEAR_FIRST = re.compile(r"\A\s*\((?:19|20)\d\d[a-z]?\)[\s.,:;]*(?=\S)")
_BRACKETS = re.compile(r"\(([^()]{3,40})\)")
_SORT_AT_START = re.compile(rf"(?:{_SORT}) (?:on )?(?P<core>.+ .+)")
_SORT_HEADS = frozenset((
    "abs", "cha", "dem", "exp", "ext", "ful", "gue", "ind", "inv", "lon", "pan", "pos", "pre", "reg",
    "res", "sho", "tut",
))  # fmt: skip

# Titles that many unlike documents bear; only an identifier can tell those apart.
_BOILERPLATE = re.compile(
    r"(from the |guest |associate |the |letter from the )?(editors?|editorial|chair|president)( s|s)?"
    r"( (board|notes?|page|column|message|comments?|introduction|corner|preface|foreword|overview|choice))*"
    r"|(front|back|end) ?matter|(fore|end)words?|(guest )?editorial( .{0,30})?|preface( .{0,40})?"
    r"|(general |guest editors? |an )?introduction( to (the|this) .{0,60})?|(table of )?contents|title page"
    r"|cover( page)?|(author |subject |keyword )?index( .{0,30})?|acknowledge?ments?|announcements?"
    r"|news( .{0,20})?|obituary|in memoriam|masthead|copyright( page| notice)?|bibliography|references"
    r"|appendi(x|ces)( .{0,4})?|abstracts?|discussions?|conclusions?|reviews?|letters?( to the editor)?"
    r"|book reviews?( column| section| .{0,10})?|correspondence|errat(a|um)|corrigend(a|um)|corrections?"
    r"|comments?|reply|response|untitled|no title|unknown|calendar( of events)?|call for papers"
    r"|list of .{0,40}|panel( discussion| session)?|keynote( .{0,20})?|invited talk|welcome( .{0,40})?"
    r"|about the authors?|contributors|issue information|volume information|research news"
    r"|program(me)?( committee)?|reminiscences on .{0,40}|chair(s|man s)? message"
)
_BOILERPLATE_HEADS = frozenset((
    "abo", "abs", "ack", "an ", "ann", "app", "ass", "aut", "bac", "bib", "boo", "cal", "cha", "com",
    "con", "cop", "cor", "cov", "dis", "edi", "end", "err", "for", "fro", "gen", "gue", "in ", "ind",
    "int", "inv", "iss", "key", "let", "lis", "mas", "new", "no ", "obi", "pan", "pre", "pro", "ref",
    "rem", "rep", "res", "rev", "sub", "tab", "the", "tit", "unk", "unt", "vol", "wel",
))  # fmt: skip


_ONCE = re.compile(
    r"guest editor(ial|s|)( s)?( (introduction|foreword|preface|editorial))?|keynote.*|invited talk"
)

# What becomes of a sign in text of plain letters only.
_ASCII = {code: " " if not chr(code).isalnum() else chr(code).lower() for code in range(128)} | {
    ord("'"): None
}


def plain(text: str) -> str:
    """Return the text as compared: entities and markup resolved, compatibility forms folded
    (NFKD), accents dropped, case folded, every other sign one blank. "" where nothing is left.
    """
    text = text[: 4 * LONGEST_TITLE]
    if "&" in text:
        text = html.unescape(html.unescape(text))
    if "<" in text:
        text = _TAG.sub("", text)
    if "?" in text or "\ufffd" in text:
        text = _LOST.sub("", text)
    if text.isascii():
        return " ".join(text.translate(_ASCII).split())[:LONGEST_TITLE].strip()
    text = unicodedata.normalize("NFKD", text.translate(_LETTERS))
    text = "".join(ch for ch in text if not unicodedata.combining(ch))
    text = unicodedata.normalize("NFC", text)
    text = _UNSPACED.sub(r" \1 ", text)
    return " ".join(_WORD.findall(text.casefold().replace("'", "").replace("’", "")))[:LONGEST_TITLE].strip()


def core(text: str) -> str:
    """Return the plain title without words, at its ends or in brackets, that only say what sort of
    paper it is ("… (extended abstract)", "Panel: …"), two words always left, and without a
    citation's year before it ("(1989). …").
    """
    return core_and_sort(text)[0]


def core_and_sort(text: str) -> tuple[str, str]:
    """Return the core of a title, and the words of the plain title that it has not."""
    text = _ABOUT.sub("Comment on ", _REPLY_TO.sub("Reply to ", _YEAR_FIRST.sub("", text)))
    bare = _BRACKETS.sub(_unless_sort, text[: 4 * LONGEST_TITLE]) if "(" in text else text
    title = whole = plain(bare)
    if title.endswith(_SORT_ENDS) and (found := _SORT_AT_END.fullmatch(title)):
        title = found["core"]
    if title[:3] in _SORT_HEADS and (found := _SORT_AT_START.fullmatch(title)):
        title = found["core"]
    if title == whole and bare == text:
        return title, ""
    left = set(title.split())
    return title, " ".join(word for word in plain(text).split() if word not in left)


def _unless_sort(brackets: re.Match[str]) -> str:
    inside = brackets.group(1)
    alone = len(inside) + 2 == len(brackets.string.strip())
    return brackets.group() if alone or not _SORT_ONLY.fullmatch(plain(inside)) else " "


def is_weak(title: str) -> bool:
    """Tell whether a plain title says too little to compare: empty, one word, or boilerplate.

    Words of scripts without blanks are single characters here, so three of them count as one.
    """
    parts = title.split()
    size = len(parts) if title.isascii() else sum(1 / 3 if _UNSPACED.match(word) else 1.0 for word in parts)
    return size < 1.9 or is_boilerplate(title)


def is_boilerplate(title: str) -> bool:
    """Tell whether many unlike documents bear the plain title."""
    return title[:3] in _BOILERPLATE_HEADS and _BOILERPLATE.fullmatch(title) is not None


def is_once(title: str) -> bool:
    """Tell whether the plain title is of what the same people do once a year at most."""
    return _ONCE.fullmatch(title) is not None


def notice(title: str) -> str:
    """Return what a plain title announces about another document (correction, retraction,
    comment, reply, review, supplement, summary), or "" for a work in its own right.
    """
    if title[:3] in _NOTICE_HEADS or title.endswith(_NOTICE_ENDS):
        for name, pattern in _NOTICE:
            if pattern.match(title):
                return name
    return ""


def may_count(word: str) -> bool:
    """Tell whether `numbers` may find any in a title with this word: a quick look."""
    return word in _TELLING or _DIGITS.search(word) is not None


def may_label(word: str) -> bool:
    """Tell whether a word is a label by itself, or makes one of another."""
    single = len(word) == 1 and word not in "0123456789st"
    return single or word in _SPELLED or word in _NEGATIONS or word.startswith("non")


def labels(title: str) -> frozenset[str]:
    """Return what names one of several in a plain title, or turns it round: letters by themselves
    ("vitamin d", "β amylase", "r"), spelled numbers ("two species"), the signs of scripts without
    blanks, negations ("without", and "nonlinear" for "non linear").

    What an apostrophe left behind ("s", "t") is none.
    """
    words = title.split()
    joined = {"non" + after for word, after in pairwise(words) if word == "non"}
    alone = {word for word in words if may_label(word)}
    return frozenset(joined.union(w for w in alone if not w.startswith("non") or len(w) > 6))


def labels_differ(one: frozenset[str], other: frozenset[str]) -> bool:
    """Tell whether each of two titles has a label of its own (hepatitis b and c, two and three
    species), or one a negation that the other has not.

    A catalogue without Greek letters writes another, so that p may be ρ.
    """
    mine, theirs = one - other, other - one
    if any(word in _NEGATIONS or word.startswith("non") for word in mine | theirs):
        return True
    return any(x.isascii() == y.isascii() for x in mine for y in theirs)


def name_left_out(one: str, other: str) -> bool:
    """Tell whether one plain title is the other without the name it begins with ("id5 an incremental
    id3"): a word of letters, then digits, that counts nothing, before three words or more.
    """
    short, long = sorted((one, other), key=len)
    name, _, rest = long.partition(" ")
    letters = name.rstrip("0123456789")
    named = letters.isalpha() and letters != name and letters not in _COUNTED
    return named and rest == short and rest.count(" ") > 1


def numbers(title: str) -> frozenset[str]:
    """Return the numbers a plain title is told apart by.

    Runs of digits anywhere ("2019", "sql3", "5th", and "fifth"); Roman or spelled numbers and
    single letters where they count something ("part ii", "volume two", "type b") or end the
    title ("… II"). What is counted is marked where another has its number: "the second method, part
    ii" has 2 and 2'.
    """
    parts = title.split()
    found: set[str] = set()
    for place, word in enumerate(parts):
        counted = place > 0 and parts[place - 1] in _COUNTED
        if digits := _DIGITS.findall(word):
            said = [run.lstrip("0") or "0" for run in digits]
        elif word in _ORDINAL:
            said = [_ORDINAL[word]]
        elif word in _ROMAN and (counted or place == len(parts) - 1 or len(word) > 1):
            said = [_ROMAN[word]]
        elif counted and (word in _SPELLED or len(word) == 1):
            said = [_SPELLED.get(word, word)]
        else:
            continue
        for number in said:
            found.add(f"{number}'" if counted and number in found else number)
    return frozenset(found)
