"""Choosing one alert level by what people need of it, and choosing it without the year that will judge it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydro.state_runs import Floats, Ints

LEAD_DAYS, HIT_RATE, HORIZON_DAYS = 14, 0.9, 90
#: A level for which so small a share of the stops can be judged is not chosen.
LEAST_SHARE_JUDGED = 0.5


@dataclass(frozen=True, kw_only=True)
class AlertNeeds:
    """What an alert is needed for.

    lead_days      days between alert and stop that are needed [days]
    hit_rate       share of stops that must be announced in time, above 0 and up to 1
    miss_cost      what a stop that is not announced in time costs, in false alerts; None = choose by hit rate
    horizon_days   an alert longer before the stop than this announces nothing [days]

    Raises ValueError where one is out of range.
    """

    lead_days: int = LEAD_DAYS
    hit_rate: float = HIT_RATE
    miss_cost: float | None = None
    horizon_days: int = HORIZON_DAYS

    def __post_init__(self) -> None:
        if self.lead_days < 1 or self.horizon_days < self.lead_days:
            raise ValueError("lead_days is at least 1, horizon_days at least lead_days")
        if not 0 < self.hit_rate <= 1:
            raise ValueError("hit_rate lies above 0 and is at most 1")
        if self.miss_cost is not None and not 0 < self.miss_cost < np.inf:
            raise ValueError("miss_cost lies above 0")

    @property
    def cost_over_loss(self) -> float | None:
        """The ratio C/L of the cost-loss situation.

        Acting costs C, and saves L where the event comes: a false alert costs C, a miss L - C, so that with a miss
        worth k false alerts C/L = 1 / (1 + k).
        """
        return None if self.miss_cost is None else 1.0 / (1.0 + self.miss_cost)


@dataclass(frozen=True, eq=False, kw_only=True)
class Sums:
    """Counts one a candidate, the rarest alerts first."""

    hits: Ints
    late: Ints
    misses: Ints
    not_judged: Ints
    false_alerts: Ints


@dataclass(frozen=True, eq=False, kw_only=True)
class ByYear:
    """Counts by candidate (rows) and calendar year (columns); `known_years` is the known part of each year."""

    year: Ints
    hits: Ints
    late: Ints
    misses: Ints
    not_judged: Ints
    too_soon: Ints
    too_early: Ints
    carried: Ints
    false_alerts: Ints
    open_alerts: Ints
    followed: Ints
    known_years: Floats

    _COUNTS = (
        "hits", "late", "misses", "not_judged", "too_soon", "too_early", "carried", "false_alerts", "open_alerts",
        "followed",
    )  # fmt: skip

    def total(self, candidate: int) -> dict[str, int]:
        """All years of one candidate."""
        return {name: int(getattr(self, name)[candidate].sum()) for name in self._COUNTS}

    def picked(self, candidates: Ints, years: Ints) -> dict[str, int]:
        """Pairs of candidate and column of the year, added up."""
        return {name: int(getattr(self, name)[candidates, years].sum()) for name in self._COUNTS}

    def sums(self, years: np.ndarray | None = None) -> Sums:
        """Counts over the years chosen by a mask (default: all)."""
        which = slice(None) if years is None else years
        return Sums(
            hits=self.hits[:, which].sum(axis=1),
            late=self.late[:, which].sum(axis=1),
            misses=self.misses[:, which].sum(axis=1),
            not_judged=self.not_judged[:, which].sum(axis=1),
            false_alerts=self.false_alerts[:, which].sum(axis=1),
        )


def choose(sums: Sums, needs: AlertNeeds) -> int | None:
    """The candidate that serves the needs best; None where no stop was judged.

    By hit rate: of those that reach it the one with the fewest false alerts; where none does, the one that comes
    nearest. By cost: the least sum of misses (late ones included) times their cost and false alerts. Ties go to the
    higher hit rate, then to the rarer alerts.
    """
    judged = sums.hits + sums.late + sums.misses
    stops = judged + sums.not_judged
    usable = (judged > 0) & (judged >= LEAST_SHARE_JUDGED * stops)
    if not usable.any():
        return None
    rate = np.where(usable, sums.hits / np.maximum(judged, 1), -1.0)
    order = np.arange(len(rate))
    if needs.miss_cost is not None:
        # Stops that were not judged are taken to have gone as those that were.
        missed = (1.0 - rate) * stops
        cost = np.where(usable, needs.miss_cost * missed + sums.false_alerts, np.inf)
        return int(np.lexsort((order, -rate, np.round(cost, 9)))[0])
    enough = usable & (rate >= needs.hit_rate - 1e-12)
    if enough.any():
        false = np.where(enough, sums.false_alerts, np.iinfo(np.int64).max)
        return int(np.lexsort((order, -rate, false))[0])
    return int(np.lexsort((order, sums.false_alerts, -rate))[0])


def choose_by_year(counts: ByYear, needs: AlertNeeds) -> Ints:
    """For each year with known days the candidate that all other years choose; -1 where they choose none."""
    everything = counts.sums()
    out = np.full(len(counts.year), -1, dtype=np.int64)
    for y in np.flatnonzero(counts.known_years > 0):
        others = Sums(
            hits=everything.hits - counts.hits[:, y],
            late=everything.late - counts.late[:, y],
            misses=everything.misses - counts.misses[:, y],
            not_judged=everything.not_judged - counts.not_judged[:, y],
            false_alerts=everything.false_alerts - counts.false_alerts[:, y],
        )
        best = choose(others, needs)
        out[y] = -1 if best is None else best
    return out
