"""The ratio of two periods' counts as a product of factors, and their difference as a sum of animals.

Counts are taken per visit planned: a visit that met a dry surface was planned and could count nothing. For any choice
of parts that are taken from the judged period while the rest stays as in the baseline there is an expected count: every
outlet's visits of the one period are met with its visits of the other, each with each. A part's factor is the mean,
over all orders in which the parts can be exchanged, of the ratio that its exchange makes (on the log scale: Shapley's
value); its animals are the same mean of the difference that it makes. Neither depends on an order; the factors multiply
to the observed ratio and the animals add to the observed difference exactly. With one visit in each period the log
factor is slope times change.

Source: Shapley 1953, Annals of Mathematics Studies 28:307–317 (the value); its use for splitting a change into factors:
Ang, Liu and Chew 2003, Energy Policy 31:1561–1566.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ecology.not_estimable import NotEstimable

#: The parts a ratio is split into, in the order in which they are shown.
PARTS = ("effort", "flow", "season", "surface dry", "outlet", "unexplained")
_BY_VISIT = PARTS[:4]
_EXPLAINED = PARTS[:5]


@dataclass(frozen=True, eq=False, kw_only=True)
class PeriodVisits:
    """The planned visits of one period.

    outlet     label of every planned visit; `counted` says which of them counted (the others met a dry surface)
    log_parts  draws × counted visits × 4: ln of what effort, flow, season and the recovery after a dry spell give
    total      animals counted
    """

    outlet: np.ndarray
    counted: np.ndarray
    log_parts: np.ndarray
    total: float


@dataclass(frozen=True, eq=False, kw_only=True)
class DropFactors:
    """`factors` and `animals` by part (draws × 6, in the order of PARTS).

    `ratio` is observed ÷ baseline, each per visit planned; `difference` the animals that the judged period's visits
    brought more than as many visits of the baseline.
    """

    factors: np.ndarray
    animals: np.ndarray
    ratio: float
    difference: float


def part_of(term: str) -> str | None:
    """The part that a term of the count design belongs to; None for the intercept."""
    if term == "intercept":
        return None
    for start, part in (
        ("log_discharge_", "flow"),
        ("season", "season"),
        ("log_days_since_restart", "surface dry"),
        ("dry_days_before", "surface dry"),
        ("outlet[", "outlet"),
    ):
        if term.startswith(start):
            return part
    raise ValueError(f"no part of a drop is known for the term {term!r}")


def split_drop(baseline: PeriodVisits, judged: PeriodVisits, level: dict[str, np.ndarray]) -> DropFactors:
    """Split observed ÷ baseline into the factors of PARTS.

    level  by outlet label, one value a draw: ln of what the outlet gives, up to a constant common to all outlets

    Raises NotEstimable where a period has no counted visit or the baseline counted no animal.
    """
    for period, name in ((baseline, "baseline"), (judged, "period judged")):
        if not period.counted.any():
            raise NotEstimable(f"No visit of the {name} counted.")
    if baseline.total <= 0:
        raise NotEstimable("The baseline counted no animals: nothing can be compared with it as a ratio.")
    outlets = sorted(set(baseline.outlet.tolist()) | set(judged.outlet.tolist()))
    lines = _Lines(baseline, judged, outlets, np.column_stack([level[o] for o in outlets]))
    subsets = [frozenset(c) for r in range(6) for c in combinations(_EXPLAINED, r)]
    expected = {s: lines.expected(s, pooled=False) for s in subsets}
    if any(np.any(v <= 0.0) for v in expected.values()):
        # An outlet that only one period knows, dry in the other: shares by outlet leave nothing to multiply.
        expected = {s: lines.expected(s, pooled=True) for s in subsets}
    whole = frozenset(_EXPLAINED)
    before = baseline.total / len(baseline.outlet) / expected[frozenset()]
    after = judged.total / len(judged.outlet) / expected[whole]
    logs = {s: np.log(v) for s, v in expected.items()}
    factors = [np.exp(_shapley(logs, part, _EXPLAINED)) for part in _EXPLAINED]
    factors.append(after / before)
    counts = {s: v * before for s, v in expected.items()}
    counts |= {s | {"unexplained"}: v * after for s, v in expected.items()}
    planned = len(judged.outlet)
    return DropFactors(
        factors=np.column_stack(factors),
        animals=planned * np.column_stack([_shapley(counts, part, PARTS) for part in PARTS]),
        ratio=(judged.total / planned) / (baseline.total / len(baseline.outlet)),
        difference=judged.total - planned * baseline.total / len(baseline.outlet),
    )


def _shapley(value: dict[frozenset[str], np.ndarray], part: str, parts: tuple[str, ...]) -> np.ndarray:
    """Mean change that `part` makes, over all orders of `parts`."""
    n = len(parts)
    others = [p for p in parts if p != part]
    out = np.zeros_like(next(iter(value.values())))
    for r in range(n):
        weight = 1.0 / (n * math.comb(n - 1, r))
        for chosen in combinations(others, r):
            s = frozenset(chosen)
            out = out + weight * (value[s | {part}] - value[s])
    return out


class _Lines:
    """Shares and mean products by outlet of both periods."""

    def __init__(self, baseline: PeriodVisits, judged: PeriodVisits, outlets: list[str], level: np.ndarray) -> None:
        self.level = np.exp(level - level.mean(axis=1, keepdims=True))
        self.periods = (baseline, judged)
        self.at = [[p.outlet == o for o in outlets] for p in self.periods]
        self.mix = [np.array([np.mean(at) for at in by]) for by in self.at]
        open_ = [
            [float(np.mean(p.counted[at])) if at.any() else math.nan for at in by]
            for p, by in zip(self.periods, self.at, strict=True)
        ]
        # An outlet that a period did not plan for is as open there as in the other period: no change by dryness.
        self.open = [np.where(np.isnan(a), b, a) for a, b in (open_, open_[::-1])]
        self.pooled = [float(np.mean(p.counted)) for p in self.periods]
        self.products: list[dict[frozenset[str], np.ndarray]] = [{}, {}]

    def expected(self, from_judged: frozenset[str], *, pooled: bool) -> np.ndarray:
        """Expected count per planned visit, one a draw, up to a constant common to all choices."""
        mix = self.mix["outlet" in from_judged]
        dry = "surface dry" in from_judged
        share = np.full(len(mix), self.pooled[dry]) if pooled else self.open[dry]
        taken = frozenset(p for p in _BY_VISIT if p in from_judged)
        kept = frozenset(_BY_VISIT) - taken
        by_outlet = self.level * self._product(1, taken) * self._product(0, kept)
        return np.asarray((by_outlet * (mix * share)).sum(axis=1))

    def _product(self, which: int, parts: frozenset[str]) -> np.ndarray:
        """Mean product of parts over an outlet's counted visits (draws × outlets); over all visits if it has none."""
        if parts not in self.products[which]:
            p = self.periods[which]
            columns = [_BY_VISIT.index(part) for part in sorted(parts)]
            value = np.exp(p.log_parts[:, :, columns].sum(axis=2))
            every = value.mean(axis=1)
            by = [at[p.counted] for at in self.at[which]]
            means = [value[:, at].mean(axis=1) if at.any() else every for at in by]
            self.products[which][parts] = np.column_stack(means)
        return self.products[which][parts]
