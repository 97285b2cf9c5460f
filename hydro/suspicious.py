"""Stretches of a record that a person should look at before trusting it: stuck values, fillers, spikes, sudden zeros.

None of it is proof and nothing is changed: a spring can be steady, a flood can be one reading long. The limits are
common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydro.units import to_m3s

#: One and the same value for this long: a stuck sensor, or rounding at base flow.
STUCK_DAYS = 21
#: A record falls to exactly 0 “at once” if the value before was at least this share of the median of positive ones.
ABRUPT_SHARE = 0.1
#: A spike is this many times above (or below) both its neighbours, which agree within a factor of two.
SPIKE = 10.0
#: Bounds of a lasting change that looks like a change of unit by 1000, from litres to cubic metres or back.
STEP = (500.0, 2000.0)
STEP_VALUES = 10
#: Numbers that stand for “no value” in many files, by themselves or negative, in the file's own unit.
NINES = (99.9, 99.99, 999.0, 999.9, 999.99, 9999.0, 9999.9, 99999.0, 999999.0)
_FILLER_KINDS = 3
_STEPS_LOOKED_AT = 1000  # a record with more of them is noise, and its first thousand say so
_DAY = 86_400_000_000  # [µs]
_MOST_SHOWN = 3

STUCK, ZEROS, FILLER, SPIKES, UNIT_STEP = "stuck", "zeros", "filler", "spike", "unit-step"


@dataclass(frozen=True, kw_only=True)
class SuspiciousRun:
    """A stretch by the positions of its first and last row (both inclusive), with its value [m³/s].

    kind is “stuck”, “zeros”, “filler”, “spike” or “unit-step”; a unit step is given by its last row before and its
    first row behind the step, and `value_m3s` is the value behind it.
    """

    kind: str
    first: int
    last: int
    value_m3s: float


def suspicious_runs(stamps: np.ndarray, values_m3s: np.ndarray, unit: str, *, daily: bool) -> list[SuspiciousRun]:
    """Everything suspicious, by kind and then by time.

    `stamps` are increasing datetime64[us], `values_m3s` [m³/s] with NaN for missing, `unit` the file's own unit, in
    which fillers are round numbers.
    """
    if len(values_m3s) < 2:
        return []
    return [
        *_stuck(stamps, values_m3s, daily),
        *_zeros(values_m3s),
        *_fillers(values_m3s, unit),
        *_jumps(values_m3s),
    ]


def sentences(runs: list[SuspiciousRun], stamps: np.ndarray) -> list[str]:
    """One sentence a kind, with the first few dates."""
    said = []
    for kind in (STUCK, ZEROS, FILLER, SPIKES, UNIT_STEP):
        mine = [r for r in runs if r.kind == kind]
        if not mine:
            continue
        shown = "; ".join(_span(stamps, r) for r in mine[:_MOST_SHOWN]) + (" …" if len(mine) > _MOST_SHOWN else "")
        count = len(mine)
        if kind == STUCK:
            longest = max(mine, key=lambda r: stamps[r.last] - stamps[r.first])
            said.append(
                f"{count} run{'s' if count > 1 else ''} of one value for {STUCK_DAYS} days or more (longest "
                f"{_span(stamps, longest)}): a stuck sensor, or a steady spring?"
            )
        elif kind == ZEROS:
            said.append(f"Discharge falls to exactly 0 at once ({shown}): was it dry, or is 0 a filler?")
        elif kind == FILLER:
            said.append(f"A number that looks like a filler was kept as a value ({shown}): is it one?")
        elif kind == SPIKES:
            said.append(
                f"{count} value{'s' if count > 1 else ''} {SPIKE:.0f} times above or below both neighbours "
                f"({shown}): a flood that short, or a mistake?"
            )
        else:
            said.append(f"Values change by about 1000 times and stay there ({shown}): did the unit change?")
    return said


def _stuck(stamps: np.ndarray, values: np.ndarray, daily: bool) -> list[SuspiciousRun]:
    # NaN differs from itself, so missing rows end a run.
    first, last = _runs(np.concatenate([[False], values[1:] == values[:-1], [False]]))
    ticks = stamps.view(np.int64)
    long = (ticks[last] - ticks[first] + (_DAY if daily else 0) >= STUCK_DAYS * _DAY) & (values[first] > 0)
    return _made(STUCK, first[long], last[long], values)


def _zeros(values: np.ndarray) -> list[SuspiciousRun]:
    zero = values == 0
    if not zero.any() or zero.all():
        return []
    starts, ends = _runs(np.concatenate([[False], zero, [False]]))
    starts, ends = starts[starts > 0], (ends - 1)[starts > 0]
    positive = values[values > 0]
    level = ABRUPT_SHARE * float(np.median(positive)) if positive.size else np.inf
    abrupt = values[starts - 1] >= level
    return _made(ZEROS, starts[abrupt], ends[abrupt], values)


def _fillers(values: np.ndarray, unit: str) -> list[SuspiciousRun]:
    """A number of nines far above or below all others, and a negative number that keeps coming back."""
    known = values[~np.isnan(values)]
    found: list[SuspiciousRun] = []
    nines = {float(to_m3s(sign * n, unit)) for n in NINES for sign in (1, -1)}
    for _ in range(_FILLER_KINDS):
        if known.size < 2:
            break
        low, high = float(known.min()), float(known.max())
        if low < 0 and (low in nines or int((known == low).sum()) >= _FILLER_KINDS):
            odd = low
        elif high in nines and (known < high).any() and float(known[known < high].max()) < high / 2:
            odd = high
        else:
            break
        first, behind = _runs(np.concatenate([[False], values == odd, [False]]))
        found += _made(FILLER, first, behind - 1, values)
        known = known[known != odd]
    return found


def _jumps(values: np.ndarray) -> list[SuspiciousRun]:
    """Spikes and lasting steps: only the rare places where a value is ten times the one before are looked at."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = values[1:] / values[:-1]
    np.abs(ratio, out=ratio)
    at = np.flatnonzero((ratio >= SPIKE) | (ratio <= 1 / SPIKE))
    up = (ratio[at] >= STEP[0]) & (ratio[at] <= STEP[1])
    down = (ratio[at] * STEP[0] <= 1) & (ratio[at] * STEP[1] >= 1)
    by_1000 = (up | down) & (values[at] > 0) & (values[at + 1] > 0)
    steps = [i for i in at[by_1000][:_STEPS_LOOKED_AT].tolist() if _lasts(values, i)]
    at = at[at + 2 < len(values)]
    before, here, after = values[at], values[at + 1], values[at + 2]
    level = np.maximum(before, after)
    alike = (before > 0) & (after > 0) & (level <= 2 * np.minimum(before, after))
    odd = alike & ((here >= SPIKE * level) | ((here > 0) & (here <= level / SPIKE)))
    return [
        *_made(SPIKES, at[odd] + 1, at[odd] + 1, values),
        *(SuspiciousRun(kind=UNIT_STEP, first=i, last=i + 1, value_m3s=float(values[i + 1])) for i in steps),
    ]


