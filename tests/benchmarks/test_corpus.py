"""Loading and sweeping 20,000 US documents: documents per second, bytes per document, times, memory.

The documents are varied from the real samples beside the checkout: each copy has a number and
a day of its own, some of its words changed for words of the others, and some words of its own.
Load and sweeps run in processes of their own, so that the peak of memory is theirs.
"""

from __future__ import annotations

import gzip
import json
import random
import re
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "../shared/sources/samples/uspto_bulk"
pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.timeout(3_600),
    pytest.mark.skipif(not SAMPLES.is_dir(), reason="the real documents are not beside the checkout"),
]
WEEKS, A_WEEK = 4, 5_000
WORD = re.compile(rb"\b[a-z]{5,14}\b")
NUMBER = re.compile(rb"(<(?:doc-number|B110><DNUM><PDAT)>)(D?)(\d+)(<)")
DAY = re.compile(rb"(<(?:date|document-date|B140><DATE><PDAT)>)(\d{8})(<)")

LOAD = """
import json, resource, sys, time
from datetime import UTC, datetime
from pathlib import Path
from pipeline.corpus.folder import CorpusFolder
from pipeline.corpus.load import load_files
start = time.perf_counter()
done = load_files(CorpusFolder(Path(sys.argv[1])), [Path(sys.argv[2])], lambda: datetime.now(UTC), lambda _: None)
taken = time.perf_counter() - start
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
(file,) = [each.file for each in done]
print(json.dumps({"s": taken, "cpu_s": time.process_time(), "peak_mb": peak, "documents": file.documents, "unreadable": sum(file.unreadable.values())}))
"""
SWEEP = """
import json, resource, sys, time
from datetime import UTC, datetime
from pathlib import Path
from connectors import uspto_bulk
from pipeline.corpus.search import CorpusSession
from queries.expression_json import expression_from
from queries.window import ALL_DAYS
today = datetime.now(UTC).date()
session = CorpusSession(Path(sys.argv[1]), today)
rows = []
for name, tree, long in json.loads(sys.argv[2]):
    start, cpu = time.perf_counter(), time.process_time()
    (request,) = uspto_bulk.compile(expression_from(tree), ALL_DAYS).requests
    page = session.send(uspto_bulk.in_descriptions_too(request) if long else request)
    first = time.perf_counter() - start
    pages = [page]
    while onward := uspto_bulk.follow(page.request, page, today):
        page = session.send(onward[0])
        pages.append(page)
    found = json.loads(pages[0].body.split(b"\\n", 1)[0])["documents"]
    rows.append((name, found, first, time.perf_counter() - start, time.process_time() - cpu))
print(json.dumps({"rows": rows, "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024}))
"""
A = [
    "or",
    *(
        ["text", t]
        for t in ("battery cell", "battery cells", "electrode", "electrodes", "razor", "razor handle")
    ),
]
B = [
    "or",
    *(
        ["text", t]
        for t in ("light emitting", "light-emitting", "lithium metal", "pivot member", "game server")
    ),
]
SWEEPS = [
    ("opening, and a word nobody wrote", ["text", "zzyzx"], False),
    ("one word", ["text", "electrode"], False),
    ("one phrase", ["text", "pivot member"], False),
    ("two concepts, 11 forms", ["and", A, B], False),
    ("a CPC group and a concept", ["and", ["code", "cpc", "H01M 50"], A], False),
    ("two concepts but one word", ["and", A, B, ["not", ["text", "wherein"]]], False),
    ("two concepts, descriptions too", ["and", A, B], True),
]


def sources() -> list[bytes]:
    """Return the real XML documents."""
    names = sorted(path for path in SAMPLES.iterdir() if ".xml" in path.name)
    raw = [path.read_bytes() for path in names]
    return [gzip.decompress(one) if one[:2] == b"\x1f\x8b" else one for one in raw]


