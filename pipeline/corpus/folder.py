"""The folder of a corpus: which files were loaded, and what lies where.

corpus.json is the one list of what counts; it is replaced in one step. A folder below files/
that it does not name is a load that was cut off, or what a newer load replaced: nothing reads
it, and the next load takes it away.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

from pipeline.append_log import write_file
from pipeline.errors import StoreDamaged
from pipeline.run_lock import hold

# Goes up when what is kept of a document changes: files are then loaded anew when handed in.
READER = 2
FILE_NAME = "corpus.json"


@dataclass(frozen=True)
class LoadedFile:
    """A file in the corpus. name: of the file handed in. folder: below files/.

    documents: how many are searched; by_kind, unreadable, left_aside: numbers by kind of
    document, by reason, by what they are. reader: which READER read it.
    """

    name: str
    sha256: str
    size: int
    folder: str
    loaded_at: str
    segments: int
    documents: int
    by_kind: dict[str, int]
    unreadable: dict[str, int]
    left_aside: dict[str, int]
    reader: int = READER


@dataclass(frozen=True)
class CorpusFolder:
    """The corpus at path."""

    path: Path

    @property
    def exists(self) -> bool:
        """Say whether anything was ever loaded into it."""
        return (self.path / FILE_NAME).is_file()

    def files(self) -> tuple[LoadedFile, ...]:
        """Return the files loaded, in the order in which they were; () for none.

        Raises StoreDamaged where the list can't be read.
        """
        path = self.path / FILE_NAME
        if not path.exists():
            return ()
        try:
            rows = json.loads(path.read_text(encoding="utf-8"))["files"]
            return tuple(LoadedFile(**row) for row in rows)
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise StoreDamaged(
                f"{path} can't be read ({error}). Take the folder away and load its files again."
            ) from error

    def folder_of(self, file: LoadedFile) -> Path:
        """Return where the file's tables lie."""
        return self.path / "files" / file.folder

    def tables(self, kind: str) -> list[Path]:
        """Return the tables of that kind (documents, words, …), in the order of loading."""
        return [
            self.folder_of(file) / f"{kind}-{number:04d}.parquet"
            for file in self.files()
            for number in range(1, file.segments + 1)
        ]

    @contextmanager
    def loading(self) -> Iterator[None]:
        """Hold the corpus against a second load, and take away what cut-off loads left."""
        (self.path / "files").mkdir(parents=True, exist_ok=True)
        busy = (
            f"{self.path}: files are being loaded into it by process {{holder}}. Try again when it is done."
        )
        with hold(self.path / "corpus.lock", busy):
            kept = {file.folder for file in self.files()}
            for folder in (self.path / "files").iterdir():
                if folder.name not in kept:
                    shutil.rmtree(folder)
            yield

    def commit(self, file: LoadedFile) -> None:
        """Make the loaded file count, instead of one of the same name; in one step.

        What it replaces stays on the disk until the next load: a search may be reading it.
        """
        others = [each for each in self.files() if each.name != file.name]
        rows = [asdict(each) for each in (*others, file)]
        text = json.dumps({"files": rows}, ensure_ascii=False, indent=1)
        write_file(self.path / FILE_NAME, text.encode())
