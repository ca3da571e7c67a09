"""Files into the corpus: whole or not at all, each once, and hostile ones refused with what was kept."""

from __future__ import annotations

import gzip
import io
import json
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pipeline.corpus.folder import CorpusFolder
from pipeline.corpus.handed import streams
from pipeline.corpus.load import Outcome, load_files
from pipeline.corpus.paragraphs import read_paragraphs
from pipeline.errors import BadFile, RunInProgress, StoreDamaged

FIXTURES = Path(__file__).resolve().parents[3] / "fixtures/uspto_bulk"
NAMES = ("grant", "application", "design", "plant", "reissue", "registration")


def weekly(*names: str) -> bytes:
    """Return documents behind one another in one file, as the office's weekly files have them."""
    return b"".join((FIXTURES / f"{name}.xml").read_bytes() for name in names)


def zipped(**members: bytes) -> bytes:
    """Return a .zip of the members."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, body in members.items():
            archive.writestr(name.replace("__", "."), body)
    return made.getvalue()


class Desk:
    """A corpus, and files to load into it. Each load is a minute after the last."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.corpus = CorpusFolder(folder / "corpus")
        self.minute = 0

    def now(self) -> datetime:
        self.minute += 1
        return datetime(2026, 11, 25, 2, self.minute, tzinfo=UTC)

    def load(self, name: str, body: bytes | None = None) -> Outcome:
        path = self.folder / name
        if body is not None:
            path.write_bytes(body)
        (outcome,) = load_files(self.corpus, [path], self.now, lambda _: None)
        return outcome

    def documents(self) -> int:
        return sum(file.documents for file in self.corpus.files())


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """Give an empty corpus."""
    return Desk(tmp_path)


@pytest.mark.parametrize("name", ["week.xml", "week.xml.gz", "week.zip"])
def test_a_week_loads_from_each_wrapping(desk: Desk, name: str) -> None:
    """Plain, .gz and .zip give the same documents, counted by kind."""
    body = weekly(*NAMES)
    packed = {"week.xml": body, "week.xml.gz": gzip.compress(body), "week.zip": zipped(ipg__xml=body)}[name]
    file = desk.load(name, packed).file
    assert file
    assert file.by_kind == {
        "patent": 1, "patent application": 1, "design": 1, "plant patent": 1, "reissue patent": 1, "other": 1,
    }  # fmt: skip
    assert file.unreadable == {}


def test_the_same_file_again_is_left_alone(desk: Desk) -> None:
    """Loading it twice changes no byte of the corpus."""
    desk.load("week.xml", weekly("grant"))
    before = sorted(desk.corpus.path.rglob("*.parquet"))
    assert desk.load("week.xml").state == "there already"
    assert sorted(desk.corpus.path.rglob("*.parquet")) == before


def test_a_changed_file_replaces(desk: Desk) -> None:
    """What the file of that name held before no longer counts; its tables go with the next load."""
    first = desk.load("week.xml", weekly("grant", "design")).file
    outcome = desk.load("week.xml", weekly("plant"))
    assert first
    assert outcome.replaced == first.loaded_at
    assert desk.documents() == 1
    assert desk.corpus.folder_of(first).exists()
    desk.load("other.xml", weekly("design"))
    assert not desk.corpus.folder_of(first).exists()


def test_an_unreadable_document_costs_no_other(desk: Desk) -> None:
    """It is counted by reason and kept by its bytes; the loaded documents are the others."""
    bad = weekly("design").replace(b"</claims>", b"")
    outcome = desk.load("week.xml", weekly("grant") + bad + weekly("plant"))
    assert outcome.file
    assert outcome.file.documents == 2
    assert sum(outcome.file.unreadable.values()) == 1
    lines = (
        (desk.corpus.folder_of(outcome.file) / "quarantine.jsonl").read_text(encoding="utf-8").splitlines()
    )
    (kept,) = map(json.loads, lines)
    start, end = kept["bytes"]
    assert (desk.folder / "week.xml").read_bytes()[start:end] == bad
    assert kept["excerpt"].startswith("<?xml")


def test_a_file_that_ends_in_a_document_says_so(desk: Desk) -> None:
    """Every document before the cut is there; the last is unreadable, not missing in silence."""
    outcome = desk.load("week.xml", weekly("grant", "design", "plant")[:-200])
    assert outcome.file
    assert outcome.file.documents == 2
    assert sum(outcome.file.unreadable.values()) == 1


