"""What the comparison of records looks at, read once from the tables, column by column."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from functools import cached_property, reduce
from itertools import combinations
from operator import or_

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pipeline.resolve import titles
from pipeline.resolve.columns import Coded, Flags, Floats, Ints, Ragged, each_once, facts_of, numbered

# More people than this are compared by the first ones: a 3,000-author paper costs no more.
MOST_PEOPLE = 40
# Longer names are compared by their beginning.
LONGEST_NAME = 100

PATENT_KINDS = frozenset({"patent", "patent application", "utility model", "design"})
CLASS = dict.fromkeys(PATENT_KINDS, "patent") | {
    "article": "published", "conference paper": "published", "report": "report", "thesis": "thesis",
    "preprint": "preprint", "other": "", "web page": "web page",
}  # fmt: skip
_GENERATION = frozenset(("jr", "sr", "ii", "iii", "iv", "phd", "md"))
# Short forms of given names that begin with another letter than the name.
_SHORT_FORMS = {"bob": "robert", "bobby": "robert", "bill": "william", "billy": "william",
                "dick": "richard", "ted": "edward", "ned": "edward", "tony": "anthony", "peggy": "margaret",
                "betty": "elizabeth", "beth": "elizabeth", "liz": "elizabeth",
                "sasha": "alexander"}  # fmt: skip
_ORGANISATION = re.compile(
    r"\b(corporate|team|group|corp|corporation|inc|ltd|gmbh|consortium|committee|association|universit\w*|univ"
    r"|institute?|department|laborator(y|ies)|society|council|ministry|agency|company|collaboration)\b",
    re.IGNORECASE,
)
_ARXIV_DOI = re.compile(r"10\.48550/arxiv\.(.+)", re.IGNORECASE)
_ARXIV_VERSION = re.compile(r"v(\d{1,3})$")
_DOI_VERSION = re.compile(r"(?:[/._-]?v|\.version)(\d{1,3})$", re.IGNORECASE)
_RUNS = re.compile(r"[^\W_]+")
# Zenodo gives a deposit one DOI and each version its own, the first with the next number.
DEPOSITS = frozenset({"10.5281"})
_LONG_NUMBER = re.compile(r"(?<![^\W_])(\d{7,})$")
_KIND_CODE = re.compile(r"(?<=\d)([A-Z]\d?)$")
_FIRST_PAGE = re.compile(r"\W*(\w{1,12})")
_TEXTS = ("record_id", "source", "kind", "title", "venue", "volume", "pages", "version", "language")
_NO_YEAR = -(10**6)


def surname(family: str, name: str) -> str:
    """Return the plain family name: as stated, else the part before a comma, else the last word."""
    if family:
        return titles.plain(family)
    before, comma, _ = name.partition(",")
    if comma and before.strip():
        return titles.plain(before)
    # Catalogues number namesakes: "Wei Wang 0001".
    words = titles.plain(name).split()
    parts = [part for part in words if part not in _GENERATION and not part.isdigit()]
    long = [part for part in parts if len(part) > 1]
    return long[-1] if long else (parts[-1] if parts else "")


def doi_parts(doi: str) -> tuple[str, str]:
    """Return a DOI's base and its version ("" where none is written: …/v2, ….v3)."""
    found = _DOI_VERSION.search(doi)
    return (doi[: found.start()], found.group(1)) if found else (doi, "")


def doi_runs(doi: str) -> tuple[str, list[str]]:
    """Return a DOI's registrant, and the runs of letters and digits of the rest without its version."""
    registrant, _, suffix = doi_parts(doi)[0].partition("/")
    return registrant, _RUNS.findall(suffix)


def long_number(doi: str) -> str:
    """Return the number of more than six digits that ends a DOI, or ""."""
    found = _LONG_NUMBER.search(doi)
    return found.group(1) if found else ""


def kind_code(value: str) -> str:
    """Return the kind code that ends a normalised publication number, or ""."""
    found = _KIND_CODE.search(value)
    return found.group(1) if found else ""


