"""Several gauges, one combined discharge: missing stays missing, bridging is asked for and flagged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hydro.discharge import Discharge
from hydro.discharge_error import DEFAULT_ERROR_PERCENT


@dataclass(frozen=True, eq=False, kw_only=True)
class Flow:
    """A combined daily discharge.

    `frame` has one row a civil day from the first to the last day on which the sum is known (empty where it never
    is): discharge_m3s (NaN where any member is missing), provisional, estimated, bridged (bool), missing (ids of
    the members without a value, joined by blanks), error_percent (95 % error of the sum, members independent).
    `members` holds each gauge's daily values as used, by id.
    """

    id: str
    title: str
    frame: pd.DataFrame
    members: pd.DataFrame
    bridge_days: int

    @property
    def values(self) -> pd.Series:
        """Combined discharge [m³/s] by civil day."""
        return self.frame["discharge_m3s"]

    @property
    def empty(self) -> bool:
        return self.frame.empty


def combine(
    id: str,
    title: str,
    gauges: Mapping[str, Discharge],
    *,
    bridge_days: int = 0,
    errors_percent: Mapping[str, float] | None = None,
) -> Flow:
    """Sum daily gauges by civil day.

    A day on which any gauge has no value has no sum. With `bridge_days` > 0, holes of at most so many days inside a
    gauge's own record are filled first, linear in ln discharge, and flagged; a hole beside a discharge of 0 or less
    has no logarithm and stays open.
    """
    if not gauges:
        raise ValueError("a flow needs at least one gauge")
    if bridge_days < 0:
        raise ValueError("bridge_days is at least 0")
    if not all(g.daily for g in gauges.values()):
        raise ValueError("only daily gauges can be combined")
    stated = errors_percent or {}
    # Of these gauges alone: the error of another one has no column here, and would make every sum's error unknown.
    errors = {name: stated.get(name, DEFAULT_ERROR_PERCENT) for name in gauges}
    known = [g.values.dropna().index for g in gauges.values()]
    if any(len(k) == 0 for k in known):
        days = pd.DatetimeIndex([], name="day")
    else:
        days = pd.date_range(max(k[0] for k in known), min(k[-1] for k in known), freq="D", name="day")
    values, bridged, provisional, estimated = {}, {}, {}, {}
    for name, gauge in gauges.items():
        # Bridge on the gauge's own calendar, so that a hole at the edge of the common span can still be closed.
        own = gauge.values.asfreq("D") if len(gauge.frame) else gauge.values
        filled = _bridge(own, bridge_days)
        values[name] = filled.reindex(days)
        bridged[name] = (filled.notna() & own.isna()).reindex(days, fill_value=False)
        provisional[name] = (gauge.frame["approval"] == "provisional").reindex(days, fill_value=False)
        estimated[name] = gauge.frame["flags"].astype(str).str.contains("estimated").reindex(days, fill_value=False)
    members = pd.DataFrame(values, index=days)
    total = members.sum(axis=1, skipna=False)
    absent = members.isna()
    missing = pd.Series("", index=days, dtype=object)
    for name in members.columns:
        missing = missing.where(~absent[name], missing + " " + name)
    weighted = members.mul(pd.Series(errors)).pow(2).sum(axis=1, skipna=False).pow(0.5)
    error = (weighted / total).where(total > 0, max(errors[name] for name in gauges)).where(total.notna())
    frame = pd.DataFrame(
        {
            "discharge_m3s": total,
            "provisional": pd.DataFrame(provisional, index=days).any(axis=1),
            "estimated": pd.DataFrame(estimated, index=days).any(axis=1),
            "bridged": pd.DataFrame(bridged, index=days).any(axis=1),
            "missing": missing.str.strip(),
            "error_percent": error,
        }
    )
    sure = np.flatnonzero(total.notna().to_numpy())
    window = slice(sure[0], sure[-1] + 1) if sure.size else slice(0, 0)
    return Flow(id=id, title=title, frame=frame.iloc[window], members=members.iloc[window], bridge_days=bridge_days)


def _bridge(daily: pd.Series, bridge_days: int) -> pd.Series:
    """Fill interior holes of at most `bridge_days`, linear in the logarithm."""
    holes = daily.isna().to_numpy()
    if bridge_days == 0 or not holes.any():
        return daily
    edges = np.flatnonzero(np.diff(np.concatenate(([0], holes.astype(np.int8), [0]))))
    out = daily.to_numpy(np.float64).copy()
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        inside = start > 0 and stop < len(out)
        if inside and stop - start <= bridge_days and out[start - 1] > 0 and out[stop] > 0:
            share = np.arange(1, stop - start + 1) / (stop - start + 1)
            ends = np.log(out[start - 1]), np.log(out[stop])
            out[start:stop] = np.exp(ends[0] + share * (ends[1] - ends[0]))
    return pd.Series(out, index=daily.index)
