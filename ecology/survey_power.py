"""The chance that planned visits show a decline: by simulation from a fitted count model, and by a closed formula.

Design: so many flow cycles before and after, so many visits in each. Counts are negative binomial around the fitted
expectation of a visit, times a factor that all visits of a cycle share, times the decline in the later cycles. Each
simulated set is judged as the regression of counts on a period would judge it, with intervals that allow for cycles:
the log ratio of the periods over its cluster-robust error with the CR2 correction, against a t distribution with
Welch's degrees of freedom (two groups of whole clusters: the Satterthwaite degrees of Bell and McCaffrey). A decline
counts as shown when the two-sided test at the level asked rejects, and the later counts are the lower ones.

Sources: Bell and McCaffrey 2002, Survey Methodology 28:169–181 (CR2); Welch 1947, Biometrika 34:28–35. The formula is
the normal approximation with variance Σ(1 ÷ (n·μ) + α ÷ n + ω ÷ cycles), which knows no estimated variance and no
skewness: an upper bound in practice. With ω = 0 it is the usual power of a rate ratio of two negative binomial samples.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from scipy.special import betaincinv, stdtrit

from ecology.cycle_variation import CycleVariation

#: Simulated sets at each number of visits.
SETS = 2000
#: Half an animal stands for none, so that a logarithm exists; the relative variance of a Poisson total that small.
_NONE_FOUND, _NONE_FOUND_VARIANCE = 0.5, 2.0


@dataclass(frozen=True, eq=False, kw_only=True)
class CountSurvey:
    """What a visit is expected to count before a decline, and how counts vary.

    expected     expected counts, one for each visit of the record that planned visits may be like (drawn at random);
                 one value where all are alike
    visit_alpha  negative binomial dispersion of visits within a cycle, 0 = Poisson
    between      relative variance of cycles (ω)
    """

    expected: np.ndarray
    visit_alpha: float
    between: float

    def __post_init__(self) -> None:
        expected = np.array(self.expected, dtype=float)
        if expected.ndim != 1 or not expected.size or not np.all(np.isfinite(expected) & (expected > 0.0)):
            raise ValueError("expected counts are one list of numbers above 0")
        if not (self.visit_alpha >= 0.0 and self.between >= 0.0):
            raise ValueError(f"variation is 0 or more, not {self.visit_alpha} and {self.between}")
        object.__setattr__(self, "expected", expected)

    @classmethod
    def of(cls, expected: np.ndarray, variation: CycleVariation) -> CountSurvey:
        return cls(expected=expected, visit_alpha=variation.visit_alpha, between=variation.between)

    @property
    def mean(self) -> float:
        return float(self.expected.mean())


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """Cycles before and after, and the share by which the later counts are lower (0 ≤ decline < 1)."""

    cycles_before: int
    cycles_after: int
    decline: float

    def __post_init__(self) -> None:
        if min(self.cycles_before, self.cycles_after) < 2:
            raise ValueError("a comparison needs two cycles or more on each side")
        if not 0.0 <= self.decline < 1.0:
            raise ValueError(f"a decline is 0 or more and below 1, not {self.decline}")


@dataclass(frozen=True, kw_only=True)
class Power:
    """Share of `sets` simulated sets that show the decline, with its exact Monte Carlo interval at 95 %."""

    visits: int
    value: float
    low: float
    high: float
    sets: int


def simulated_power(
    survey: CountSurvey, design: Comparison, visits: int, *, level: float = 0.95, sets: int = SETS, seed: int = 1
) -> Power:
    """Power with `visits` visits in each cycle.

    Every number of visits has random numbers of its own, so that an answer does not depend on what was asked before.
    """
    if visits < 1 or sets < 1:
        raise ValueError(f"visits and sets are 1 or more, not {visits} and {sets}")
    rng = np.random.default_rng((seed, visits))
    before = _period(survey, rng, sets, design.cycles_before, visits, 1.0)
    after = _period(survey, rng, sets, design.cycles_after, visits, 1.0 - design.decline)
    shown = int(_shows(before, after, level).sum())
    low, high = exact_share(shown, sets)
    return Power(visits=visits, value=shown / sets, low=low, high=high, sets=sets)


@dataclass(frozen=True, eq=False, kw_only=True)
class PeriodRate:
    """Per set: log rate against the expected counts, variance of it, and its degrees of freedom."""

    log_rate: np.ndarray
    variance: np.ndarray
    freedom: int


def _period(
    survey: CountSurvey, rng: np.random.Generator, sets: int, cycles: int, visits: int, factor: float
) -> PeriodRate:
    shape = (sets, cycles, visits)
    if survey.expected.size == 1:
        expected = np.full(shape, survey.expected[0])
    else:
        expected = survey.expected[rng.integers(survey.expected.size, size=shape)]
    mean = expected * factor
    if survey.between > 0.0:
        spread = math.sqrt(math.log1p(survey.between))
        mean *= np.exp(spread * rng.standard_normal((sets, cycles, 1)) - 0.5 * spread**2)
    if survey.visit_alpha > 0.0:
        mean *= survey.visit_alpha * rng.standard_gamma(1.0 / survey.visit_alpha, shape)
    return judged(rng.poisson(mean), expected, survey.visit_alpha)


def judged(count: np.ndarray, expected: np.ndarray, alpha: float) -> PeriodRate:
    """Log ratio of counts to their expectation and its CR2 variance; arrays are sets × cycles × visits.

    Weights are those of a negative binomial fit, 1 ÷ (1 + α·expected); with equal expectations the ratio is the
    maximum likelihood estimate whatever α.
    """
    weight = 1.0 / (1.0 + alpha * expected)
    seen, wanted = (weight * count).sum(axis=2), (weight * expected).sum(axis=2)
    total, base = seen.sum(axis=1), wanted.sum(axis=1)
    none = total == 0.0
    rate = np.where(none, _NONE_FOUND / expected.sum(axis=(1, 2)), total / base)
    residual = seen - rate[:, None] * wanted
    leverage = wanted / base[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = (residual**2 / (1.0 - leverage)).sum(axis=1) / total**2
    return PeriodRate(
        log_rate=np.log(rate), variance=np.where(none, _NONE_FOUND_VARIANCE, variance), freedom=count.shape[1] - 1
    )


def _shows(before: PeriodRate, after: PeriodRate, level: float) -> np.ndarray:
    """Whether each set shows a decline."""
    variance = before.variance + after.variance
    with np.errstate(divide="ignore", invalid="ignore"):
        freedom = variance**2 / (before.variance**2 / before.freedom + after.variance**2 / after.freedom)
        t = (after.log_rate - before.log_rate) / np.sqrt(variance)
    # Without any scatter the smaller side's degrees stand in; a difference is then shown whatever they are.
    freedom = np.where(np.isfinite(freedom), freedom, min(before.freedom, after.freedom))
    return t < -stdtrit(freedom, 0.5 * (1.0 + level))


def exact_share(k: int, n: int, level: float = 0.95) -> tuple[float, float]:
    """Exact binomial interval of a share (Clopper and Pearson 1934, Biometrika 26:404–413)."""
    tail = 0.5 * (1.0 - level)
    low = 0.0 if k == 0 else float(betaincinv(k, n - k + 1, tail))
    high = 1.0 if k == n else float(betaincinv(k + 1, n - k, 1.0 - tail))
    return low, high


def log_ratio_variance(survey: CountSurvey, design: Comparison, visits: float, ratio: float) -> float:
    """Variance of the log ratio of the periods; `visits` a cycle (may be infinite), `ratio` of the later counts."""
    found = 0.0
    for cycles, times in ((design.cycles_before, 1.0), (design.cycles_after, ratio)):
        n = cycles * visits
        # Within a cycle α acts on top of the cycle's factor, whose square has the mean 1 + ω.
        within = 1.0 / (survey.mean * times) + survey.visit_alpha * (1.0 + survey.between)
        found += within / n + survey.between / cycles
    return found


def formula_power(survey: CountSurvey, design: Comparison, visits: float, *, level: float = 0.95) -> float:
    """Power by the normal approximation, an upper bound in practice; `visits` in each cycle, may be infinite."""
    ratio = 1.0 - design.decline
    variance = log_ratio_variance(survey, design, visits, ratio)
    if variance == 0.0:
        return 1.0 if design.decline > 0.0 else 0.5 * (1.0 - level)
    normal = NormalDist()
    return normal.cdf(-math.log(ratio) / math.sqrt(variance) - normal.inv_cdf(0.5 * (1.0 + level)))


def detectable_decline(
    survey: CountSurvey, design: Comparison, visits: float, *, power: float = 0.8, level: float = 0.95
) -> float:
    """The decline that would be shown with chance `power`, by the formula with t in place of normal quantiles.

    The variance is that of two periods without a decline. About right, on the hopeful side of the simulation.
    """
    freedom = design.cycles_before + design.cycles_after - 2
    reach = float(stdtrit(freedom, 0.5 * (1.0 + level)) + stdtrit(freedom, power))
    return 1.0 - math.exp(-reach * math.sqrt(log_ratio_variance(survey, design, visits, 1.0)))