def named(scheme: str, match_key: str, source: str) -> tuple[str, str]:
    """Return scheme and key under which a number is compared.

    The DOI that arXiv registers for a paper is that paper's arXiv number; a family number is
    the source's own, so the source is part of its key.
    """
    if scheme == "doi" and (arxiv := _ARXIV_DOI.fullmatch(match_key)):
        return "arxiv", _ARXIV_VERSION.sub("", arxiv.group(1).casefold())
    if scheme == "family":
        return scheme, f"{source} {match_key}"
    return scheme, match_key


class Shelf:
    """The tables by record, in order of seq, then record_id; a record's place is its row.

    stated: (scheme, value, match key) of each identifier. relations: (kind, scheme, match key).
    The rest is read when first asked for. Years are whole numbers, NaN where unknown.
    """

    def __init__(self, records: pa.Table, identifiers: pa.Table, relations: pa.Table) -> None:
        """Order the records; rows of the other tables whose record is not among them are left out."""
        self._table = records.sort_by([("seq", "ascending"), ("record_id", "ascending")])
        self._facts = identifiers, relations
        self.id_column = ids = self._table["record_id"].combine_chunks()
        self.ids: list[str] = ids.to_pylist()
        self.stated = facts_of(identifiers, ids, ("scheme", "value", "match_key"))
        self.relations = facts_of(relations, ids, ("kind", "scheme", "match_key"))
        self._profiles: dict[int, Profile] = {}

    def __len__(self) -> int:
        """Return how many records there are."""
        return len(self.ids)

    def __getitem__(self, place: int) -> Profile:
        """Return the record's profile."""
        profile = self._profiles.get(place)
        if profile is None:
            profile = self._profiles[place] = Profile(self, place)
        return profile

    @property
    def tables(self) -> tuple[pa.Table, pa.Table, pa.Table]:
        """The tables it was made of, the records in order."""
        return self._table, *self._facts

    def only(self, places: Ints) -> Shelf:
        """Return a shelf of the records at these places; titles that were read are not read again."""
        places = np.sort(places)
        part = Shelf(self._table.take(pa.array(places)), *self._facts)
        if "_titles_and_sorts" in self.__dict__:
            cores, sorts = self._titles_and_sorts
            part._titles_and_sorts = cores.only(places), sorts.only(places)
        return part

    def text(self, name: str, read: Callable[[str], str] = str) -> Coded:
        """Return a column of text, coded."""
        return Coded.of(self._table[name], read)

    @cached_property
    def place(self) -> dict[str, int]:
        """The place of each record_id."""
        return {record_id: place for place, record_id in enumerate(self.ids)}

    def places_of(self, ids: pa.ChunkedArray) -> Ints:
        """Return the place of each record_id, -1 where it is not on the shelf."""
        found = pc.fill_null(pc.index_in(ids, value_set=self.id_column), -1)
        return np.asarray(found.to_numpy(), np.int64)

    @cached_property
    def id_rank(self) -> Ints:
        """Each record's rank in order of record_id."""
        rank = np.empty(len(self), np.int64)
        rank[pc.sort_indices(self.id_column).to_numpy()] = np.arange(len(self))
        return rank

    @cached_property
    def seq(self) -> Ints:
        """Order of arrival."""
        return np.asarray(self._table["seq"].to_numpy(), np.int64)

    @cached_property
    def titles(self) -> Coded:
        """Titles as compared."""
        return self._titles_and_sorts[0]

    @cached_property
    def sort(self) -> Coded:
        """What the title says of the sort of paper (a demonstration, a panel …), left out of titles."""
        return self._titles_and_sorts[1]

    @cached_property
    def _titles_and_sorts(self) -> tuple[Coded, Coded]:
        given = self.text("title")
        both = [titles.core_and_sort(text) for text in given.texts]
        cores, sorts = (Coded.of(pa.array([pair[i] for pair in both], pa.string())) for i in (0, 1))
        return Coded(cores.codes[given.codes], cores.texts), Coded(sorts.codes[given.codes], sorts.texts)

    def title_at(self, place: int) -> str:
        """Return one record's title as compared, without reading all."""
        return titles.core(self._table["title"][place].as_py() or "")

    @cached_property
    def sorted_titles(self) -> list[str]:
        """The titles, in the order of their numbers, with their words in order of the alphabet."""
        return [" ".join(sorted(title.split())) for title in self.titles.texts]

    @cached_property
    def words(self) -> tuple[Ragged, list[str]]:
        """The words of each title in order, as numbers of the vocabulary beside them."""
        listed, vocabulary = self._words
        flat, _ = listed.expand(self.titles.codes)
        starts = np.zeros(len(self) + 1, np.int64)
        np.cumsum(listed.lengths(self.titles.codes), out=starts[1:])
        return Ragged(starts, flat), vocabulary

    @cached_property
    def _words(self) -> tuple[Ragged, list[str]]:
        return numbered(title.split() for title in self.titles.texts)

    @cached_property
    def numbers(self) -> Coded:
        """The numbers that tell titles apart, in order of the alphabet, with blanks between."""
        return self._read_of_some(titles.may_count, titles.numbers)

    @cached_property
    def labels(self) -> Coded:
        """What in the title names one of several, in order of the alphabet, with blanks between."""
        return self._read_of_some(titles.may_label, titles.labels)

    def _read_of_some(self, may: Callable[[str], bool], read: Callable[[str], frozenset[str]]) -> Coded:
        """Return what is read of the titles that have a word in which there may be something."""
        listed, vocabulary = self._words
        flat, owner = listed.expand(np.arange(len(self.titles.texts)))
        telling = np.zeros(len(self.titles.texts), bool)
        telling[owner[np.array([may(word) for word in vocabulary], bool)[flat]]] = True
        both = zip(self.titles.texts, telling.tolist(), strict=True)
        return self._said([" ".join(sorted(read(title))) if found else "" for title, found in both])

    @cached_property
    def weak(self) -> Flags:
        """Whether the title says too little to compare."""
        return self.titles.where(titles.is_weak)

    @cached_property
    def once(self) -> Flags:
        """Whether the title is of what happens once: a guest editorial, a keynote."""
        return self.titles.where(titles.is_once)

    @cached_property
    def column(self) -> Flags:
        """Whether many unlike documents bear the title."""
        return self.titles.where(titles.is_boilerplate)

    @cached_property
    def notice(self) -> Coded:
        """What the title announces about another document."""
        return self._said([titles.notice(title) for title in self.titles.texts])

    def _said(self, texts: list[str]) -> Coded:
        """Return what is said of each title, in the order of their numbers, by record."""
        column = Coded.of(pa.array(texts, pa.string()))
        return Coded(column.codes[self.titles.codes], column.texts)

    @cached_property
    def people(self) -> tuple[Ragged, list[str]]:
        """The different family names of each record in order, as numbers of the names beside them."""
        owner, _, _ = self._listed
        families, _, _, texts = self._read_names
        return each_once(owner, families, len(self)), texts

    @cached_property
    def signed(self) -> tuple[Ragged, Ints, list[tuple[str, str]]]:
        """The family name of each record's people, as numbers of those in `people`, and beside it the
        person's name, as a number of the names (whole name, family name).
        """
        owner, _, _ = self._listed
        families, whole, names, _ = self._read_names
        return (
            Ragged(np.searchsorted(owner, np.arange(len(self) + 1)).astype(np.int64), families),
            whole,
            names,
        )

    @cached_property
    def _read_names(self) -> tuple[Ints, Ints, list[tuple[str, str]], list[str]]:
        _, names, families = self._listed
        return _families(names, families)

    @cached_property
    def full_names(self) -> tuple[Ragged, Ragged]:
        """The names of each record as numbers, and the pairs of words of each name as numbers."""
        owner, names, _ = self._listed
        starts = np.searchsorted(owner, np.arange(len(self) + 1))
        pairs, _ = numbered(_word_pairs(name) for name in names.texts)
        return Ragged(np.asarray(starts, np.int64), names.codes), pairs

    @cached_property
    def _listed(self) -> tuple[Ints, Coded, Coded]:
        return _listed(self._table["people"])

    @cached_property
    def organised(self) -> Flags:
        """Whether an organisation is named among the people."""
        lists = self._table["people"].combine_chunks()
        found = np.zeros(len(self), bool)
        names = Coded.of(pc.fill_null(lists.flatten().field("name"), "")) if len(lists.flatten()) else None
        if names is not None:
            owner = pc.list_parent_indices(lists).to_numpy()
            found[owner[names.where(lambda name: _ORGANISATION.search(name) is not None)]] = True
        return found

    @cached_property
    def years(self) -> tuple[Floats, Floats]:
        """First and last possible year."""
        first, last = (self._table[name].cast(pa.float64()).to_numpy() for name in ("year_from", "year_to"))
        return first, np.where(np.isnan(last), first, last)

    @cached_property
    def kind(self) -> Coded:
        """The class of document: patent, published, preprint, report, thesis or the record's own
        kind where it goes with nothing else; "" where the source does not say.
        """
        return self.text("kind", lambda kind: CLASS.get(kind, kind))

    @cached_property
    def stage(self) -> Ints:
        """The stage of writing as a number, 0 where the kind is not known.

        Proceedings are registered as books by some agencies: their papers are then "chapters".
        """
        texts = self.kind.texts
        published = texts.index("published") if "published" in texts else len(texts)
        return np.where(self.kind.where(lambda kind: kind == "chapter"), published, self.kind.codes)

    @cached_property
    def source(self) -> Coded:
        """Who states the record."""
        return self.text("source")

    @cached_property
    def venue(self) -> Coded:
        """Where it appeared, as compared."""
        return self.text("venue", titles.plain)

    @cached_property
    def volume(self) -> Coded:
        """Volume, as compared."""
        return self.text("volume", titles.plain)

    @cached_property
    def first_page(self) -> Coded:
        """First page."""
        return self.text("pages", first_page)

    @cached_property
    def version(self) -> Coded:
        """The version that the source or an arXiv number states."""
        stated = self.text("version", str.casefold)
        found = {
            place: f"v{numbered.group(1)}"
            for place, (scheme, value, _) in self.stated
            if scheme == "arxiv" and not stated.codes[place] and (numbered := _ARXIV_VERSION.search(value))
        }
        if not found:
            return stated
        texts = [found.get(place, stated.texts[code]) for place, code in enumerate(stated.codes.tolist())]
        return Coded.of(pa.array(texts, pa.string()))

    @cached_property
    def language(self) -> Coded:
        """Two letters."""
        return self.text("language", lambda text: text[:2].casefold())

    @cached_property
    def patent(self) -> Flags:
        """Whether the record is of a patent document."""
        numbered = np.zeros(len(self), bool)
        numbered[[place for place, (scheme, _, _) in self.stated if scheme == "publication"]] = True
        return numbered | self.kind.where(lambda kind: kind == "patent")

    @cached_property
    def schemes(self) -> Ints:
        """Which schemes of number the record states: one bit each."""
        bits: dict[str, int] = {}
        found = np.zeros(len(self), np.int64)
        for place, (scheme, _, key) in self.stated:
            if key:
                scheme, _ = named(scheme, key, "")
                found[place] |= 1 << bits.setdefault(scheme, len(bits) % 62)
        return found

    def number(self, scheme: str) -> Ints:
        """Return each record's number of a scheme (doi, arxiv, pmid, pmcid) or its DOI's registrant,
        coded: 0 where it has none, -1 where it has several.
        """
        return self._numbers_of.get(scheme, np.zeros(len(self), np.int64))

    @cached_property
    def _numbers_of(self) -> dict[str, Ints]:
        found: dict[str, Ints] = {}
        codes: dict[tuple[str, str], int] = {}
        for place, (scheme, _, key) in self.stated:
            if key and scheme in ("doi", "arxiv", "pmid", "pmcid"):
                scheme, key = named(scheme, key, "")
                pairs = [(scheme, key)] + [("registrant", key.partition("/")[0])] * (scheme == "doi")
                for pair in pairs:
                    if pair[0] not in found:
                        found[pair[0]] = np.zeros(len(self), np.int64)
                    column = found[pair[0]]
                    code = codes.setdefault(pair, len(codes) + 1)
                    column[place] = code if column[place] in (0, code) else -1
        return found

    @cached_property
    def doi_forms(self) -> tuple[Ints, Flags]:
        """Each record's DOI as a number that all its forms have but a deposit's (0 for none), and
        whether the number does not tell: the record has several DOIs, or a deposit's.
        """
        codes: dict[tuple[str, ...], int] = {}
        form, untold = np.zeros(len(self), np.int64), np.zeros(len(self), bool)
        for place, (scheme, _, key) in self.stated:
            if scheme == "doi" and key:
                registrant, runs = doi_runs(key)
                untold[place] |= form[place] > 0 or registrant in DEPOSITS
                form[place] = codes.setdefault((registrant, *runs), len(codes) + 1)
        return form, untold

    @cached_property
    def related(self) -> Flags:
        """Whether the record states relations other than citations."""
        found = np.zeros(len(self), bool)
        found[[place for place, (kind, _, _) in self.relations if kind not in ("cites", "cited by")]] = True
        return found


