"""Searches told apart: rows of one day at one outlet are passes, unless they are one pass that counted several taxa.

Passes say how often a search misses what is there, more directly than later visits do: animals do not come or go
between them.
"""

from __future__ import annotations

import numpy as np
import pandas as pd


def search_passes(rows: pd.DataFrame) -> pd.DataFrame:
    """One row a pass, in order: date, pass (1, 2, … within the day), count, effort, row (the first in the file).

    rows   the searches of one outlet that counted: date, count, effort, row; where there are such columns, time, taxon
           and pass (the user's own label) tell passes of one day apart

    Rows of a day with one label are one pass; without labels, rows of one time are, and without times the n-th rows of
    each taxon. Rows of one pass that name different taxa share its effort (the largest written down); other rows of one
    label were shared out, so that their efforts add up. An effort that is missing anywhere in such a sum is missing.
    """
    if rows.empty:
        return pd.DataFrame(
            {
                "date": pd.DatetimeIndex([]),
                "pass": np.zeros(0, np.int64),
                "count": np.zeros(0),
                "effort": np.zeros(0),
                "row": np.zeros(0, np.int64),
            }
        )
    order = ["date", *(["time"] if "time" in rows else []), "row"]
    rows = rows.sort_values(order, kind="stable").reset_index(drop=True)
    if not rows["date"].duplicated().any():
        frame = rows[["date", "count", "effort", "row"]].astype({"count": np.float64, "effort": np.float64})
        return frame.assign(**{"pass": 1})[["date", "pass", "count", "effort", "row"]]
    taxon = _text(rows, "taxon")
    label = _labels(rows, taxon)
    frame = pd.DataFrame(
        {
            "date": rows["date"],
            "label": label,
            "taxon": taxon,
            "count": rows["count"].astype(np.float64),
            "effort": rows["effort"].astype(np.float64),
            "row": rows["row"],
        }
    )
    # Rows of one taxon within a pass add up, taxa beside each other share.
    within = frame.assign(unknown=frame["effort"].isna())
    within = within.groupby(["date", "label", "taxon"], sort=False, as_index=False).agg(
        count=("count", "sum"), effort=("effort", "sum"), row=("row", "min"), unknown=("unknown", "any")
    )
    within["effort"] = within["effort"].mask(within["unknown"])
    merged = within.groupby(["date", "label"], sort=False, as_index=False).agg(
        count=("count", "sum"), effort=("effort", "max"), row=("row", "min")
    )
    number = merged.groupby("date", sort=False).cumcount().to_numpy() + 1
    merged = merged.assign(**{"pass": number})
    return merged[["date", "pass", "count", "effort", "row"]].reset_index(drop=True)


def _labels(rows: pd.DataFrame, taxon: pd.Series) -> pd.Series:
    """A text that two rows of one day share where they belong to one pass."""
    label, time = _text(rows, "pass"), _text(rows, "time")
    nth = rows.assign(taxon=taxon).groupby(["date", "taxon"], sort=False).cumcount().astype(str)
    day_labelled = (label != "").groupby(rows["date"]).transform("all")
    # A time tells passes apart only if the same taxon does not stand there twice.
    key = pd.DataFrame({"date": rows["date"], "time": time, "taxon": taxon})
    day_timed = ((time != "") & ~key.duplicated(keep=False)).groupby(rows["date"]).transform("all")
    return ("label " + label).where(day_labelled, ("time " + time).where(day_timed, "nth " + nth)).rename("label")


def _text(rows: pd.DataFrame, column: str) -> pd.Series:
    if column not in rows:
        return pd.Series("", index=rows.index, dtype=object)
    return rows[column].astype(object).where(rows[column].notna(), "").astype(str).str.strip()
