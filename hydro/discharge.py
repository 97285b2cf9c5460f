"""One checked discharge series: values, what the agency says of each, and where every row came from."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

DAILY = "daily"
APPROVALS = ("approved", "provisional", "unknown")
COLUMNS = ("discharge_m3s", "approval", "flags", "row", "origin")


@dataclass(frozen=True, kw_only=True)
class Origin:
    """Where a series was read from and how its unit and clock were known.

    `digest` is the SHA-256 of the file's bytes, `unit` the canonical name of the file's unit, `unit_from` says
    in words how the unit was known (“header”, “second row”, “parameter 00060”, “asked for”), `clock` how time
    stamps became instants. Texts are empty where the file does not say.
    """

    file: str
    digest: str
    format: str
    station: str = ""
    parameter: str = ""
    statistic: str = ""
    series: str = ""
    description: str = ""
    unit: str = "m3/s"
    unit_from: str = ""
    retrieved: str = ""
    clock: str = ""


@dataclass(frozen=True, eq=False, kw_only=True)
class Discharge:
    """A discharge series, daily or instantaneous.

    `step` is "daily", an ISO 8601 duration such as "PT15M", or "irregular". `frame` is indexed by civil day of
    the provider (daily; timezone-naive midnights, never moved through UTC) or by UTC instant, increasing and
    without repeats, with the columns

        discharge_m3s  float64 [m³/s]; NaN = not measured, never 0
        approval       category: approved | provisional | unknown
        flags          category: the row's flags, sorted and joined by blanks ("" = none)
        row            line or sheet row in the origin's file (1-based)
        origin         position in `origins`

    `raw` keeps the text of cells that were not plain numbers, by index label. `notes` are sentences about what
    the reader did or doubts. Raises ValueError where the frame breaks these rules.

    The frame is copied on entry, by pandas' copy-on-write: memory is shared until either side is changed through
    pandas, and then the other keeps what it was. (Writing past pandas, into an array that a frame was built on with
    copy=False or into `series.array`, reaches both.)
    """

    frame: pd.DataFrame
    step: str
    origins: tuple[Origin, ...]
    raw: pd.Series = field(default_factory=lambda: pd.Series(dtype=object))
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        frame = self.frame
        missing = [c for c in COLUMNS if c not in frame.columns]
        if missing:
            raise ValueError(f"a discharge frame lacks the columns {missing}")
        if not isinstance(frame.index, pd.DatetimeIndex):
            raise ValueError("a discharge frame is indexed by time")
        if self.daily and frame.index.tz is not None:
            raise ValueError("daily values carry civil days, without a zone")
        if not self.daily and str(frame.index.tz) != "UTC":
            raise ValueError("instantaneous values carry UTC instants")
        if not (frame.index.is_monotonic_increasing and frame.index.is_unique):
            raise ValueError("the index of a discharge frame increases and has no repeats")
        if frame["discharge_m3s"].dtype != np.float64:
            raise ValueError("discharge is float64")
        # A selection is a copy under copy-on-write: a deep one would be paid for again at every `until`.
        object.__setattr__(self, "frame", frame.loc[:, list(COLUMNS)])

    @property
    def daily(self) -> bool:
        return self.step == DAILY

    @property
    def values(self) -> pd.Series:
        """Discharge [m³/s] as measured, indexed by day or instant; NaN = not measured."""
        return self.frame["discharge_m3s"]

    def until(self, last: pd.Timestamp) -> Discharge:
        """The series with nothing dated after `last` (a civil day, or a UTC instant)."""
        # An empty `raw` may have no dates to compare with.
        raw = self.raw if self.raw.empty else self.raw[self.raw.index <= last]
        return replace(self, frame=self.frame.loc[:last], raw=raw)

    def gaps(self) -> pd.DataFrame:
        """Stretches without a value inside the record, as columns `first` and `last` (both inclusive).

        For instantaneous series a stretch counts where two values lie more than one and a half steps apart, and
        is given by the instants one step after and before its neighbours; an irregular series has no step and
        so no gaps can be named: the table is empty.
        """
        empty = pd.DataFrame({"first": pd.DatetimeIndex([]), "last": pd.DatetimeIndex([])})
        known = pd.DatetimeIndex(self.frame.index[self.values.notna()])
        if len(known) < 2 or self.step == "irregular":
            return empty
        step = pd.Timedelta(days=1) if self.daily else pd.Timedelta(self.step)
        # Compare in the index's own unit: one pass over a million rows should not box timestamps.
        ticks = known.asi8
        one = int(step.to_timedelta64().astype(f"m8[{known.unit}]").astype(np.int64))
        after = np.flatnonzero(np.diff(ticks) > one + one // 2)
        if after.size == 0:
            return empty
        return pd.DataFrame({"first": known[after] + step, "last": known[after + 1] - step})


def make_frame(
    index: pd.DatetimeIndex,
    discharge_m3s: np.ndarray,
    *,
    approval: pd.Categorical | None = None,
    flags: pd.Categorical | None = None,
    row: np.ndarray | None = None,
    origin: int = 0,
) -> pd.DataFrame:
    """A frame with the columns of `Discharge`, filling approval “unknown”, no flags and rows 1… where not given."""
    n = len(index)
    if approval is None:
        approval = pd.Categorical.from_codes(np.full(n, 2, np.int8), categories=list(APPROVALS))
    if flags is None:
        flags = pd.Categorical.from_codes(np.zeros(n, np.int8), categories=[""])
    return pd.DataFrame(
        {
            "discharge_m3s": np.asarray(discharge_m3s, dtype=np.float64),
            "approval": approval,
            "flags": flags,
            "row": np.arange(1, n + 1, dtype=np.int64) if row is None else row,
            "origin": np.full(n, origin, np.int16),
        },
        index=index,
    )