class Profile:
    """One record as identifiers and relations are compared. Sets hold match keys.

    priorities: applications that the record's family is known by; a first filing is its own
    priority. publications: match key -> kind code ("" where not stated). relations: (kind,
    scheme, match key). Years are None where unknown.
    """

    __slots__ = ("_labels", "_shelf", "_title", "ids", "kind_class", "language", "place", "priorities",
                 "publications", "relations", "source", "version", "year_from", "year_to")  # fmt: skip

    def __init__(self, shelf: Shelf, place: int) -> None:
        """Read the record at a place."""
        self._shelf, self.place = shelf, place
        self._title: str | None = None
        self._labels: frozenset[str] | None = None
        self.source, self.kind_class, self.language, self.version = (
            column.texts[column.codes[place]]
            for column in (shelf.source, shelf.kind, shelf.language, shelf.version)
        )
        first, last = (float(years[place]) for years in shelf.years)
        self.year_from = None if np.isnan(first) else int(first)
        self.year_to = None if np.isnan(last) else int(last)
        stated = shelf.stated.of(place)
        self.ids = _keys(stated, self.source)
        self.publications = {
            key: kind_code(value) for scheme, value, key in stated if scheme == "publication"
        }
        self.relations = frozenset(
            (kind, *named(scheme, key, self.source)) for kind, scheme, key in shelf.relations.of(place)
        )
        stated_priorities = {key for kind, scheme, key in self.relations if kind == "priority" and scheme}
        self.priorities = frozenset(stated_priorities - {""}) or self.ids.get("application", frozenset())

    @property
    def record_id(self) -> str:
        """The record's id."""
        return self._shelf.ids[self.place]

    @property
    def title(self) -> str:
        """The title as compared."""
        if self._title is None:
            self._title = self._shelf.title_at(self.place)
        return self._title

    @property
    def labels(self) -> frozenset[str]:
        """What in its title names one of several."""
        if self._labels is None:
            self._labels = titles.labels(self.title)
        return self._labels

    @property
    def numbers(self) -> frozenset[str]:
        """The numbers its title is told apart by."""
        return titles.numbers(self.title)

    @property
    def notice(self) -> str:
        """What its title announces about another document."""
        return titles.notice(self.title)

    @property
    def people(self) -> frozenset[int]:
        """Family names, by number."""
        people, _ = self._shelf.people
        return frozenset(people.flat[people.starts[self.place] : people.starts[self.place + 1]].tolist())


