"""visits.csv, captures.csv and workspace.toml of the demo."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from demo_data.outlets import SET_LEVELS_CFS, TITLES
from demo_data.water import LAST_DAY

VISIT_COLUMNS = (
    "date", "time", "outlet", "surface", "searched", "count", "effort", "adults", "juveniles", "gravid",
    "water_temp_c", "observers", "people_in_water", "note",
)  # fmt: skip
CAPTURE_COLUMNS = ("date", "outlet", "individual", "stage", "gravid", "length_mm", "match_confidence", "note")

WORKSPACE = """\
# An invented group of springs with an invented animal, the candleback shrimp: a small freshwater shrimp known by
# the spots on its back. Nothing in this folder was measured. Lines that start with # are for people.

title = "Quillmere springs"
time_zone = "CST6CDT"          # the local clock of the field days: six hours behind UTC, five in summer
as_of = "{as_of}"           # the demo's own today, so that it looks the same whenever it is opened
display_unit = "cfs"           # cubic feet per second

# Three gauges, each on one of the spring runs. Their files stay as the agencies gave them.
[gauges.north]
title = "North weir"
file = "discharge/north*.txt"  # daily means, and 15-minute values that reach further
error_percent = 10             # 95 in 100 published values lie within this of the truth

[gauges.mill]
title = "Mill run"
file = "discharge/mill_daily.txt"
error_percent = 10

[gauges.lower]
title = "Lower run"
file = "discharge/lower_daily.csv"  # litres per second, decimal commas: the file says so itself
error_percent = 10

# The whole spring group: the sum of the three, missing on days when one of them is missing.
[flows.system]
title = "Spring group"
gauges = ["north", "mill", "lower"]
bridge_gaps_days = 3           # gaps of up to three days are bridged and marked

# The shallowest outlet: it stops first.
[outlets.ledge]
title = "{ledge}"
flow = "system"
stops_below = "{ledge_stop:g} cfs"
restarts_above = "{ledge_restart:g} cfs"  # it takes a little more water to start again than to keep running

# What the crew wants to be told of the ledge, by `resurgence watch`.
[outlets.ledge.alerts]
level = "46 cfs"               # discharge at or below this
chance = 0.3                   # the chance of stopping within 30 days reaches this
stopped = true
running_again = true
no_reading_hours = 240         # a gauge has been silent for so long
revised = true                 # past values were changed so that a past day is dry, running or unknown instead
visit_due_days = 14            # nobody has searched so many days after the water came back
promised = {{ lead_days = 14, hit_rate = 0.9, false_alarm_ratio = 0.3 }}  # what the tally is held against

# Stops only in the worst years.
[outlets.trough]
title = "{trough}"
flow = "system"
stops_below = "{trough_stop:g} cfs"
restarts_above = "{trough_restart:g} cfs"

[outlets.trough.alerts]
level = "29 cfs"
stopped = true
running_again = true
promised = {{ lead_days = 14 }}  # three stops are too few for more

# Two outlets that have never stopped, for comparison.
[outlets.grotto]
title = "{grotto}"
flow = "system"

[outlets.headpool]
title = "{headpool}"
flow = "system"

[surveys]
visits = "visits.csv"
captures = "captures.csv"
effort_unit = "person-min"     # people in the water times minutes searched
animal = "candleback shrimp"    # what exports call it

# The permit that visits are made under; it is shown where visits are written down.
[permit]
number = "QM-25-014"
holder = "Tamsin Reedwell"
first = 2025-01-01
last = 2025-12-31
holding_minutes = 5

# Where alerts go: a feed that any feed reader shows. The README tells how to name e-mail, chats and others.
[watch.channels.feed]
feed_file = "alerts.xml"
"""


MEASURED_TO_TENTHS = ("water_temp_c", "length_mm")


def cell(value: object, column: str) -> str:
    """One table cell: dates as ISO, whole numbers without a point, nothing for what was not recorded."""
    if value is None or pd.isna(value):
        return ""
    if isinstance(value, pd.Timestamp):
        return f"{value:%Y-%m-%d}"
    if column in MEASURED_TO_TENTHS:
        return f"{value:.1f}"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else repr(value)
    return str(value)


def write_table(path: Path, table: pd.DataFrame, columns: Sequence[str]) -> None:
    """A comma-separated UTF-8 table; quotes only where a cell needs them."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(columns)
        for row in zip(*(table[column] for column in columns), strict=True):
            writer.writerow([cell(value, column) for value, column in zip(row, columns, strict=True)])


def write_workspace(path: Path) -> None:
    """workspace.toml, with the levels that the field crew uses (not the true ones)."""
    (ledge_stop, ledge_restart), (trough_stop, trough_restart) = SET_LEVELS_CFS["ledge"], SET_LEVELS_CFS["trough"]
    text = WORKSPACE.format(
        as_of=f"{LAST_DAY:%Y-%m-%d}",
        ledge_stop=ledge_stop,
        ledge_restart=ledge_restart,
        trough_stop=trough_stop,
        trough_restart=trough_restart,
        **TITLES,
    )
    path.write_text(text, encoding="utf-8", newline="\n")
