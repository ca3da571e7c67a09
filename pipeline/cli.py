"""The command line. Heavy parts are imported by the command that needs them."""

from __future__ import annotations

import argparse
import importlib
import logging
import sys
from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime
from pathlib import Path

from pipeline.decisions import CATEGORIES, TAGS
from pipeline.errors import AntedateError


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; return its exit code: 0 done, 2 our error, else as the command says."""
    logging.basicConfig(format="%(asctime)s %(name)s %(message)s")
    for handler in logging.getLogger().handlers:  # some libraries set their own loggers to DEBUG
        handler.setLevel(logging.WARNING)
    args = build_parser().parse_args(argv)
    room, name = args.does
    try:
        command: Callable[[argparse.Namespace], int] = getattr(importlib.import_module(room), name)
        return command(args)
    except AntedateError as error:
        print(f"antedate: {error}", file=sys.stderr)
        return 2
    except BrokenPipeError:  # the reader of a pipe went away
        sys.stderr.close()
        return 0
    except KeyboardInterrupt:
        print("antedate: stopped; what was received and decided is kept", file=sys.stderr)
        return 130


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of every command."""
    parser = argparse.ArgumentParser(
        prog="antedate",
        description="What was already public that counts against an invention, since when, how close.",
    )
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")

    def command(name: str, does: str, help_: str, with_matter: bool = True) -> argparse.ArgumentParser:
        room, function = does.split(":")
        made = commands.add_parser(name, help=help_, description=help_)
        made.set_defaults(does=(f"pipeline.commands.{room}", function))
        if with_matter:
            made.add_argument("matter", type=Path, help="the matter's folder")
        return made

    demo = command(
        "demo", "demo:demo", "run the whole job on an invented matter, without network or key", False
    )
    demo.add_argument("folder", type=Path, nargs="?", default=Path("antedate-demo"))
    command("new", "new:new", "write a folder with a commented matter.toml to fill in")
    plan = command("plan", "plan:plan", "print word for word what a run would send, and to whom")
    _again(plan)
    run = command("run", "nightly:run", "ask every source, de-duplicate, date, rank; leave a digest")
    _again(run)
    load = command("load", "corpus:load", "load bulk full-text files into the corpus that runs search")
    load.add_argument(
        "file", type=Path, nargs="+", help="weekly files (.zip, .xml, .gz), tables (.tsv, .zip), or folders"
    )
    capture = command("capture", "capture:capture_pages", "keep pages and pictures as evidence, with dates")
    capture.add_argument("urls", nargs="*", metavar="URL", help="addresses of pages or pictures")
    capture.add_argument("--list", type=Path, metavar="FILE", help="a file with one address a line")
    capture.add_argument("--pictures", type=_some, default=8, help="how many pictures of each page (8)")
    capture.add_argument("--no-archive", action="store_true", help="do not ask the web archive")
    capture.add_argument("--plan", action="store_true", help="only show what would be sent")
    _listing_commands(command)
    _deciding_commands(command)
    _nightly_commands(command)
    return parser


Command = Callable[..., argparse.ArgumentParser]


