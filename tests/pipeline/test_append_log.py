"""The log that only grows: whole lines, crash after crash."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipeline.append_log import AppendLog, write_file
from pipeline.errors import DiskFull


def test_lines_come_back_in_order(tmp_path: Path) -> None:
    """What is appended is read again, in order, whatever characters it holds."""
    log = AppendLog(tmp_path / "log.jsonl")
    for text in ("one", "zwei\nLinien", "三\u2028"):
        log.append({"text": text})
    assert [line["text"] for _, line in log.lines()] == ["one", "zwei\nLinien", "三\u2028"]
    assert log.torn() == []


@settings(derandomize=True, max_examples=40, deadline=None)
@given(cut=st.integers(min_value=1, max_value=40))
def test_a_torn_line_costs_only_itself(cut: int, tmp_path_factory: pytest.TempPathFactory) -> None:
    """A line cut off anywhere by a crash is left out and named; the next one stays whole."""
    log = AppendLog(tmp_path_factory.mktemp("log") / "log.jsonl")
    log.append({"n": 1})
    log.append({"n": 2, "text": "a line long enough to be cut off anywhere"})
    whole = log.path.read_bytes()
    os.truncate(log.path, len(whole) - cut)
    log.append({"n": 3})
    numbers = [line["n"] for _, line in log.lines()]
    assert numbers == ([1, 2, 3] if cut == 1 else [1, 3])
    assert log.torn() == ([] if cut == 1 else [2])


def test_a_full_disk_is_said_and_nothing_before_is_lost(tmp_path: Path) -> None:
    """No space left: DiskFull names the file (/dev/full is Linux's always-full device)."""
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full on this system")
    (tmp_path / "log.jsonl").symlink_to("/dev/full")
    with pytest.raises(DiskFull, match=r"log\.jsonl: no space left.*is kept"):
        AppendLog(tmp_path / "log.jsonl").append({"n": 1})


def test_a_file_is_whole_or_absent(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the rename fails, neither the target nor a part of it is left behind."""
    target = tmp_path / "a" / "body.gz"
    target.mkdir(parents=True)  # a folder in the way: the rename must fail
    with pytest.raises(Exception, match="can't be written"):
        write_file(target, b"data")
    assert target.is_dir()
    assert list(target.parent.iterdir()) == [target]


def test_a_check_that_objects_leaves_the_log_as_it_was(tmp_path: Path) -> None:
    """What the check raises is raised, and no line is written."""
    log = AppendLog(tmp_path / "log.jsonl")
    log.append({"n": 1})

    def object_() -> None:
        raise LookupError("someone was faster")

    with pytest.raises(LookupError, match="faster"):
        log.append({"n": 2}, object_)
    assert [line["n"] for _, line in log.lines()] == [1]


_APPEND_IF_FIRST = """
import sys, time
from pathlib import Path
from pipeline.append_log import AppendLog
log = AppendLog(Path(sys.argv[1]))
def first():
    time.sleep(0.05)
    if list(log.lines()):
        raise SystemExit(7)
log.append({"n": sys.argv[2]}, first)
"""


def test_of_many_programs_that_check_one_writes(tmp_path: Path) -> None:
    """Four processes that write only into an empty log leave one line: check and write are one."""
    command = [sys.executable, "-c", _APPEND_IF_FIRST, str(tmp_path / "log.jsonl")]
    running = [subprocess.Popen([*command, str(n)]) for n in range(4)]
    assert sorted(process.wait(30) for process in running) == [0, 7, 7, 7]
    assert len(list(AppendLog(tmp_path / "log.jsonl").lines())) == 1
