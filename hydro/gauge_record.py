"""One gauge's daily record, put together from the files that hold parts of it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from hydro.daily import COMPLETENESS, daily_means
from hydro.discharge import DAILY, Discharge


def daily_record(parts: Sequence[Discharge], time_zone: str, *, completeness: float = COMPLETENESS) -> Discharge:
    """Daily values from daily and instantaneous parts, in the order given.

    Published daily values come first; where a day has none (absent or not measured), the mean of the
    instantaneous values is taken if the day is complete enough (see `daily_means`) and flagged. Where two daily
    parts give the same day, the first measured value stands and a note counts the days on which they differ.
    """
    if not parts:
        raise ValueError("a gauge needs at least one series")
    notes = [note for part in parts for note in part.notes]
    daily = [p for p in parts if p.daily]
    derived = [daily_means(p, time_zone, completeness=completeness) for p in parts if not p.daily]
    origins = tuple(o for p in (*daily, *derived) for o in p.origins)
    frames, at = [], 0
    for rank, part in enumerate((*daily, *derived)):
        frame = part.frame.copy()
        frame["origin"] = (frame["origin"] + at).astype(np.int16)
        frame["rank"] = rank
        for column in ("approval", "flags"):
            frame[column] = frame[column].astype(str)
        frames.append(frame)
        at += len(part.origins)
    everything = pd.concat(frames)
    everything["absent"] = everything["discharge_m3s"].isna()
    everything.index.name = "day"
    everything = everything.reset_index().sort_values(["day", "absent", "rank"], kind="stable")
    published = everything[(everything["rank"] < len(daily)) & ~everything["absent"]]
    spread = published.groupby("day")["discharge_m3s"].agg(["min", "max"])
    differing = int((spread["max"] > spread["min"]).sum())
    if differing:
        notes.append(f"{differing} days have two different daily values; the one from the first file stands")
    merged = everything.drop_duplicates("day").set_index("day")
    for column in ("approval", "flags"):
        merged[column] = merged[column].astype("category")
    raws = [p.raw for p in daily if not p.raw.empty]
    raw = pd.concat(raws) if raws else pd.Series(dtype=object)
    raw = raw[~raw.index.duplicated()].sort_index()
    return Discharge(frame=merged, step=DAILY, origins=origins, raw=raw, notes=tuple(dict.fromkeys(notes)))
