"""What people wrote down about the surface of an outlet, beside the discharge of that day."""

from __future__ import annotations

import pandas as pd

from dashboard.workspace import Workspace
from ecology.visits import Visits
from hydro.combine import Flow


def sightings_of(workspace: Workspace, id: str) -> pd.DataFrame:
    """Every visit that wrote down the surface, searches and dated field notes alike.

    Columns date, surface, discharge_m3s (NaN = not known that day), row (in the visits file), source ("visit", or
    "field note" where nobody searched). Empty where the workspace names no visits or the flow is never known.
    """
    return sightings_beside(workspace.visits, id, workspace.flow_of(id))


def sightings_beside(visits: Visits | None, id: str, flow: Flow) -> pd.DataFrame:
    """The same for visits and a flow that are not in a workspace yet."""
    if visits is None or flow.empty:
        return pd.DataFrame(
            {
                "date": pd.DatetimeIndex([]),
                "surface": pd.Series(dtype=object),
                "discharge_m3s": pd.Series(dtype=float),
                "row": pd.Series(dtype=int),
                "source": pd.Series(dtype=object),
            }
        )
    rows = visits.at(id)
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
