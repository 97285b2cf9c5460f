"""Starting a workspace: by asking, or from a gauge file and a table of visits."""

from __future__ import annotations

import os
import re
import shutil
import sys
import zoneinfo
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from dashboard.workspace_file import FILE_NAME
from hydro.problems import InputError, Problem
from hydro.sources.gauge_file import GaugeFile, ReadChoices
from hydro.sources.recognise import read_gauge_file
from hydro.sources.text_table import read_text_table
from hydro.units import SYMBOLS, Quantity, UnitError, parse_quantity


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What a new workspace will hold; nothing is written before the plan is whole."""

    title: str
    time_zone: str
    display_unit: str
    gauges: Mapping[str, tuple[Path, str | None]]
    visits: Path | None
    outlets: Mapping[str, Quantity | None]


def start_workspace(
    folder: Path,
    *,
    gauges: Sequence[Path] = (),
    visits: Path | None = None,
    title: str | None = None,
    time_zone: str | None = None,
    unit: str | None = None,
    stops_below: Sequence[str] = (),
) -> int:
    """Write a new workspace folder, copying the files into it. Asks for what is not given when a person is there.

    Raises InputError with every problem; then nothing has been written.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError([Problem(file=str(folder), expected="a new or empty folder")])
    asking = sys.stdin.isatty()
    if not gauges and asking:
        gauges = [Path(p) for p in _ask("Gauge files, separated by blanks").split()]
    if visits is None and asking:
        answer = _ask("Table of visits (CSV or XLSX; empty = none yet)", "")
        visits = Path(answer) if answer else None
    problems: list[Problem] = []
    if not gauges:
        problems.append(Problem(row="--gauge", expected="at least one gauge file"))
    zone = time_zone or (_ask("Time zone, an IANA name", _machine_zone()) if asking else _machine_zone())
    try:
        zoneinfo.ZoneInfo(zone)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        problems.append(Problem(row="--time-zone", value=zone, expected="an IANA time zone name such as CST6CDT"))
    read = {p: read_gauge_file(p, ReadChoices(unit=unit, time_zone=zone)) for p in gauges}
    for file in read.values():
        problems.extend(file.problems)
        if not file.problems and len(file.series) != 1:
            try:
                file.only_series(ReadChoices())
            except InputError as error:
                problems.extend(error.problems)
    names = _outlet_names(visits, problems) if visits is not None else []
    levels = _levels(stops_below, problems)
    names = list(dict.fromkeys([*names, *levels]))
    if not names and asking:
        names = _ask("Outlets, separated by blanks").split()
    if not names and not problems:
        names = ["outlet"]
    if asking and not problems:
        for name in names:
            if name not in levels:
                levels[name] = _ask_level(name)
    if problems:
        raise InputError(problems)
    first = next(iter(read.values()))
    plan = Plan(
        title=title or (_ask("Title", folder.name) if asking else folder.name),
        time_zone=zone,
        display_unit=first.series[0].origins[0].unit,
        gauges={_id(p, i): (p, _unit_to_state(read[p], unit)) for i, p in enumerate(gauges)},
        visits=visits,
        outlets={n: levels.get(n) for n in names},
    )
    _write(folder, plan)
    print(f"Wrote {folder / FILE_NAME}; look through it, then try: resurgence check {folder}")
    return 0


def _write(folder: Path, plan: Plan) -> None:
    (folder / "discharge").mkdir(parents=True, exist_ok=True)
    lines = [
        f"title = {_quoted(plan.title)}",
        f"time_zone = {_quoted(plan.time_zone)}  # dates are local days of this zone",
        f"display_unit = {_quoted(plan.display_unit)}",
    ]
    for id, (path, unit) in plan.gauges.items():
        # The id keeps two files of one name from two folders apart.
        target = folder / "discharge" / (path.name if len(plan.gauges) == 1 else f"{id}{path.suffix}")
        shutil.copyfile(path, target)
        lines += ["", f"[gauges.{id}]", f"file = {_quoted(f'discharge/{target.name}')}"]
        if unit is not None:
            lines.append(f"unit = {_quoted(unit)}  # the file does not say")
    lines += ["", "[flows.system]", f"gauges = [{', '.join(_quoted(g) for g in plan.gauges)}]"]
    for name, level in plan.outlets.items():
        lines += ["", f"[outlets.{_quoted(name)}]", 'flow = "system"']
        if level is not None:
            lines.append(f'stops_below = "{level}"')
        else:
            lines.append(f'# stops_below = "… {plan.display_unit}"   # without a level it counts as always running')
    if plan.visits is not None:
        shutil.copyfile(plan.visits, folder / f"visits{plan.visits.suffix.lower()}")
        lines += ["", "[surveys]", f"visits = {_quoted(f'visits{plan.visits.suffix.lower()}')}"]
    temporary = folder / f".{FILE_NAME}.part"
    temporary.write_text("\n".join(lines) + "\n", encoding="utf-8")
    temporary.replace(folder / FILE_NAME)


def _outlet_names(visits: Path, problems: list[Problem]) -> list[str]:
    try:
        table = read_text_table(visits)
    except InputError as error:
        problems.extend(error.problems)
        return []
    if "outlet" not in table.columns:
        found = ", ".join(table.columns)
        problems.append(Problem(file=str(visits), expected=f"a column “outlet”; the file has: {found}"))
        return []
    return [n for n in dict.fromkeys(table.cells["outlet"].str.strip()) if n]


def _levels(stops_below: Sequence[str], problems: list[Problem]) -> dict[str, Quantity | None]:
    levels: dict[str, Quantity | None] = {}
    for text in stops_below:
        name, _, level = text.partition("=")
        try:
            levels[name.strip()] = parse_quantity(level)
        except UnitError as error:
            problems.append(Problem(row="--stops-below", value=text, expected=f"OUTLET=LEVEL with {error.expected}"))
    return levels


def _ask_level(outlet: str) -> Quantity | None:
    while True:
        answer = _ask(f"{outlet} stops below (a level such as “40 cfs”; empty = it always runs)", "")
        if not answer:
            return None
        try:
            return parse_quantity(answer)
        except UnitError as error:
            print(f"expected {error.expected}; known units: {', '.join(SYMBOLS)}")


def _unit_to_state(file: GaugeFile, unit: str | None) -> str | None:
    """The unit has to be written down only where the file itself does not say."""
    return unit if file.series[0].origins[0].unit_from == "asked for" else None


def _machine_zone() -> str:
    """The IANA name of this machine's zone, UTC where it cannot be told."""
    named = os.environ.get("TZ", "").lstrip(":")
    if named:
        return named
    link = Path("/etc/localtime")
    parts = str(link.resolve()).split("zoneinfo/") if link.exists() else []
    return parts[1] if len(parts) == 2 else "UTC"


def _id(path: Path, number: int) -> str:
    return re.sub(r"[^a-z0-9_-]+", "-", path.stem.lower()).strip("-") or f"gauge{number + 1}"


def _quoted(text: str) -> str:
    """A TOML basic string."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _ask(question: str, default: str | None = None) -> str:
    shown = f" [{default}]" if default else ""
    answer = input(f"{question}{shown}: ").strip()
    return answer or (default or "")
