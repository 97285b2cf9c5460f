"""What an outlook says of one outlet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

NO_READING = "no reading"
TOO_OLD = "the last reading is too old"
TOO_SHORT = "the record is too short"
SHORT_RECORD = "short record"
STALE_READING = "stale reading"
FEW_ANALOGUES = "few days like this one"
STATE_UNKNOWN = "state unknown at the last reading"
NEVER_DRY = "never dry in the record"
BEYOND_RECORD = "few days so far ahead"


@dataclass(frozen=True, eq=False, kw_only=True)
class Outlook:
    """What is to be expected of one outlet.

    days         one row a lead from 0 (the day of issue) to the horizon: date, lead [days], probability_running,
                 discharge_low_m3s, discharge_median_m3s, discharge_high_m3s, members (with a known state that day).
                 Empty where there is no forecast, with the reason in `why_none`.
    stops_by     lead, date, probability of having been dry at least once since the reading; None unless running now
    restarts_by  the same for running again; None unless dry now
    reasons      what makes this outlook weak, as short phrases
    n_years      years with known days in the record that it rests on [years]
    n_dry_years  calendar years of that record with a dry day
    level        coverage that the discharge band aims at
    """

    issued: pd.Timestamp
    reading_day: pd.Timestamp | None
    age_days: int | None
    state_now: str
    days: pd.DataFrame
    stops_by: pd.DataFrame | None
    restarts_by: pd.DataFrame | None
    reasons: tuple[str, ...]
    n_members: int
    n_years: float
    n_dry_years: int
    level: float
    why_none: str | None = None

    def probability_running(self, lead: int) -> float | None:
        """Chance of running `lead` days after the issue; None beyond the horizon or without a forecast."""
        found = self.days.loc[self.days["lead"] == lead, "probability_running"]
        return None if found.empty or np.isnan(found.iloc[0]) else float(found.iloc[0])


def date_reached(passages: pd.DataFrame | None, share: float) -> pd.Timestamp | None:
    """First day by which `stops_by` or `restarts_by` reaches `share`; None where it does not within the horizon."""
    if passages is None:
        return None
    reached = passages.loc[passages["probability"] >= share, "date"]
    return None if reached.empty else reached.iloc[0]


def no_outlook(issued: pd.Timestamp, reading: pd.Timestamp | None, level: float, why: str) -> Outlook:
    """An outlook without a forecast, and why there is none."""
    band = ["discharge_low_m3s", "discharge_median_m3s", "discharge_high_m3s"]
    empty = pd.DataFrame({name: pd.Series(dtype=np.float64) for name in ["probability_running", *band]})
    empty.insert(0, "date", pd.DatetimeIndex([]))
    empty.insert(1, "lead", pd.Series(dtype=np.int64))
    return Outlook(
        issued=issued,
        reading_day=reading,
        age_days=None if reading is None else (issued - reading).days,
        state_now="unknown",
        days=empty.assign(members=pd.Series(dtype=np.int64)),
        stops_by=None,
        restarts_by=None,
        reasons=(),
        n_members=0,
        n_years=0.0,
        n_dry_years=0,
        level=level,
        why_none=why,
    )
