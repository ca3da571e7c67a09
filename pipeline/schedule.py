"""Starting a run every night with what the machine has: cron, a systemd user timer, or a printed command."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from pipeline.append_log import write_file
from pipeline.errors import AntedateError

Shell = Callable[[list[str], str], str]


class NotScheduled(AntedateError):
    """The machine's scheduler could not be set."""


@dataclass(frozen=True)
class Schedule:
    """A nightly start. text: what would be written. files: path -> text, for systemd.

    by_hand: what the user does with text where we write nothing ourselves.
    """

    kind: str
    name: str
    text: str
    files: tuple[tuple[Path, str], ...] = ()
    by_hand: str = ""


def schedule_for(
    folder: Path, at: str, system: str = sys.platform, has: Callable[[str], object] = shutil.which
) -> Schedule:
    """Return the nightly start for this machine. at: HH:MM, local time."""
    hour, minute = time_of_day(at)
    folder = folder.resolve()
    name = "antedate-" + re.sub(r"[^A-Za-z0-9]+", "-", folder.name).strip("-").lower()
    command = [sys.executable, "-m", "pipeline.cli", "run", str(folder)]
    log = folder / "nightly.log"
    if system == "win32":
        task = subprocess.list2cmdline(command)
        line = f'schtasks /Create /SC DAILY /TN {name} /ST {hour:02d}:{minute:02d} /TR "{task}"'
        return Schedule("Windows Task Scheduler", name, line, by_hand="Paste the line into a command prompt.")
    if has("crontab"):
        shell = shlex.join(command)
        # cron reads a bare % as the end of the command.
        line = f"{minute} {hour} * * * {shell} >> {shlex.quote(str(log))} 2>&1".replace("%", r"\%")
        return Schedule("cron", name, f"{line} # {name}")
    if has("systemctl"):
        return _systemd(name, hour, minute, command, log)
    by_hand = (
        f"Neither cron nor systemd is here. Start the line above every night at {at} by other means, "
        f"or keep `antedate watch {folder}` running."
    )
    return Schedule("your own scheduler", name, shlex.join(command), by_hand=by_hand)


def write_schedule(schedule: Schedule, shell: Shell | None = None) -> str:
    """Set the schedule for this user; return what was done. Other entries stay as they are."""
    shell = shell or _shell
    if schedule.files:
        for path, text in schedule.files:
            write_file(path, text.encode())
        shell(["systemctl", "--user", "daemon-reload"], "")
        shell(["systemctl", "--user", "enable", "--now", f"{schedule.name}.timer"], "")
        return f"timer {schedule.name} is on; see it with: systemctl --user list-timers"
    kept = _other_lines(shell, schedule.name)
    shell(["crontab", "-"], "".join(f"{line}\n" for line in [*kept, schedule.text]))
    return "written to your crontab; see it with: crontab -l"


def remove_schedule(
    folder: Path, shell: Shell | None = None, has: Callable[[str], object] = shutil.which
) -> str:
    """Take the matter's nightly start away again; return what was done."""
    shell = shell or _shell
    schedule = schedule_for(folder, "00:00", has=has)
    if schedule.kind == "cron":
        shell(["crontab", "-"], "".join(f"{line}\n" for line in _other_lines(shell, schedule.name)))
        return "taken out of your crontab"
    if schedule.files:
        shell(["systemctl", "--user", "disable", "--now", f"{schedule.name}.timer"], "")
        for path, _ in schedule.files:
            path.unlink(missing_ok=True)
        return f"timer {schedule.name} is gone"
    return f"remove {schedule.name} from {schedule.kind} by hand"


def time_of_day(at: str) -> tuple[int, int]:
    """Return hour and minute of HH:MM. Raises NotScheduled for anything else."""
    found = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)", at)
    if not found:
        raise NotScheduled(f"--at {at!r} is no time of day; write it as 02:00")
    return int(found.group(1)), int(found.group(2))


def _systemd(name: str, hour: int, minute: int, command: list[str], log: Path) -> Schedule:
    units = Path.home() / ".config" / "systemd" / "user"
    words = " ".join(
        '"' + part.replace("%", "%%").replace("\\", "\\\\").replace('"', '\\"') + '"' for part in command
    )
    service = (
        f"[Unit]\nDescription=Antedate run\n[Service]\nType=oneshot\nExecStart={words}\n"
        f"StandardError=append:{log}\n"
    )
    timer = (
        f"[Unit]\nDescription=Antedate, every night\n[Timer]\nOnCalendar=*-*-* {hour:02d}:{minute:02d}:00\n"
        "Persistent=true\n[Install]\nWantedBy=timers.target\n"
    )
    files = ((units / f"{name}.service", service), (units / f"{name}.timer", timer))
    text = "\n".join(f"{path}\n{content}" for path, content in files)
    return Schedule("a systemd user timer", name, text, files)


def _other_lines(shell: Shell, name: str) -> list[str]:
    try:
        lines = shell(["crontab", "-l"], "").splitlines()
    except NotScheduled:  # no crontab yet
        return []
    return [line for line in lines if not line.endswith(f"# {name}")]


def _shell(command: list[str], given: str) -> str:
    try:
        done = subprocess.run(command, input=given, capture_output=True, text=True, timeout=60, check=False)  # noqa: S603 - our own commands
    except (OSError, subprocess.TimeoutExpired) as error:
        raise NotScheduled(f"{command[0]} could not be started: {error}. Nothing was changed.") from error
    if done.returncode:
        raise NotScheduled(f"{' '.join(command)} answered: {done.stderr.strip() or done.returncode}.")
    return done.stdout