def _keys(stated: Iterable[tuple[str, str, str]], source: str) -> dict[str, frozenset[str]]:
    found: dict[str, set[str]] = {}
    for scheme, _, match_key in stated:
        if match_key:
            scheme, match_key = named(scheme, match_key, source)
            found.setdefault(scheme, set()).add(match_key)
    return {scheme: frozenset(keys) for scheme, keys in found.items()}


def first_page(pages: str) -> str:
    """Return the first page of a range, or "": also for page 1, where every paper begins that is
    paged by itself.
    """
    found = _FIRST_PAGE.match(pages)
    page = found.group(1).casefold() if found else ""
    return "" if page.strip("0") == "1" else page


def _listed(column: pa.ChunkedArray) -> tuple[Ints, Coded, Coded]:
    """Return the record, name and family name of each person that is compared: authors and
    inventors, or all where there are none; the first MOST_PEOPLE.
    """
    lists = column.combine_chunks()
    lengths = np.asarray(
        pc.fill_null(pc.list_value_length(lists), 0).to_numpy(zero_copy_only=False), np.int64
    )
    flat = lists.flatten()
    owner = np.repeat(np.arange(len(lists)), lengths)
    names, families, roles = (
        Coded.of(pc.fill_null(flat.field(n), "")) if len(flat) else Coded(np.empty(0, np.int64), [""])
        for n in ("name", "family", "role")
    )
    main = ~roles.where(lambda role: role in ("applicant", "editor"))
    has_main = np.zeros(len(lists), bool)
    has_main[owner[main]] = True
    wanted = np.flatnonzero(main | ~has_main[owner])
    first = np.r_[True, np.diff(owner[wanted]) > 0] if len(wanted) else np.empty(0, bool)
    rank = np.arange(len(wanted)) - np.maximum.accumulate(np.where(first, np.arange(len(wanted)), 0))
    wanted = wanted[rank < MOST_PEOPLE]
    return (
        owner[wanted],
        Coded(names.codes[wanted], names.texts),
        Coded(families.codes[wanted], families.texts),
    )