def _lasts(values: np.ndarray, i: int) -> bool:
    """Whether the step behind position i is one by about 1000, at once and for good."""
    before, after = values[max(0, i - STEP_VALUES + 1) : i + 1], values[i + 1 : i + 1 + STEP_VALUES]
    before, after = before[before > 0], after[after > 0]
    if min(len(before), len(after)) < STEP_VALUES // 2:
        return False
    for one, two in ((before[-1], after[0]), (float(np.median(before)), float(np.median(after)))):
        factor = max(one / two, two / one)
        if not STEP[0] <= factor <= STEP[1]:
            return False
    return True


def _made(kind: str, first: np.ndarray, last: np.ndarray, values: np.ndarray) -> list[SuspiciousRun]:
    return [
        SuspiciousRun(kind=kind, first=i, last=j, value_m3s=float(values[i]))
        for i, j in zip(first.tolist(), last.tolist(), strict=True)
    ]


def _runs(bordered: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where runs of True begin and the position just behind them, for a mask that begins and ends with False."""
    edges = np.flatnonzero(bordered[1:] != bordered[:-1])
    return edges[::2], edges[1::2]


def _span(stamps: np.ndarray, run: SuspiciousRun) -> str:
    one, two = (str(stamps[i].astype("datetime64[D]")) for i in (run.first, run.last))
    return one if one == two else f"{one} to {two}"
