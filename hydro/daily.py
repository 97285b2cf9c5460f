"""Daily means from instantaneous values, with a stated rule for when a day is complete enough to have one."""

from __future__ import annotations

import numpy as np
import pandas as pd

from hydro.discharge import APPROVALS, DAILY, Discharge, make_frame

#: A day has a mean when at least this share of its nominal steps carries a value.
COMPLETENESS = 0.8
DERIVED_FLAG = "from-instantaneous"


def daily_means(
    discharge: Discharge, time_zone: str, *, completeness: float = COMPLETENESS, statistic: str = "mean"
) -> Discharge:
    """Daily values of an instantaneous series by civil day of `time_zone` (an IANA name or fixed offset).

    A civil day holds as many nominal steps as fit into its true length, 23 or 25 hours where clocks change. A
    day with values for less than `completeness` of them (0–1] is left out: its mean is not known. The mean is the
    plain mean of the values present (no weighting). `statistic` "minimum" gives the lowest value instead; the two
    differ by rule, not by error. An irregular series has no nominal step; its daily means need at least one value
    in `completeness` of the day's hours. Each day carries the row of its first value, the flag
    "from-instantaneous" beside the flags seen that day, and is provisional if any of its values is.
    """
    if discharge.daily:
        raise ValueError("the series is daily already")
    if not 0 < completeness <= 1:
        raise ValueError("completeness lies above 0 and at most at 1")
    if statistic not in ("mean", "minimum"):
        raise ValueError("statistic is mean or minimum")
    frame = discharge.frame
    local = pd.DatetimeIndex(frame.index).tz_convert(time_zone)
    day = local.tz_localize(None).normalize()
    known = frame["discharge_m3s"].notna().to_numpy()
    if not known.any():
        return _series(discharge, make_frame(pd.DatetimeIndex([]), np.zeros(0)))
    days, first_row, group = np.unique(day.asi8, return_index=True, return_inverse=True)
    calendar = pd.DatetimeIndex(days.astype(f"M8[{day.unit}]"))
    values = np.where(known, frame["discharge_m3s"].to_numpy(), 0.0)
    if discharge.step == "irregular":
        hour = group[known] * 32 + local.hour.to_numpy()[known]
        present = np.bincount(np.unique(hour) // 32, minlength=len(days)).astype(float)
        nominal = pd.Timedelta(hours=1)
    else:
        present = np.bincount(group[known], minlength=len(days)).astype(float)
        nominal = pd.Timedelta(discharge.step)
    counted = np.bincount(group[known], minlength=len(days))
    lengths = (calendar + pd.Timedelta(days=1)).tz_localize(time_zone) - calendar.tz_localize(time_zone)
    expected = np.floor(lengths / nominal).to_numpy()
    with np.errstate(invalid="ignore"):
        result = np.bincount(group, weights=values, minlength=len(days)) / counted
    if statistic == "minimum":
        result = np.full(len(days), np.inf)
        np.minimum.at(result, group[known], values[known])
    keep = (counted > 0) & (present >= completeness * expected)
    provisional = np.bincount(group, weights=(frame["approval"] == "provisional").to_numpy(), minlength=len(days))
    approved = np.bincount(group, weights=(frame["approval"] == "approved").to_numpy(), minlength=len(days))
    everything = np.bincount(group, minlength=len(days))
    code = np.where(provisional > 0, 1, np.where(approved == everything, 0, 2)).astype(np.int8)
    out = make_frame(
        calendar,
        result,
        approval=pd.Categorical.from_codes(code, categories=list(APPROVALS)),
        flags=_flags_by_day(frame["flags"], group, len(days)),
        row=frame["row"].to_numpy()[first_row],
    )
    out["origin"] = frame["origin"].to_numpy()[first_row]
    return _series(discharge, out.loc[keep])


def _flags_by_day(flags: pd.Series, group: np.ndarray, n: int) -> pd.Categorical:
    """All flags seen in a day, with the mark that the value was derived."""
    seen: list[set[str]] = [{DERIVED_FLAG} for _ in range(n)]
    codes = flags.cat.codes.to_numpy()
    for code, name in enumerate(flags.cat.categories):
        if name:
            for at in np.unique(group[codes == code]).tolist():
                seen[at].update(name.split())
    return pd.Categorical([" ".join(sorted(s)) for s in seen])


def _series(discharge: Discharge, frame: pd.DataFrame) -> Discharge:
    return Discharge(frame=frame, step=DAILY, origins=discharge.origins, notes=discharge.notes)
