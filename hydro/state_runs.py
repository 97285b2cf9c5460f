"""A discharge series cut into stretches that are dry, running or unknown: threshold-level method with two levels.

Method: run theory (Yevjevich 1967, Hydrology Paper 23, Colorado State University; cited from memory) with strict
"<" to stop, ">=" to restart and, where the restart level is higher, hysteresis: between the levels an outlet
stays as it was.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

UNKNOWN, DRY, RUNNING = 0, 1, 2
STATE_NAMES = ("unknown", "dry", "running")
_MISSING, _BELOW, _ABOVE, _BETWEEN = 0, 1, 2, 3

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class StateRuns:
    """Consecutive stretches that tile the series: `start[i]` (inclusive) to `stop[i]` (exclusive) in `state[i]`."""

    start: Ints
    stop: Ints
    state: npt.NDArray[np.int8]

    @property
    def length(self) -> Ints:
        return self.stop - self.start

    def by_row(self) -> npt.NDArray[np.int8]:
        """The state of every row."""
        return np.repeat(self.state, self.length)


def state_runs(
    discharge: Floats, stop_level: float, restart_level: float | None = None, stop_days: int = 1, restart_days: int = 1
) -> StateRuns:
    """Cut a regular series into dry, running and unknown stretches.

    discharge      one value a step, NaN = not measured (any unit, the same as the levels')
    stop_level     dry from the first of `stop_days` consecutive steps with discharge < stop_level
    restart_level  running from the first of `restart_days` consecutive steps with discharge >= restart_level
                   (default: the stop level)

    A stretch that qualifies is counted from its first step, not from the step at which it became known. A step
    without a value is unknown; so are steps after it (or at the start of the record) until the discharge settles
    the state, because between the two levels it depends on what went before.
    """
    restart = stop_level if restart_level is None else restart_level
    if restart < stop_level:
        raise ValueError("the restart level lies below the stop level")
    n = len(discharge)
    if n == 0:
        return StateRuns(start=np.zeros(0, np.int64), stop=np.zeros(0, np.int64), state=np.zeros(0, np.int8))
    # One byte a row; everything after the edges works on stretches, of which there are few.
    code = (discharge < stop_level).view(np.int8)
    code += (discharge >= restart).view(np.int8) * np.int8(_ABOVE)
    if restart > stop_level:
        code[(code == _MISSING) & ~np.isnan(discharge)] = _BETWEEN
    start, stop = _edges(code)
    kind, length = code[start], stop - start
    settled = (
        (kind == _MISSING) | ((kind == _BELOW) & (length >= stop_days)) | ((kind == _ABOVE) & (length >= restart_days))
    )
    # Stretches that settle nothing keep the state of the last one that did; before the first, it is unknown.
    last = np.maximum.accumulate(np.where(settled, np.arange(len(kind)), -1))
    state = np.where(last < 0, UNKNOWN, kind[np.maximum(last, 0)]).astype(np.int8)
    first, end = _edges(state)
    return StateRuns(start=start[first], stop=stop[end - 1], state=state[first])


def _edges(code: npt.NDArray[np.int8]) -> tuple[Ints, Ints]:
    """Starts (inclusive) and stops (exclusive) of the runs of equal values."""
    cuts = np.flatnonzero(code[1:] != code[:-1]) + 1
    return np.concatenate(([0], cuts)), np.concatenate((cuts, [len(code)]))