def _listing_commands(command: Command) -> None:
    hits = command("hits", "hits:hits", "list what is new and not judged, best first")
    hits.add_argument("--all", action="store_true", help="judged ones too")
    hits.add_argument("--most", type=int, default=20, help="how many (20)")
    hits.add_argument("--run", help="only those first found by that run")
    _if_filed_on(hits)
    show = command("show", "show:show", "show one reference whole: versions, dates, evidence, passages")
    show.add_argument("reference", help="its id, a place such as '#3', or its number, DOI or address")
    _if_filed_on(show)
    review = command("review", "review:review", "open the matter in the browser, on this machine only")
    review.add_argument("--port", type=int, default=0, help="a port of your choice (any free one)")
    review.add_argument("--no-browser", action="store_true", help="print the address, open nothing")
    _by(review)
    paragraphs = command("paragraphs", "corpus:paragraphs", "print a description out of the corpus")
    paragraphs.add_argument("reference", help="its id, a place such as '#3', or its number")
    paragraphs.add_argument("--about", default="", help="only paragraphs that hold these words, as a phrase")
    status = command("status", "status:status", "show how the last run ended, source by source")
    status.add_argument("--run", help="another run than the last")
    rights = command("rights", "in_force:rights", "say where the patents found are probably in force")
    rights.add_argument("--most", type=int, default=50, help="how many (50)")
    clocks = command("clocks", "clocks:clocks", "list the days that come next, soonest first, by which rule")
    clocks.add_argument("--ics", type=Path, help="also write those that run as a calendar file")
    export = command("export", "export:export", "write the cited-reference list")
    export.add_argument("file", type=Path, help="its ending says the format: .csv .ris .json .xlsx")
    export.add_argument("--tags", nargs="+", default=["relevant"], help="which tags to list (relevant)")
    verdicts = command(
        "verdicts", "verdicts:verdicts", "write each office's verdict on each reference to a .csv"
    )
    verdicts.add_argument("file", type=Path, help="where to; it ends in .csv")
    verdicts.add_argument("--tags", nargs="+", default=[], help="only references with these tags (all)")
    _if_filed_on(verdicts)


def _deciding_commands(command: Command) -> None:
    tag = command("tag", "tag:tag", "judge references")
    tag.add_argument("reference", nargs="+")
    tag.add_argument("tag", choices=TAGS)
    tag.add_argument("--note", default="", help="why")
    tag.add_argument("--elements", default="", help="letters of the elements it shows: AC")
    tag.add_argument("--category", default="", choices=("", *CATEGORIES), help="WIPO ST.14 category")
    for name, same in (("same", True), ("different", False)):
        ruling = command(name, "tag:ruling", f"rule that two references or records are {'the ' * same}{name}")
        ruling.add_argument("one")
        ruling.add_argument("two")
        ruling.set_defaults(same=same)
        _by(ruling)
    day = command("date", "tag:date_by_hand", "enter a public date of a reference, with why")
    day.add_argument("reference")
    day.add_argument("day", help="2026-03-04, 2026-03 or 2026")
    day.add_argument("--why", required=True, help="what shows it")
    day.add_argument("--evidence", default="", help="file or address that shows it")
    day.add_argument("--wins", action="store_true", help="use it before what the sources say")
    undo = command("undo", "tag:undo", "take back the last decision, or one by its number")
    undo.add_argument("number", type=int, nargs="?")
    command("decisions", "tag:decisions", "list every decision made")
    for made in (tag, day, undo):
        _by(made)


def _nightly_commands(command: Command) -> None:
    schedule = command(
        "schedule", "nightly:schedule", "start a run every night with cron, systemd or Task Scheduler"
    )
    schedule.add_argument("--at", default="02:00", help="local time, HH:MM (02:00)")
    schedule.add_argument("--write", action="store_true", help="write it, not only show it")
    schedule.add_argument("--remove", action="store_true", help="take it away again")
    watch = command("watch", "nightly:watch", "keep a schedule of our own running in the foreground")
    watch.add_argument("--at", default="02:00", help="local time, HH:MM (02:00)")
    watch.add_argument("--every-s", type=int, help="instead: every so many seconds")
    command("rebuild", "nightly:rebuild", "make the database again from what was received and decided")


def _again(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--again", action="store_true", help="ask also what was answered in full today")


def _if_filed_on(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--if-filed-on", type=_coming_day, help="judge as if filed on that day, 2027-02-01")


def _coming_day(text: str) -> date:
    """Return the day asked about. A past day is refused: what was filed stands in matter.toml."""
    day = date.fromisoformat(text)
    if day < datetime.now(UTC).date():
        raise argparse.ArgumentTypeError(f"{day} is past; a filing already made belongs in matter.toml")
    return day


def _some(text: str) -> int:
    """Return a number of pictures, 0 to 100."""
    number = int(text)
    if not 0 <= number <= 100:
        raise argparse.ArgumentTypeError("0 to 100")
    return number


def _by(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--by", default="", help="who decides (you)")


if __name__ == "__main__":
    sys.exit(main())
