"""What the past days were, as it was known at an earlier pass: kept, compared, and a change of it described.

States are compared on the record as it was: the new values are cut at the day where the kept states end, so that a
day whose state was settled by later days does not count as revised. A day that was unknown and is known now was filled
in, not revised.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pandas as pd

from hydro.state_runs import STATE_NAMES, UNKNOWN, state_runs

States = npt.NDArray[np.int8]


@dataclass(frozen=True, eq=False, kw_only=True)
class PastStates:
    """States by civil day from `first`, and a digest of the settings that made them (levels, days, gauges)."""

    first: pd.Timestamp
    states: States
    settings: str

    @property
    def last(self) -> pd.Timestamp:
        return self.first + pd.Timedelta(days=len(self.states) - 1)

    @property
    def digest(self) -> str:
        return hashlib.sha256(f"{self.first:%Y-%m-%d}{self.settings}".encode() + self.states.tobytes()).hexdigest()

    def as_json(self) -> str:
        """First day, and the states as lengths of runs; with the digest, so that a damaged copy is noticed."""
        cuts = np.flatnonzero(np.diff(self.states)) + 1
        edges = np.concatenate(([0], cuts, [len(self.states)])).tolist()
        runs = [[int(self.states[a]), b - a] for a, b in pairwise(edges)]
        return json.dumps(
            {"first": f"{self.first:%Y-%m-%d}", "settings": self.settings, "runs": runs, "digest": self.digest}
        )


def past_from_json(text: str) -> PastStates | None:
    """The kept states; None where they are not what was written."""
    kept = json.loads(text)
    codes, lengths = [r[0] for r in kept["runs"]], [r[1] for r in kept["runs"]]
    states = np.repeat(np.array(codes, dtype=np.int8), lengths)
    past = PastStates(first=pd.Timestamp(kept["first"]), states=states, settings=kept["settings"])
    return past if past.digest == kept["digest"] else None


def past_states(
    values: pd.Series, stop: float, restart: float, stop_days: int, restart_days: int, settings: str
) -> PastStates | None:
    """States of a daily discharge [m³/s] but for its newest day, which may still be incomplete; None without any."""
    if len(values) < 2:
        return None
    runs = state_runs(values.to_numpy(np.float64)[:-1], stop, restart, stop_days, restart_days)
    return PastStates(first=values.index[0], states=runs.by_row(), settings=settings)


@dataclass(frozen=True, kw_only=True)
class Revision:
    """Days whose state is another than was known before: how many, first and last of them, from what to what."""

    first: str
    last: str
    days: int
    now_dry: int
    now_running: int
    now_unknown: int
    digest: str


def revision_of(before: PastStates, values: pd.Series, levels: tuple[float, float, int, int]) -> Revision | None:
    """What changed in the days of `before`, given the values of today; None where nothing did."""
    cut = values.loc[: before.last]
    if cut.empty:
        return None
    now = state_runs(cut.to_numpy(np.float64), *levels).by_row()
    first = max(before.first, cut.index[0])
    last = min(before.last, cut.index[-1])
    n = (last - first).days + 1
    if n < 1:
        return None
    old = before.states[(first - before.first).days :][:n]
    new = now[(first - cut.index[0]).days :][:n]
    changed = np.flatnonzero((old != new) & (old != UNKNOWN))
    if not changed.size:
        return None
    codes = {name: int((new[changed] == i).sum()) for i, name in enumerate(STATE_NAMES)}
    days = first + pd.to_timedelta(changed, unit="D")
    marked = json.dumps([[f"{d:%Y-%m-%d}", int(new[i])] for d, i in zip(days, changed, strict=True)])
    return Revision(
        first=f"{days[0]:%Y-%m-%d}",
        last=f"{days[-1]:%Y-%m-%d}",
        days=int(changed.size),
        now_dry=codes["dry"],
        now_running=codes["running"],
        now_unknown=codes["unknown"],
        digest=hashlib.sha256(marked.encode()).hexdigest()[:16],
    )
