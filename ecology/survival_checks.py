"""Whether the assumptions of the survival estimate hold: tests on what animals do after they were met.

The tables are those of the goodness-of-fit tests of Pollock, Hines and Nichols 1985 (Biometrics 41:399–410) for
release and recapture data; they are sparse here, so that each set is drawn together over outlets and occasions as
Mantel and Haenszel 1959 (J Natl Cancer Inst 22:719–748) do, which asks for a difference in one direction.

Animals that differ in how easily they are met show in both at once: those met for the first time are met again less
often (among those known before there are more of the easy ones), and those met on an occasion more often on the next.
Their two deviates, nearly independent, are joined as in Stouffer and others 1949, The American Soldier 1 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from ecology.encounters import Encounters

TRANSIENTS, TRAP_ANSWER = "animals met for the first time", "being met on the occasion before"
DIFFERENCES = "differences between animals in how easily they are met"
#: Below this variance the tables say nothing.
_LEAST_VARIANCE = 1.0
_LIMIT = 0.05


@dataclass(frozen=True, kw_only=True)
class SurvivalCheck:
    """A check. `z` > 0: the first group is met again more often (of `DIFFERENCES`: as animals that differ would have
    it; its p is one-sided); `passed` None where the data are too few."""

    name: str
    passed: bool | None
    z: float | None
    p: float | None
    tables: int


def check_survival(found: Encounters, asked: np.ndarray | None = None) -> tuple[SurvivalCheck, ...]:
    """`TRANSIENTS`: animals met for the first time are met again as often as those known before. `TRAP_ANSWER`: of
    animals known to be alive over an occasion, those met on it are met on the next one as often as those that were
    not. `DIFFERENCES`: both together, in the directions that animals give which differ in how easily they are met; it
    fails only where both point that way."""
    m = found.meetings
    animal, occasion, outlet = (m[c].to_numpy(np.int64) for c in ("animal", "occasion", "outlet"))
    n, k = len(m), found.n_occasions
    first = np.ones(n, bool)
    first[1:] = animal[1:] != animal[:-1]
    again = np.append(~first[1:], False) if n else first
    stratum = outlet * k + occasion
    part = np.ones(len(found.outlets), bool) if asked is None else asked
    of = part[outlet]
    transients = _mantel_haenszel(stratum[of], first[of], again[of], len(found.outlets) * k)
    # A gap from i to j: known alive over i+1 … j-1 and not met there; met on the occasion after only if j is next.
    start, end, where = occasion[again], occasion[np.flatnonzero(again) + 1], outlet[again]
    lengths = np.maximum(end - start - 1, 0)
    offset = np.arange(lengths.sum()) - np.repeat(np.cumsum(lengths) - lengths, lengths)
    missed_at = np.repeat(start + 1, lengths) + offset
    at = np.concatenate((start, missed_at))
    met = np.concatenate((np.ones(len(start), bool), np.zeros(len(missed_at), bool)))
    next_met = np.concatenate((end == start + 1, missed_at + 1 == np.repeat(end, lengths)))
    place = np.concatenate((where, np.repeat(where, lengths)))
    of = part[place]
    answer = _mantel_haenszel((place * k + at)[of], met[of], next_met[of], len(found.outlets) * k)
    new, met_before = _check(TRANSIENTS, *transients), _check(TRAP_ANSWER, *answer)
    return new, met_before, _differences(new, met_before)


def _mantel_haenszel(stratum: np.ndarray, group: np.ndarray, event: np.ndarray, size: int) -> tuple[float, float, int]:
    """Sum over strata of observed minus expected events in the group, its variance, and the number of tables used."""

    def count(which: np.ndarray) -> np.ndarray:
        return np.bincount(stratum, weights=which.astype(np.float64), minlength=size)

    total, in_group, events = count(np.ones_like(group)), count(group), count(event)
    both = count(group & event)
    with np.errstate(divide="ignore", invalid="ignore"):
        expected = in_group * events / total
        variance = expected * (total - in_group) * (total - events) / (total * (total - 1))
    used = (total > 1) & (variance > 0)
    return float((both - expected)[used].sum()), float(variance[used].sum()), int(used.sum())


def _check(name: str, difference: float, variance: float, tables: int) -> SurvivalCheck:
    if variance < _LEAST_VARIANCE:
        return SurvivalCheck(name=name, passed=None, z=None, p=None, tables=tables)
    z = difference / variance**0.5
    p = 2.0 * NormalDist().cdf(-abs(z))
    return SurvivalCheck(name=name, passed=p >= _LIMIT, z=z, p=p, tables=tables)


def _differences(new: SurvivalCheck, met_before: SurvivalCheck) -> SurvivalCheck:
    tables = new.tables + met_before.tables
    if new.z is None or met_before.z is None:
        return SurvivalCheck(name=DIFFERENCES, passed=None, z=None, p=None, tables=tables)
    z = (met_before.z - new.z) / 2.0**0.5
    p = NormalDist().cdf(-z)
    both = new.z < 0.0 < met_before.z
    return SurvivalCheck(name=DIFFERENCES, passed=p >= _LIMIT or not both, z=z, p=p, tables=tables)
