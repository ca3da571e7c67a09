"""Files handed in for the corpus: a path, a .zip or a .gz → streams of bytes, bounded.

Nothing is unpacked onto the disk, and no name inside an archive is ever used as a path.
"""

from __future__ import annotations

import gzip
import hashlib
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from pipeline.errors import BadFile

# A weekly file unpacks to about 1 GB, at six to twenty times its packed size.
MOST_UNPACKED = 20_000_000_000
MOST_RATIO = 200
MOST_MEMBERS = 100_000
# A document has up to a few MB, a week of them hundreds.
SMALL = 20_000_000
TEXTS = (".xml", ".txt", ".aps")
TABLES = (".tsv",)


@dataclass(frozen=True)
class Stream:
    """One file of bytes, read from its beginning. name: for messages, never a path."""

    name: str
    read: Callable[[int], bytes]


@dataclass(frozen=True)
class Handed:
    """What is loaded as one: a file, the single documents of a folder, or all tables of a command."""

    name: str
    paths: tuple[Path, ...]
    tables: bool = False

    @property
    def size(self) -> int:
        """Return the bytes of its files."""
        return sum(path.stat().st_size for path in self.paths)

    def sha256(self) -> str:
        """Return the hash of the file's bytes; of several, of their names and hashes."""
        each = [(path.name, _sha256(path)) for path in self.paths]
        return each[0][1] if len(each) == 1 else hashlib.sha256(repr(each).encode()).hexdigest()


def handed(paths: Iterable[Path]) -> Iterator[Handed]:
    """Yield what is to be loaded, in the order given. A folder stands for the files in it.

    Its single documents become one: a corpus of many small files would be slow to search. The
    tab-separated tables become one, since they are joined.
    """
    tables: list[Path] = []
    for path in paths:
        if not path.is_dir():
            if is_table(path):
                tables.append(path)
            else:
                yield Handed(path.name, (path,))
            continue
        files = [each for each in sorted(path.iterdir()) if each.is_file() and each.name[0] != "."]
        tables += filter(is_table, files)
        files = [each for each in files if not is_table(each)]
        small = [each for each in files if each.suffix.lower() in TEXTS and each.stat().st_size < SMALL]
        if small:
            yield Handed(f"{path.resolve().name}/", tuple(small))
        for each in files:
            if each not in small:
                yield Handed(each.name, (each,))
    if tables:
        yield Handed(" + ".join(sorted(path.name for path in tables)), tuple(sorted(tables)), tables=True)


def is_table(path: Path) -> bool:
    """Say whether the file's name says that it is a tab-separated table, packed or not."""
    return path.name.lower().endswith((".tsv", ".tsv.zip", ".tsv.gz"))


def _sha256(path: Path) -> str:
    with in_our_words(path), path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def streams(path: Path, left_aside: dict[str, int], wanted: tuple[str, ...] = TEXTS) -> Iterator[Stream]:
    """Yield each file with a wanted ending that path is or holds, to be read before the next is asked for.

    What a .zip holds beside them is counted in left_aside. Raises BadFile where the archive
    is torn, locked by a password, or unpacks to absurd sizes: the reads of a stream raise it too.
    """
    packed = path.stat().st_size
    suffix = path.suffix.lower()
    bound = _Bound(path, MOST_UNPACKED, max(packed, 100_000) * MOST_RATIO)
    with in_our_words(path):
        if suffix == ".zip":
            with zipfile.ZipFile(path) as archive:
                yield from _members(archive, path, left_aside, bound, wanted)
        elif suffix == ".gz":
            with gzip.open(path) as file:
                yield Stream(path.name, bound.reader(file))
        else:
            with path.open("rb") as file:
                yield Stream(path.name, file.read)


@contextmanager
def in_our_words(path: Path) -> Iterator[None]:
    """Raise BadFile for what the libraries say of a torn, locked or absent archive."""
    try:
        yield
    except (zipfile.BadZipFile, gzip.BadGzipFile, EOFError, zlib.error) as error:
        raise BadFile(f"{path} is torn ({error}). Nothing of it was loaded. Fetch it again") from error
    except RuntimeError as error:  # how zipfile says: a password, a method it has not
        raise BadFile(f"{path} can't be unpacked: {error}. Nothing of it was loaded") from error
    except OSError as error:
        raise BadFile(f"{path} can't be read: {error.strerror or error}") from error


def _members(
    archive: zipfile.ZipFile, path: Path, left_aside: dict[str, int], bound: _Bound, wanted: tuple[str, ...]
) -> Iterator[Stream]:
    infos = [info for info in archive.infolist() if not info.is_dir()]
    if len(infos) > MOST_MEMBERS:
        raise BadFile(
            f"{path} holds {len(infos):,} files; the most is {MOST_MEMBERS:,}. Nothing of it was loaded"
        )
    bound.foresee(sum(info.file_size for info in infos if info.filename.lower().endswith(wanted)))
    for info in infos:
        if info.filename.lower().endswith(wanted):
            with closing(archive.open(info)) as file:
                yield Stream(Path(info.filename).name, bound.reader(file))
        else:
            what = f"{Path(info.filename).suffix.lower()[:12] or 'nameless'} file"
            left_aside[what] = left_aside.get(what, 0) + 1


class _Readable(Protocol):
    def read(self, size: int, /) -> bytes: ...


class _Bound:
    """How much an archive may unpack to, whatever its own list says."""

    def __init__(self, path: Path, most: int, by_ratio: int) -> None:
        self._path, self._most, self._read = path, min(most, by_ratio), 0

    def foresee(self, size: int) -> None:
        if size > self._most:
            raise BadFile(
                f"{self._path} would unpack to {size:,} bytes, more than {self._most:,}, which no weekly file"
                " does. Nothing of it was loaded"
            )

    def reader(self, file: _Readable) -> Callable[[int], bytes]:
        def read(size: int) -> bytes:
            with in_our_words(self._path):
                chunk = file.read(size)
            self._read += len(chunk)
            self.foresee(self._read)
            return chunk

        return read
