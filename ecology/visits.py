"""Survey visits, checked: dry visits, visits that did not search, zeros and blanks each kept apart."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd

from ecology.survey_columns import ColumnReader
from hydro.problems import InputError, Problem
from hydro.sources.text_table import read_text_table

SURFACES = ("running", "pooled", "dry")
#: counted: searched and the animals counted, 0 included · searched-uncounted: searched, no count written ·
#: not-searched: nobody looked · dry: the surface was dry, which is neither a zero nor a failed search
KINDS = ("counted", "searched-uncounted", "not-searched", "dry")
PARTS = ("adults", "juveniles", "gravid")
KNOWN = ("date", "time", "outlet", "surface", "searched", "count", "effort", *PARTS, "taxon", "water_temp_c",
         "observers", "note", "pass")  # fmt: skip


@dataclass(frozen=True, eq=False, kw_only=True)
class Visits:
    """Visits in date order.

    `frame` columns: row (line or sheet row in the file), date (civil day), time (text), outlet, surface ("" = not
    recorded), searched (bool), count (NaN = not counted), effort (NaN = unknown, in the workspace's unit), adults,
    juveniles, gravid, taxon, water_temp_c [°C], observers, note, pass (which of several passes of the day, text), kind
    (one of KINDS); then every further column of the file as text under its own name.
    """

    frame: pd.DataFrame
    file: str
    digest: str

    @cached_property
    def notes(self) -> tuple[str, ...]:
        """Rows that are allowed and odd, as sentences."""
        return tuple(_doubts(self.frame))

    def until(self, last: pd.Timestamp) -> Visits:
        """The visits with nothing dated after `last`, not even a doubt."""
        kept = self.frame[self.frame["date"] <= last].reset_index(drop=True)
        return Visits(frame=kept, file=self.file, digest=self.digest)

    def at(self, outlet: str) -> pd.DataFrame:
        """The rows of one outlet."""
        return self.frame[self.frame["outlet"] == outlet]


def read_visits(
    path: Path,
    *,
    outlets: Collection[str],
    today: pd.Timestamp,
    columns: Mapping[str, str] | None = None,
    day_first: bool | None = None,
    shown_as: str | None = None,
    spans: Mapping[str, tuple[pd.Timestamp, pd.Timestamp]] | None = None,
    lag_days: int = 0,
) -> Visits:
    """Read and check a visits table (CSV or XLSX).

    outlets   ids that the workspace knows
    today     no visit can be dated later than this civil day
    columns   the user's column names where they differ from ours
    day_first settles a day/month order that the column leaves open
    spans     first and last day of the discharge record by outlet; visits before it, or more than `lag_days` after it,
              are problems

    Raises InputError with every problem of the file.
    """
    file = shown_as or str(path)
    table = read_text_table(path)
    read = ColumnReader(table, file, dict(columns or {}))
    if not read.require(("date", "outlet")):
        raise InputError(read.problems)
    date = read.dates("date", day_first)
    read.wrong("date", (date > today).to_numpy(), f"a day not later than {today:%Y-%m-%d}")
    outlet = read.text("outlet")
    known = ", ".join(sorted(outlets)) or "none"
    read.wrong("outlet", (~outlet.isin(list(outlets))).to_numpy(), f"an outlet id of the workspace: {known}")
    surface = read.choice("surface", SURFACES)
    said = read.choice("searched", ("yes", "no"))
    count = read.number("count", least=0, whole=True, meaning="a whole number of 0 or more, or blank = not counted")
    effort = read.number("effort", least=0, above=True, meaning="a number above 0, or blank = unknown")
    parts = {
        name: read.number(name, least=0, whole=True, meaning="a whole number of 0 or more, or blank") for name in PARTS
    }
    temperature = read.number(
        "water_temp_c", least=-5, most=60, meaning="a water temperature in °C between -5 and 60, or blank"
    )
    read.wrong(
        "searched", ((said == "no") & count.notna()).to_numpy(), "yes where a count is given, or no count where no"
    )
    grown = parts["adults"].fillna(0) + parts["juveniles"].fillna(0)
    read.wrong("count", (grown > count).to_numpy(), "at least the adults and juveniles of the same row together")
    read.wrong("gravid", (parts["gravid"] > count).to_numpy(), "at most the count of the same row")
    placed = pd.DataFrame({"row": table.rows, "date": date, "outlet": outlet})
    problems = [*read.problems, *outside_record(placed, file, spans or {}, lag_days)]
    if problems:
        raise InputError(problems)
    searched = (said == "yes") | ((said == "") & count.notna())
    kind = np.select(
        [surface == "dry", count.notna(), searched], ["dry", "counted", "searched-uncounted"], "not-searched"
    )
    frame = pd.DataFrame(
        {
            "row": table.rows,
            "date": date,
            "time": read.text("time"),
            "outlet": outlet,
            "surface": surface,
            "searched": searched,
            "count": count,
            "effort": effort,
            **parts,
            "taxon": read.text("taxon"),
            "water_temp_c": temperature,
            "observers": read.text("observers"),
            "note": read.text("note"),
            "pass": read.text("pass"),
            "kind": pd.Categorical(kind, categories=list(KINDS)),
        }
    )
    ours = {read.header(name) for name in KNOWN}
    for name in table.columns:
        if name and name not in ours and name not in frame.columns:
            frame[name] = table.cells[name].to_numpy()
    return Visits(
        frame=frame.sort_values(["date", "row"], kind="stable").reset_index(drop=True),
        file=file,
        digest=hashlib.sha256(Path(path).read_bytes()).hexdigest(),
    )


def outside_record(
    visits: pd.DataFrame, file: str, spans: Mapping[str, tuple[pd.Timestamp, pd.Timestamp]], lag_days: int
) -> list[Problem]:
    """Visits (row, date, outlet) to an outlet before its discharge record begins, or more than `lag_days` after it
    ends."""
    problems = []
    for outlet, (first, last) in spans.items():
        rows = visits[visits["outlet"] == outlet]
        outside = (rows["date"] < first) | (rows["date"] > last + pd.Timedelta(days=lag_days))
        for row, date in rows.loc[outside, ["row", "date"]].itertuples(index=False):
            problems.append(
                Problem(
                    file=file,
                    row=int(row),
                    column="date",
                    value=f"{date:%Y-%m-%d}",
                    expected=f"a day within the discharge record of “{outlet}”, {first:%Y-%m-%d} to {last:%Y-%m-%d} "
                    f'(if the date is right, write outside_record = "keep" under [surveys])',
                )
            )
    return problems


def _doubts(frame: pd.DataFrame) -> list[str]:
    """Rows that are allowed and odd."""
    notes = []
    same = frame.duplicated(["date", "time", "outlet", "taxon", "count", "effort", "surface", "pass"], keep="first")
    if same.any():
        rows = ", ".join(str(r) for r in frame.loc[same, "row"].head(8))
        notes.append(f"{int(same.sum())} visits repeat an earlier row exactly (rows {rows}); all are kept")
    found = (frame["kind"] == "dry") & (frame["count"] > 0)
    if found.any():
        rows = ", ".join(str(r) for r in frame.loc[found, "row"].head(8))
        notes.append(f"{int(found.sum())} visits to a dry surface counted animals (rows {rows}); they stay dry visits")
    return notes
