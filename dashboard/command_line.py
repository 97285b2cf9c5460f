"""The words of the command line: commands, options and their checks. Imports nothing heavy."""

from __future__ import annotations

import argparse
import datetime
from collections.abc import Callable, Mapping
from pathlib import Path

Run = Callable[[argparse.Namespace], int]


def _day(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"“{text}” is not a date such as 2024-03-05") from None


def _level(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0 < value < 1:
        raise argparse.ArgumentTypeError(f"“{text}” is not a share between 0 and 1 such as 0.95")
    return value


def _whole(text: str) -> int:
    try:
        value = int(text)
    except ValueError:
        value = 0
    if value < 1:
        raise argparse.ArgumentTypeError(f"“{text}” is not a whole number above 0")
    return value


def _ahead(text: str) -> int:
    days = _whole(text)
    if days > 365:
        raise argparse.ArgumentTypeError(f"“{text}” is more than the 365 days that an outlook reaches")
    return days


def _windows(text: str) -> tuple[int, ...]:
    try:
        days = tuple(int(part) for part in text.split(","))
    except ValueError:
        days = ()
    if len(set(days)) < 2 or len(set(days)) != len(days) or min(days) < 1:
        raise argparse.ArgumentTypeError(f"“{text}” is not a list of two or more different windows such as 7,30,90")
    return days


def _degrees(text: str) -> tuple[float, str]:
    number, unit = text.strip()[:-1].strip().rstrip("°").strip(), text.strip()[-1:].upper()
    try:
        value = float(number)
    except ValueError:
        unit = ""
    if unit not in ("C", "F"):
        raise argparse.ArgumentTypeError(f"“{text}” is not a temperature with its unit such as 72 F or 22.2 C")
    return value, unit


def _temperature(text: str) -> float:
    value, unit = _degrees(text)
    return value if unit == "C" else (value - 32.0) / 1.8


def _apart(text: str) -> float:
    value, unit = _degrees(text)
    if value <= 0:
        raise argparse.ArgumentTypeError(f"“{text}” is not a difference above 0 such as 2 F")
    return value if unit == "C" else value / 1.8


def build_parser(runs: Mapping[str, Run]) -> argparse.ArgumentParser:
    """The parser of all commands; `runs` says what each does."""
    parser = argparse.ArgumentParser(
        prog="resurgence",
        description="From gauge files and field visits to outlet states, dry spells, return lags and counts.",
        allow_abbrev=False,
    )
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    def command(name: str, help: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=help, description=help, allow_abbrev=False)
        sub.set_defaults(run=runs[name])
        return sub

    def answering(name: str, help: str) -> argparse.ArgumentParser:
        sub = command(name, help)
        sub.add_argument("workspace", type=Path, metavar="WORKSPACE", help="the workspace folder")
        sub.add_argument("--json", action="store_true", help="machine answer on standard output, nothing else there")
        sub.add_argument("--as-of", type=_day, metavar="DATE", help="use nothing dated later")
        return sub

    def per_outlet(sub: argparse.ArgumentParser) -> argparse.ArgumentParser:
        sub.add_argument("--outlet", action="append", default=[], metavar="ID", help="only this outlet (repeatable)")
        return sub

    def estimating(sub: argparse.ArgumentParser) -> argparse.ArgumentParser:
        sub.add_argument("--level", type=_level, default=0.95, metavar="SHARE", help="interval level (default 0.95)")
        sub.add_argument("--seed", type=_whole, default=1, metavar="N", help="random seed (default 1)")
        return sub

    sub = command("demo", "make the invented demo workspace, print its status and open the dashboard on it")
    sub.add_argument("folder", type=Path, nargs="?", default=Path("quillmere"), metavar="FOLDER")
    sub.add_argument("--no-serve", action="store_true", help="only make and print")
    _serving(sub)

    sub = command("serve", "open the dashboard on a workspace")
    sub.add_argument("workspace", type=Path, metavar="WORKSPACE", help="the workspace folder")
    _serving(sub)

    sub = command("new", "start a workspace by asking, or from a gauge file and a visits table")
    sub.add_argument("folder", type=Path, metavar="FOLDER")
    sub.add_argument("--gauge", type=Path, action="append", default=[], metavar="FILE", help="gauge file (repeatable)")
    sub.add_argument("--visits", type=Path, metavar="FILE", help="a table of visits, CSV or XLSX")
    sub.add_argument("--title", metavar="TEXT")
    sub.add_argument("--time-zone", metavar="NAME", help="IANA name of the zone whose days the visits are dated in")
    sub.add_argument("--unit", metavar="UNIT", help="unit of gauge files that state none")
    sub.add_argument(
        "--stops-below", action="append", default=[], metavar="OUTLET=LEVEL", help='such as "ledge=40 cfs" (repeatable)'
    )

    answering("check", "what was understood and everything doubtful in the files")

    sub = command("read", "one gauge file: what the reader understood")
    sub.add_argument("file", type=Path, metavar="FILE", help="the gauge file")
    sub.add_argument("--json", action="store_true", help="machine answer on standard output, nothing else there")
    sub.add_argument("--unit", metavar="UNIT", help="discharge unit, where the file states none")
    sub.add_argument("--column", metavar="NAME", help="column that holds discharge")
    sub.add_argument("--date-column", metavar="NAME", help="column that holds dates")
    sub.add_argument("--series", metavar="NAME", help="one of several series")
    sub.add_argument("--time-zone", metavar="NAME", help="zone of time stamps that carry none")
    order = sub.add_mutually_exclusive_group()
    order.add_argument("--day-first", dest="day_first", action="store_true", default=None, help="03/04 is 3 April")
    order.add_argument("--month-first", dest="day_first", action="store_false", help="03/04 is 4 March")

    sub = per_outlet(answering("status", "is each outlet running, how sure, and what the answer rests on"))
    sub.add_argument("--trip", type=_day, metavar="DATE", help="also for this day ahead")

    per_outlet(answering("spells", "dry spells per outlet"))
    estimating(per_outlet(answering("threshold", "stop and restart levels estimated from what people saw")))
    sub = per_outlet(answering("outlook", "chance of running day by day ahead, and how good such forecasts have been"))
    sub.add_argument("--days", type=_ahead, default=180, metavar="N", help="days ahead, at most 365 (default 180)")
    sub.add_argument("--seed", type=_whole, default=1, metavar="N", help="random seed (default 1)")

    estimating(per_outlet(answering("returns", "how long after each dry spell animals were seen again")))

    sub = estimating(per_outlet(answering("counts", "regression of counts on flow")))
    sub.add_argument("--window", type=_whole, default=30, metavar="DAYS", help="mean discharge over these days before")
    sub.add_argument("--design", type=Path, metavar="FILE", help="also write the rows of the regression as CSV")
    _choosing_counts(sub)
    return parser


def _choosing_counts(sub: argparse.ArgumentParser) -> None:
    """What may be chosen about the regression."""
    add = sub.add_argument
    add("--windows", type=_windows, default=(), metavar="A,B,…", help="take the one of these that predicts best")
    add("--response", choices=("count", "gravid", "juveniles", "presence", "temperature"), default="count",
        help="what is explained: animals counted; the share with eggs; the share juvenile; whether any was found; "
        "water outside its usual temperature (default count)")  # fmt: skip
    add("--stage", choices=("all", "adults", "juveniles", "gravid"), default="all", help="which animals are counted")
    add("--taxon", metavar="NAME", help="only rows of this taxon")
    add("--factor", choices=("taxon", "stage"), help="a level for each taxon or stage")
    add("--season", choices=("harmonic", "spline"), default="harmonic", help="shape of the year (default harmonic)")
    add("--dry-length", action="store_true", help="let the recovery depend on how long the outlet was dry")
    add("--year-trend", action="store_true", help="a constant change a year")
    add("--flow-by-outlet", action="store_true", help="an effect of flow for each outlet")
    add("--covariate", action="append", default=[], metavar="COLUMN", help="any column of numbers (repeatable)")
    add("--usual-temperature", type=_temperature, metavar="T", help="usual water temperature (default 72 F)")
    add("--temperature-limit", type=_apart, metavar="T", help="how far from it is not usual, such as 2 F: flags visits")


def _serving(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--port", type=int, default=8501, metavar="N", help="default 8501; 0 = any free one")
    sub.add_argument("--host", default="127.0.0.1", metavar="ADDRESS", help="default 127.0.0.1: this machine alone")
