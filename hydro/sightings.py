"""What people saw at an outlet beside the discharge of that day, checked and cut into independent episodes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

RUNNING, POOLED, DRY = "running", "pooled", "dry"
SURFACES = (RUNNING, POOLED, DRY)
COLUMNS = ("date", "surface", "discharge_m3s", "row", "source")
#: Sightings of one state further apart than this are not held to be of one episode [days] (an assumption: half a
#: year reaches into another season).
EPISODE_GAP_DAYS = 182
#: A limb is rising where the discharge is above that of this many days before [days].
LIMB_DAYS = 7


@dataclass(frozen=True, eq=False, kw_only=True)
class Sightings:
    """Sightings sorted by date.

    usable     running or dry with a discharge above 0: the columns given, and `episode`, which numbers from 0 the
               stretches of one state; sightings of one episode are not independent of each other
    pooled     standing water with a discharge above 0: neither dry nor running, never forced into either
    left_out   rows that cannot be used, with the column `reason`: "surface not recorded", "no discharge that day" or
               "discharge of 0 or below" (it has no logarithm)
    """

    usable: pd.DataFrame
    pooled: pd.DataFrame
    left_out: pd.DataFrame

    @property
    def running(self) -> npt.NDArray[np.bool_]:
        """Whether each usable sighting saw the outlet running."""
        return (self.usable["surface"] == RUNNING).to_numpy()

    @property
    def discharge(self) -> npt.NDArray[np.float64]:
        """Discharge [m³/s] of each usable sighting."""
        return self.usable["discharge_m3s"].to_numpy(np.float64)

    @property
    def episodes(self) -> npt.NDArray[np.int64]:
        return self.usable["episode"].to_numpy(np.int64)

    @property
    def n_episodes(self) -> int:
        return int(self.episodes[-1]) + 1 if len(self.usable) else 0

    def transitions(self) -> tuple[int, int]:
        """Changes seen between one sighting and the next: (running to dry, dry to running)."""
        change = np.diff(self.running.astype(np.int8))
        return int((change == -1).sum()), int((change == 1).sum())


def sort_sightings(table: pd.DataFrame) -> Sightings:
    """Check a table of sightings and sort its rows into usable, pooled and left out.

    table  columns date (civil day), surface ("running", "pooled", "dry", "" = not recorded), discharge_m3s (NaN = not
           measured), row (of the file it comes from) and source (visit, field note, …); in any order of dates

    Raises ValueError for a missing column, a surface that is none of these or a row without a date.
    """
    missing = [name for name in COLUMNS if name not in table.columns]
    if missing:
        raise ValueError(f"a table of sightings lacks the columns {missing}")
    rows = table.loc[:, list(COLUMNS)].copy()
    rows["date"] = pd.to_datetime(rows["date"])
    rows["surface"] = rows["surface"].astype(object).where(rows["surface"].notna(), "")
    rows["discharge_m3s"] = rows["discharge_m3s"].astype(np.float64)
    odd = sorted(set(rows["surface"]) - {*SURFACES, ""})
    if odd:
        raise ValueError(f"a surface is one of {', '.join(SURFACES)} or empty, not {', '.join(map(str, odd))}")
    if rows["date"].isna().any():
        raise ValueError("every sighting has a date")
    rows = rows.sort_values("date", kind="stable").reset_index(drop=True)
    reason = np.select(
        [rows["surface"] == "", rows["discharge_m3s"].isna(), ~(rows["discharge_m3s"] > 0)],
        ["surface not recorded", "no discharge that day", "discharge of 0 or below"],
        "",
    )
    fit = reason == ""
    pooled = (rows["surface"] == POOLED).to_numpy()
    usable = rows[fit & ~pooled].reset_index(drop=True)
    usable["episode"] = _episodes(usable)
    return Sightings(
        usable=usable,
        pooled=rows[fit & pooled].reset_index(drop=True),
        left_out=rows[~fit].assign(reason=reason[~fit]).reset_index(drop=True),
    )


def rising_after_dry(sightings: Sightings, discharge_by_day: pd.Series) -> npt.NDArray[np.bool_]:
    """Which usable sightings follow a dry one on a rising limb: they tell of restarting, not of stopping.

    discharge_by_day  discharge [m³/s] indexed by civil day; a limb is known only where both its days are measured
    """
    after_dry = np.concatenate(([False], ~sightings.running[:-1]))
    days = pd.DatetimeIndex(sightings.usable["date"]).normalize()
    now = discharge_by_day.reindex(days).to_numpy(np.float64)
    before = discharge_by_day.reindex(days - pd.Timedelta(days=LIMB_DAYS)).to_numpy(np.float64)
    return after_dry & (now > before)


def _episodes(usable: pd.DataFrame) -> npt.NDArray[np.int64]:
    if usable.empty:
        return np.zeros(0, np.int64)
    state = usable["surface"].to_numpy()
    apart = np.diff(usable["date"].to_numpy()) > np.timedelta64(EPISODE_GAP_DAYS, "D")
    return np.concatenate(([0], np.cumsum((state[1:] != state[:-1]) | apart))).astype(np.int64)
