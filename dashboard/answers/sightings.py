"""What people wrote down about the surface of an outlet, beside the discharge of that day."""

from __future__ import annotations

import pandas as pd

from dashboard.workspace import Workspace


def sightings_of(workspace: Workspace, id: str) -> pd.DataFrame:
    """Every visit that wrote down the surface, searches and dated field notes alike.

    Columns date, surface, discharge_m3s (NaN = not known that day), row (in the visits file), source ("visit", or
    "field note" where nobody searched). Empty where the workspace names no visits or the flow is never known.
    """
    flow = workspace.flow_of(id)
    if workspace.visits is None or flow.empty:
        return pd.DataFrame(
            {
                "date": pd.DatetimeIndex([]),
                "surface": pd.Series(dtype=object),
                "discharge_m3s": pd.Series(dtype=float),
                "row": pd.Series(dtype=int),
                "source": pd.Series(dtype=object),
            }
        )
    rows = workspace.visits.at(id)
    rows = rows[rows["surface"] != ""]
    return pd.DataFrame(
        {
            "date": rows["date"],
            "surface": rows["surface"].astype(str),
            "discharge_m3s": flow.values.reindex(rows["date"]).to_numpy(),
            "row": rows["row"],
            "source": rows["kind"].astype(str).map(lambda k: "field note" if k == "not-searched" else "visit"),
        }
    ).reset_index(drop=True)
