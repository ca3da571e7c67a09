"""The nightly start: shown first, written for the user only, taken away whole."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from pipeline.schedule import NotScheduled, remove_schedule, schedule_for, write_schedule


class Cron:
    """A stand-in for the crontab command: keeps what is written."""

    def __init__(self, lines: str = "") -> None:
        self.lines = lines

    def __call__(self, command: list[str], given: str) -> str:
        if command == ["crontab", "-l"]:
            if not self.lines:
                raise NotScheduled("no crontab for user")
            return self.lines
        self.lines = given
        return ""


def only(name: str):
    """Return a finder of programs that knows one."""
    return lambda wanted: f"/usr/bin/{name}" if wanted == name else None


def test_cron_line_runs_the_matter_at_the_time(tmp_path: Path) -> None:
    """The line starts the run with this interpreter, quoted for the shell, % escaped for cron."""
    folder = tmp_path / "lid hinge 100%"
    schedule = schedule_for(folder, "02:05", "linux", only("crontab"))
    (
        minute,
        hour,
        *_,
    ) = schedule.text.split()
    assert (minute, hour) == ("5", "2")
    command = shlex.split(schedule.text.split("* * * ", 1)[1].replace(r"\%", "%"), comments=True)
    assert command[1:5] == ["-m", "pipeline.cli", "run", str(folder.resolve())]
    assert r"100\%" in schedule.text


def test_other_entries_stay(tmp_path: Path) -> None:
    """Writing twice leaves one line of ours, and the user's own lines as they were; removing leaves theirs."""
    cron = Cron("0 1 * * * backup\n")
    for at in ("02:00", "03:30"):
        write_schedule(schedule_for(tmp_path, at, "linux", only("crontab")), cron)
    assert cron.lines.splitlines()[0] == "0 1 * * * backup"
    assert len(cron.lines.splitlines()) == 2
    assert cron.lines.splitlines()[1].startswith("30 3 ")
    remove_schedule(tmp_path, cron, only("crontab"))
    assert cron.lines == "0 1 * * * backup\n"


def test_systemd_where_there_is_no_cron(tmp_path: Path) -> None:
    """A service and a timer of the user's own, the folder quoted."""
    schedule = schedule_for(tmp_path / "a b", "23:59", "linux", only("systemctl"))
    service, timer = (text for _, text in schedule.files)
    assert f'"{(tmp_path / "a b").resolve()}"' in service
    assert "OnCalendar=*-*-* 23:59:00" in timer


def test_windows_gets_a_line_to_paste(tmp_path: Path) -> None:
    """Nothing is written on Windows; the command is printed."""
    schedule = schedule_for(tmp_path, "02:00", "win32", only("none"))
    assert schedule.text.startswith("schtasks /Create /SC DAILY")
    assert schedule.by_hand


@pytest.mark.parametrize("at", ["24:00", "2", "02:60", "two", "02:00; rm"])
def test_no_time_of_day(at: str, tmp_path: Path) -> None:
    """A time that is none is refused before anything is built."""
    with pytest.raises(NotScheduled, match="is no time of day"):
        schedule_for(tmp_path, at, "linux", only("crontab"))
