"""The words of the command line: commands and options. Imports nothing heavy."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from pathlib import Path

from dashboard.count_options import add_count_options
from dashboard.option_types import day, level, period, rate, reach, span, times, whole

Run = Callable[[argparse.Namespace], int]


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
        sub.add_argument("--as-of", type=day, metavar="DATE", help="use nothing dated later")
        return sub

    def per_outlet(sub: argparse.ArgumentParser) -> argparse.ArgumentParser:
        sub.add_argument("--outlet", action="append", default=[], metavar="ID", help="only this outlet (repeatable)")
        return sub

    def estimating(sub: argparse.ArgumentParser) -> argparse.ArgumentParser:
        sub.add_argument("--level", type=level, default=0.95, metavar="SHARE", help="interval level (default 0.95)")
        sub.add_argument("--seed", type=whole, default=1, metavar="N", help="random seed (default 1)")
        return sub

    sub = command("demo", "make the invented demo workspace, print its status and open the dashboard on it")
    sub.add_argument("folder", type=Path, nargs="?", default=Path("quillmere"), metavar="FOLDER")
    sub.add_argument("--no-serve", action="store_true", help="only make and print")
    _serving(sub)

    sub = command("serve", "open the dashboard on a workspace, or on a new folder to make one there")
    sub.add_argument("workspace", type=Path, metavar="WORKSPACE", help="a workspace folder, or a new or empty one")
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
    sub.add_argument(
        "--restarts-above", action="append", default=[], metavar="OUTLET=LEVEL", help="default: where it stops"
    )
    sub.add_argument("--display-unit", metavar="UNIT", help="unit of discharge shown (default: the first gauge's)")
    sub.add_argument("--captures", type=Path, metavar="FILE", help="a table of captures, CSV or XLSX")
    sub.add_argument("--permit", metavar="NUMBER", help="the permit that visits are made under")
    sub.add_argument("--permit-holder", metavar="NAME")
    sub.add_argument("--permit-first", type=day, metavar="DATE", help="its first day")
    sub.add_argument("--permit-last", type=day, metavar="DATE", help="its last day")
    sub.add_argument("--holding-minutes", type=whole, metavar="N", help="how long the permit lets an animal be held")

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

    sub = command("fetch", "bring the gauges that name a service up to date")
    sub.add_argument("workspace", type=Path, metavar="WORKSPACE", help="the workspace folder")
    sub.add_argument("--json", action="store_true", help="machine answer on standard output, nothing else there")
    sub.add_argument("--gauge", action="append", default=[], metavar="ID", help="only this gauge (repeatable)")
    sub.add_argument("--since", type=day, metavar="DATE", help="ask again for everything from this day on")

    sub = per_outlet(answering("status", "is each outlet running, how sure, and what the answer rests on"))
    sub.add_argument("--trip", type=day, metavar="DATE", help="also for this day ahead")

    sub = command("network", "the state of every outlet in every workspace below a folder")
    sub.add_argument("root", type=Path, metavar="ROOT", help="a folder with workspaces in it or below it")
    sub.add_argument("--json", action="store_true", help="machine answer on standard output, nothing else there")
    sub.add_argument("--as-of", type=day, metavar="DATE", help="use nothing dated later")
    sub.add_argument("--trip", type=day, metavar="DATE", help="also for this day ahead (machine answer)")

    per_outlet(answering("spells", "dry spells per outlet"))
    estimating(per_outlet(answering("threshold", "stop and restart levels estimated from what people saw")))
    sub = per_outlet(answering("outlook", "chance of running day by day ahead, and how good such forecasts have been"))
    sub.add_argument("--days", type=reach, default=180, metavar="N", help="days ahead, at most 365 (default 180)")
    sub.add_argument("--seed", type=whole, default=1, metavar="N", help="random seed (default 1)")

    sub = answering("watch", "one pass for a scheduler: fetch, judge, send what is new, remember it")
    how = sub.add_mutually_exclusive_group()
    how.add_argument("--every", type=span, metavar="SPAN", help="a pass every so often, such as 15m, until stopped")
    how.add_argument("--dry-run", action="store_true", help="say what would be raised and sent; write and send nothing")
    how.add_argument("--test", action="store_true", help="send one message marked as a test through every channel")
    how.add_argument("--history", action="store_true", help="what was raised, what came of it, and the tally")
    how.add_argument("--acknowledge", metavar="ALERT", help="write down that somebody has seen to an alert")
    sub.add_argument("--by", metavar="NAME", help="who has (with --acknowledge)")
    sub.add_argument("--note", default="", metavar="TEXT", help="a note (with --acknowledge)")

    sub = estimating(
        per_outlet(answering("explain", "is a drop in counts what flow, effort and season lead to expect"))
    )
    sub.add_argument("--period", type=period, metavar="A/B", help="first and last day of the period in question")
    sub.add_argument("--baseline", type=period, metavar="C/D", help="days compared with (default: a year before)")
    sub.add_argument("--control", metavar="ID", help="an outlet to compare with, best one that always runs")
    sub.add_argument("--change", type=day, metavar="DATE", help="day of a closure or change on the ground")
    sub.add_argument("--tried", type=whole, default=1, metavar="N", help="periods looked at, this one included")

    sub = per_outlet(answering("alert-levels", "at what level an alert comes early enough, and how often it is false"))
    sub.add_argument("--lead-days", type=reach, default=14, metavar="N", help="days of warning needed (default 14)")
    needs = sub.add_mutually_exclusive_group()
    needs.add_argument(
        "--hit-rate", type=rate, default=0.9, metavar="P", help="share of stops to announce in time (default 0.9)"
    )
    needs.add_argument(
        "--miss-cost", type=times, metavar="K", help="instead: a stop not announced in time costs K false alerts"
    )
    sub.add_argument(
        "--horizon",
        type=reach,
        metavar="N",
        help="days after which an alert is false (default 90, or twice the lead)",
    )
    sub.add_argument(
        "--try", dest="tries", action="append", default=[], metavar="LEVEL", help='also judge "55 cfs" (repeatable)'
    )

    sub = estimating(per_outlet(answering("returns", "how long after each dry spell animals were seen again")))
    sub.add_argument(
        "--animals", default="all", metavar="WHICH", help="all, adults, juveniles, gravid or a taxon (default all)"
    )

    sub = estimating(per_outlet(answering("counts", "regression of counts on flow")))
    sub.add_argument("--window", type=whole, default=30, metavar="DAYS", help="mean discharge over these days before")
    sub.add_argument("--design", type=Path, metavar="FILE", help="also write the rows of the regression as CSV")
    add_count_options(sub)

    sub = estimating(per_outlet(answering("individuals", "who came through dry spells; survival and abundance")))
    sub.add_argument(
        "--occasion", choices=("visit", "month", "year"), help="how captures are grouped (default month; window: visit)"
    )
    sub.add_argument("--window", type=period, metavar="A/B", help="first and last day of a closed window for abundance")
    sub.add_argument(
        "--least-confidence", type=level, metavar="SHARE", help="also without matches of less confidence, to compare"
    )
    sub.add_argument("--matches", type=Path, metavar="FILE", help="table of pairs of names that are the same animal")
    sub.add_argument("--out", type=Path, metavar="FILE", help="with --matches: the captures with their animals' ids")

    _planning(estimating(per_outlet(answering("plan", "how many visits, for a stated purpose"))))

    sub = estimating(
        per_outlet(answering("report", "a meeting report as one HTML file, and PDF where a browser is found"))
    )
    sub.add_argument("--out", type=Path, required=True, metavar="FILE.html", help="the file to write")
    sub.add_argument("--period", type=period, metavar="A/B", help="first and last day (default: the last year)")
    sub.add_argument("--unit", metavar="UNIT", help="unit of discharge (default: the workspace's)")
    sub.add_argument("--explain", type=period, metavar="A/B", help="also explain the counts of these days …")
    sub.add_argument("--baseline", type=period, metavar="C/D", help="… against these (default: a year before) …")
    sub.add_argument("--control", metavar="ID", help="… with this outlet to compare with")
    sub.add_argument("--change", type=day, metavar="DATE", help="instead: everything since a change on the ground")
    sub.add_argument("--no-pdf", action="store_true", help="only the HTML file")
    sub.add_argument("--files", action="store_true", help="also tables, pictures and slides as files beside it")

    sub = answering("export", "open-standard files: Darwin Core, a data package, WaterML, a calendar")
    sub.add_argument("--out", type=Path, required=True, metavar="FOLDER", help="a new or empty folder")
    sub.add_argument("--positions", choices=("withheld", "grid", "exact"), default="withheld", help="default withheld")
    sub.add_argument("--old-status", action="store_true", help="present and absent for detected and notDetected")
    sub.add_argument(
        "--visit", type=day, action="append", default=[], metavar="DATE", help="a planned visit (repeatable)"
    )
    return parser


def _planning(sub: argparse.ArgumentParser) -> None:
    purposes = ("absence", "return", "trend")
    sub.add_argument("--purpose", required=True, choices=purposes, help="what the visits are to tell")
    sub.add_argument("--sure", type=float, metavar="SHARE", help="how surely (default 0.95, 0.9 and 0.8)")
    sub.add_argument(
        "--detection", metavar="SHARE", help="chance that a visit finds animals that are there, or a range: 0.3-0.6"
    )
    sub.add_argument("--effort", type=float, metavar="N", help="effort of a planned visit (default: the typical one)")
    sub.add_argument("--allowed", type=int, metavar="N", help="visits that the permit allows: what would they tell")
    sub.add_argument(
        "--prior", type=float, metavar="SHARE", help="absence: chance, before looking, that they are there"
    )
    sub.add_argument("--within", type=int, metavar="DAYS", help="return: to be known within so many days (default 14)")
    sub.add_argument("--watch", type=int, metavar="DAYS", help="return: days for which the watch goes on")
    sub.add_argument("--decline", type=float, metavar="SHARE", help="trend: decline to be shown (default 0.5)")
    sub.add_argument("--cycles", type=int, metavar="N", help="trend: flow cycles with visits after it (default 5)")
    sub.add_argument("--cycles-before", type=int, metavar="N", help="trend: cycles before it (default: as many)")


def _serving(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--port", type=int, default=8501, metavar="N", help="default 8501; 0 = any free one")
    sub.add_argument("--host", default="127.0.0.1", metavar="ADDRESS", help="default 127.0.0.1: this machine alone")
    sub.add_argument("--trust-network", action="store_true", help="listen on the network without sign-in")
