"""Write the demo: `python -m demo_data.make_demo` remakes demo_data/quillmere/ and demo_data/TRUTH.json.

The same seed gives the same bytes. The seed was picked among some thousands so that the record ends in an
interesting state: the ledge running, its discharge receding a little above the level at which it stops.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from demo_data.animals import invent_captures
from demo_data.gauge_files import write_daily_rdb, write_metric_csv, write_quarter_hour_rdb
from demo_data.outlets import OUTLETS, Outlet, invent_outlet
from demo_data.survey_files import CAPTURE_COLUMNS, VISIT_COLUMNS, write_table, write_workspace
from demo_data.truth import state_truth
from demo_data.visits import invent_visits
from demo_data.water import Water, invent_water

SEED = 1814
HERE = Path(__file__).resolve().parent
WORKSPACE = HERE / "quillmere"
TRUTH = HERE / "TRUTH.json"


@dataclass(frozen=True, eq=False, kw_only=True)
class Invention:
    """Everything that is true and everything that was noted, before it becomes files."""

    seed: int
    water: Water
    outlets: dict[str, Outlet]
    visits: pd.DataFrame
    captures: pd.DataFrame


def invent(seed: int = SEED) -> Invention:
    """Invent the springs, their outlets, the visits and the animals for one seed."""
    water = invent_water(seed)
    outlets = {name: invent_outlet(name, water.true_system, seed) for name in OUTLETS}
    visits = invent_visits(outlets, water.true_system, seed)
    captures = invent_captures(visits, outlets, seed)
    return Invention(seed=seed, water=water, outlets=outlets, visits=visits, captures=captures)


def write(invention: Invention, folder: Path) -> None:
    """Write the workspace of an invention into `folder`, made if need be; files of the same names are replaced."""
    discharge = folder / "discharge"
    discharge.mkdir(parents=True, exist_ok=True)
    published, seed = invention.water.published, invention.seed
    write_daily_rdb(discharge / "north_daily.txt", "north", published["north"], seed)
    write_quarter_hour_rdb(discharge / "north_15min.txt", "north", published["north"], seed)
    write_daily_rdb(discharge / "mill_daily.txt", "mill", published["mill"], seed)
    write_metric_csv(discharge / "lower_daily.csv", "lower", published["lower"], seed)
    write_table(folder / "visits.csv", invention.visits, VISIT_COLUMNS)
    write_table(folder / "captures.csv", invention.captures, CAPTURE_COLUMNS)
    write_workspace(folder / "workspace.toml")


def truth_text(invention: Invention) -> str:
    """TRUTH.json as text."""
    truth = state_truth(invention.seed, invention.water, invention.outlets, invention.visits, invention.captures)
    return json.dumps(truth, indent=1, ensure_ascii=False) + "\n"


def make(folder: Path) -> None:
    """Make the demo workspace in `folder` (workspace.toml, discharge/, visits.csv, captures.csv)."""
    write(invent(), folder)


def main() -> None:
    """Rewrite the files that are kept with the code."""
    invention = invent()
    write(invention, WORKSPACE)
    TRUTH.write_text(truth_text(invention), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