def _families(names: Coded, families: Coded) -> tuple[Ints, Ints, list[tuple[str, str]], list[str]]:
    """Return each person's family name and whole name by number, the whole names with their family
    names, and the family names.
    """
    both = families.codes * len(names.texts) + names.codes
    pairs, which = np.unique(both, return_inverse=True)
    place: dict[str, int] = {"": 0}
    parts = zip(*(part.tolist() for part in np.divmod(pairs, len(names.texts))), strict=True)
    read = [(names.texts[n], surname(families.texts[f], names.texts[n])) for f, n in parts]
    meant = np.array([place.setdefault(family, len(place)) for _, family in read], np.int64)
    return meant[which], which.astype(np.int64), read, list(place)


def given_letters(name: str, family: str) -> int:
    """Return the first letters of a name's words that are not of the family name, one bit each; 0
    where there are none or a letter was lost in decoding.
    """
    if "?" in name or "\ufffd" in name:
        return 0
    left_out = _GENERATION.union(family.split())
    words = (word for word in titles.plain(name[:LONGEST_NAME]).split() if word not in left_out)
    letters = {word[0] for given in words for word in (given, _SHORT_FORMS.get(given, given))}
    return reduce(or_, (1 << ord(letter) % 61 for letter in letters if letter.isalpha()), 0)


def _word_pairs(name: str) -> list[str]:
    """Return the pairs of words of a name, whatever their order, initials left out."""
    words = sorted({word for word in titles.plain(name[:LONGEST_NAME]).split() if len(word) > 1})[:6]
    return [f"{one} {other}" for one, other in combinations(words, 2)]