class Template:
    """A real document cut where copies differ: at its number, its day, and forty of its words."""

    def __init__(self, document: bytes, chance: random.Random) -> None:
        words = list(dict.fromkeys(WORD.findall(document, 0, 60_000)))
        self.words = chance.sample(words, min(40, len(words)))
        number, day = NUMBER.search(document), DAY.search(document)
        assert number
        assert day
        self.design = number[2] == b"D"
        self.dated = b"<us-patent-application " in document or b"<patent-application-publication>" in document
        marked = document[: number.start(3)] + b" =number= " + document[number.end(3) : day.start(2)]
        marked += b" =day= " + document[day.end(2) :]
        cut = b"|".join(
            [b" =number= ", b" =day= ", *(rb"(?<=[ >])%s(?=[ ,;.<])" % word for word in self.words)]
        )
        self.parts = re.split(b"(" + cut + b")", marked)

    def copy(self, number: int, vocabulary: list[bytes], chance: random.Random) -> bytes:
        """Return a copy with a number and a day of its own, and twelve other words."""
        year, month, day = chance.randrange(2005, 2026), chance.randrange(1, 13), chance.randrange(1, 29)
        whole = b"%d%07d" % (year, number) if self.dated else b"%07d" % (200_000 + number)
        new = {b" =number= ": whole if self.dated or self.design else b"%08d" % (9_000_000 + number)}
        new[b" =day= "] = b"%d%02d%02d" % (year, month, day)
        for word in chance.sample(self.words, min(12, len(self.words))):
            new[word] = (
                chance.choice(vocabulary) if chance.random() < 0.8 else b"w%x" % chance.randrange(1 << 24)
            )
        return b"".join([new.get(part, part) if at % 2 else part for at, part in enumerate(self.parts)])


def week(path: Path, start: int, documents: list[Template], vocabulary: list[bytes]) -> int:
    """Write a weekly .zip of A_WEEK documents; return its size unpacked."""
    chance, size = random.Random(start), 0  # noqa: S311 (examples, no secrets)
    with (
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
        archive.open(path.with_suffix(".xml").name, "w", force_zip64=True) as file,
    ):
        for number in range(start, start + A_WEEK):
            made = documents[number % len(documents)].copy(number, vocabulary, chance) + b"\n"
            size += len(made)
            file.write(made)
    return size


def measured(code: str, *arguments: str) -> Any:
    """Return what the code prints, run in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True, cwd=ROOT
    )
    return json.loads(done.stdout.splitlines()[-1])


def loaded(corpus: Path) -> Iterator[str]:
    """Load week by week; yield the report."""
    real = sources()
    vocabulary = sorted({word for one in real for word in WORD.findall(one)})
    documents = [Template(one, random.Random(at)) for at, one in enumerate(real)]  # noqa: S311
    unpacked = packed = 0
    yield "\nUS documents varied from the real samples, a .zip a week, each loaded by a process of its own"
    for at in range(WEEKS):
        path = corpus.with_name(f"ipg{at:06d}.zip")
        unpacked += week(path, at * A_WEEK, documents, vocabulary)
        packed += path.stat().st_size
        load = measured(LOAD, str(corpus), str(path))
        assert load["documents"] == A_WEEK, load
        path.unlink()
        yield (
            f"  week {at + 1}: {load['documents']:,} documents in {load['s']:.0f} s, {load['cpu_s']:.0f} s of a core:"
            f" {load['documents'] / load['cpu_s']:.0f} a second of a core; peak {load['peak_mb']:.0f} MB"
        )
    count = WEEKS * A_WEEK
    sizes = {kind: sum(p.stat().st_size for p in corpus.rglob(f"{kind}-*.parquet")) / count
             for kind in ("documents", "words", "paragraphs", "longwords")}  # fmt: skip
    yield f"  source: {unpacked / count:,.0f} bytes a document, {packed / count:,.0f} zipped"
    yield f"  corpus: {sum(sizes.values()):,.0f} bytes a document ({', '.join(f'{k} {v:,.0f}' for k, v in sizes.items())})"


def test_twenty_thousand_documents(tmp_path: Path) -> None:
    """Prints the figures; every document made is loaded, and each sweep finds what its words must."""
    corpus = tmp_path / "corpus"
    for line in loaded(corpus):
        print(line, flush=True)
    swept = measured(SWEEP, str(corpus), json.dumps(SWEEPS))
    print(f"sweeps, peak {swept['peak_mb']:.0f} MB; first page, all pages, of a core")
    for name, found, first, whole, cpu in swept["rows"]:
        print(f"  {name:36} {found:7,} found  {first:6.2f} s  {whole:6.2f} s  {cpu:6.2f} s")
    nobody, word, _, both, _, less, more = (found for _, found, *_ in swept["rows"])
    assert nobody == 0 < word < WEEKS * A_WEEK
    assert less <= both <= more