@pytest.mark.parametrize(
    ("name", "body", "why"),
    [
        ("torn.zip", zipped(a__xml=weekly(*NAMES))[:-40], "torn"),
        ("flipped.zip", None, "torn"),
        ("torn.xml.gz", gzip.compress(weekly(*NAMES))[:-40], "torn"),
        ("not.zip", b"PK no zip at all", "torn"),
        ("empty.xml", b"", "empty"),
        ("page.xml", b"<html><body>Sign in</body></html>", "no document"),
        ("letter.xml", "Grüße".encode("latin-1"), "no document"),
        ("pictures.zip", zipped(a__tif=b"II*", b__pdf=b"%PDF"), "2 × .tif file|1 × .tif file; 1 × .pdf file"),
    ],
)
def test_a_file_that_can_not_be_taken_whole_leaves_nothing(
    desk: Desk, name: str, body: bytes | None, why: str
) -> None:
    """It is refused with the reason, nothing of it counts, and no folder of it stays."""
    if body is None:
        whole = bytearray(zipped(a__xml=weekly(*NAMES)))
        whole[len(whole) // 2] ^= 0xFF
        body = bytes(whole)
    desk.load("good.xml", weekly("grant"))
    outcome = desk.load(name, body)
    assert outcome.state == "refused"
    assert any(part in outcome.why for part in why.split("|")), outcome.why
    assert desk.documents() == 1
    assert len(list((desk.corpus.path / "files").iterdir())) == 1


def test_a_bomb_is_refused_before_it_fills_anything(tmp_path: Path) -> None:
    """An archive that unpacks to absurd sizes is refused by its own list, and by what it gives."""
    bomb = tmp_path / "bomb.zip"
    bomb.write_bytes(zipped(a__xml=b" " * 60_000_000))
    with pytest.raises(BadFile, match="would unpack to 60,000,000"):
        list(streams(bomb, {}))
    packed = tmp_path / "bomb.xml.gz"
    packed.write_bytes(gzip.compress(b" " * 60_000_000))
    with pytest.raises(BadFile, match="would unpack to"):
        for stream in streams(packed, {}):
            while stream.read(1 << 20):
                pass


def test_entities_that_multiply_are_never_expanded(desk: Desk) -> None:
    """A document type full of entities is taken out unread; the document itself is read."""
    layers = "".join(f'<!ENTITY l{at} "{f"&l{at - 1};" * 10}">' for at in range(1, 40))
    body = weekly("grant").replace(b"[ ]", f'[<!ENTITY l0 "ha">{layers}]'.encode())
    outcome = desk.load("bomb.xml", body.replace(b"Emitters clog.", b"Emitters clog. &l39;"))
    assert outcome.state == "loaded"
    (rows,) = read_paragraphs(desk.corpus.path, ["US.19999001.B2"]).values()
    assert rows[1].text.startswith("Emitters clog. &l39; A pulsating")


def test_names_in_an_archive_are_no_paths(desk: Desk) -> None:
    """A member named like a path outside is read as a stream and written nowhere."""
    outcome = desk.load("odd.zip", zipped(**{"../../out__xml": weekly("grant")}))
    assert outcome.state == "loaded"
    assert not list(desk.folder.parent.glob("out*"))


def test_a_load_cut_off_leaves_what_was(desk: Desk) -> None:
    """Tables that corpus.json does not name are read by nobody and go with the next load."""
    desk.load("week.xml", weekly("grant"))
    stray = desk.corpus.path / "files" / "cut-off"
    stray.mkdir()
    (stray / "documents-0001.parquet").write_bytes(b"PAR1")
    assert desk.documents() == 1
    desk.load("other.xml", weekly("design"))
    assert not stray.exists()
    assert desk.documents() == 2


def test_two_loads_do_not_overlap(desk: Desk) -> None:
    """The second says who holds the corpus, and changes nothing."""
    with desk.corpus.loading(), pytest.raises(RunInProgress, match="are being loaded into it by process"):
        desk.load("week.xml", weekly("grant"))


def test_a_damaged_list_is_an_error(desk: Desk) -> None:
    """It is never taken for an empty corpus."""
    desk.load("week.xml", weekly("grant"))
    (desk.corpus.path / "corpus.json").write_text('{"files": [{}]}', encoding="utf-8")
    with pytest.raises(StoreDamaged, match="load its files again"):
        desk.corpus.files()


def test_paragraphs_on_demand(desk: Desk) -> None:
    """Each with its number as printed; the words asked about choose."""
    desk.load("week.xml", weekly(*NAMES))
    found = read_paragraphs(desk.corpus.path, ["US.19999001.B2", "US.1.B2"])
    assert list(found) == ["US.19999001.B2"]
    numbers = [row.number for row in found["US.19999001.B2"] if row.holds("NICKEL-titanium")]
    assert numbers == ["0003"]


def test_the_single_documents_of_a_folder_are_one_file(desk: Desk) -> None:
    """A folder stands for its files: archives each for itself, single documents together; others are left."""
    folder = desk.folder / "handed"
    folder.mkdir()
    for name in ("grant", "design"):
        (folder / f"{name}.xml").write_bytes(weekly(name))
    (folder / "week.zip").write_bytes(zipped(a__xml=weekly("plant")))
    found = load_files(desk.corpus, [folder], desk.now, lambda _: None)
    assert [(each.name, each.file.documents if each.file else 0) for each in found] == [
        ("handed/", 2),
        ("week.zip", 1),
    ]
    again = load_files(desk.corpus, [folder], desk.now, lambda _: None)
    assert {each.state for each in again} == {"there already"}
    (folder / "reissue.xml").write_bytes(weekly("reissue"))
    load_files(desk.corpus, [folder], desk.now, lambda _: None)
    assert desk.documents() == 4
