"""How many animals a closed window held: estimates from recaptures within it, each with its interval."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from ecology.exact_intervals import count_interval


@dataclass(frozen=True, kw_only=True)
class Abundance:
    """One estimate. `value` is None where `why` says so; `high` None: no upper limit. `numbers` are what it was made
    from."""

    estimator: str
    value: float | None
    low: float | None
    high: float | None
    standard_error: float | None
    level: float
    interval_by: str
    numbers: dict[str, float]
    why: str | None = None


def chapman(marked: int, caught: int, recaught: int, *, level: float = 0.95) -> Abundance:
    """Two samples: `marked` in the first, `caught` in the second, `recaught` of those from the first.

    Chapman 1951 (Univ. Calif. Publ. Stat. 1:131–160), variance of Seber 1970 (Biometrics 26:313–318); the interval is
    that of Sadinle 2009 (Commun Stat Simul Comput 38:1909–1924) on the logit scale, which keeps above the animals
    handled.
    """
    if recaught > min(marked, caught) or recaught < 0:
        raise ValueError("recaught animals are among the marked and among the caught")
    M, C, R = float(marked), float(caught), float(recaught)
    value = (M + 1) * (C + 1) / (R + 1) - 1
    error = math.sqrt((M + 1) * (C + 1) * (M - R) * (C - R) / ((R + 1) ** 2 * (R + 2)))
    z = NormalDist().inv_cdf(0.5 * (1 + level))
    a, b = M - R + 0.5, C - R + 0.5
    spread = math.sqrt(1 / (R + 0.5) + 1 / b + 1 / a + (R + 0.5) / (a * b))
    seen = M + C - R
    low, high = (seen - 0.5 + a * b / (R + 0.5) * math.exp(s * z * spread) for s in (-1, 1))
    return Abundance(
        estimator="chapman", value=value, low=low, high=high, standard_error=error, level=level,
        interval_by="logit (Sadinle)", numbers={"marked": M, "caught": C, "recaught": R},
    )  # fmt: skip


def schnabel(
    caught: Sequence[int], recaught: Sequence[int], at_large: Sequence[int], *, level: float = 0.95
) -> Abundance:
    """Several samples, N = ΣCM ÷ ΣR (Schnabel 1938, Am Math Mon 45:348–352), with exact Poisson limits for ΣR."""
    C, R, M = (np.asarray(v, np.float64) for v in (caught, recaught, at_large))
    cm, total = float((C * M).sum()), int(R.sum())
    low_r, high_r = count_interval(total, level)
    numbers = {"sum_cm": cm, "recaught": float(total), "with_one_added": cm / (total + 1)}
    if total == 0:
        return _no_recaptures("schnabel", level, numbers, low=cm / high_r)
    return Abundance(
        estimator="schnabel", value=cm / total, low=cm / high_r, high=cm / low_r,
        standard_error=cm / total**1.5, level=level, interval_by="exact Poisson (Garwood)", numbers=numbers,
    )  # fmt: skip


def schumacher_eschmeyer(
    caught: Sequence[int], recaught: Sequence[int], at_large: Sequence[int], *, level: float = 0.95
) -> Abundance:
    """Several samples, the regression of R ÷ C on M through the origin (Schumacher and Eschmeyer 1943, J Tenn Acad Sci
    18:228–249); the interval is for 1 ÷ N, with t on the number of samples less two."""
    from scipy.special import stdtrit

    C, R, M = (np.asarray(v, np.float64) for v in (caught, recaught, at_large))
    cm2, rm = float((C * M**2).sum()), float((R * M).sum())
    numbers = {"sum_cm2": cm2, "sum_rm": rm, "samples": float(len(C))}
    if rm == 0:
        return _no_recaptures("schumacher-eschmeyer", level, numbers)
    if len(C) < 3:
        return Abundance(
            estimator="schumacher-eschmeyer", value=cm2 / rm, low=None, high=None, standard_error=None, level=level,
            interval_by="t for 1/N", numbers=numbers, why="fewer than three samples: it has no interval",
        )  # fmt: skip
    used = C > 0
    variance = float((R[used] ** 2 / C[used]).sum() - rm**2 / cm2) / (len(C) - 2)
    error = math.sqrt(max(variance, 0.0) / cm2)
    reach = float(stdtrit(len(C) - 2, 0.5 * (1 + level))) * error
    inverse = rm / cm2
    return Abundance(
        estimator="schumacher-eschmeyer", value=cm2 / rm, low=1 / (inverse + reach),
        high=1 / (inverse - reach) if inverse > reach else None, standard_error=error * (cm2 / rm) ** 2, level=level,
        interval_by="t for 1/N", numbers=numbers,
    )  # fmt: skip


def chao_lower_bound(times_caught: Sequence[int], *, level: float = 0.95) -> Abundance:
    """A lower bound that allows animals to differ in how easily they are caught; one entry an animal, its captures.

    S + f1² ÷ 2 f2 (Chao 1987, Biometrics 43:783–791), with f1 and f2 the animals caught once and twice; f1(f1 - 1) ÷
    2(f2 + 1) in its place where none was caught twice, and beside it always. Variance: delta method on the counts of
    animals by captures. Interval: lognormal for the animals not seen.
    """
    times = np.asarray(times_caught, np.int64)
    seen, f1, f2 = len(times), int((times == 1).sum()), int((times == 2).sum())
    corrected = f1 * (f1 - 1) / (2 * (f2 + 1))
    numbers = {"animals": float(seen), "once": float(f1), "twice": float(f2), "bias_corrected": seen + corrected}
    if f2 == 0 and f1 == seen:
        why = "no animal was caught twice: the bound rests on nothing"
        return Abundance(
            estimator="chao-lower-bound", value=None, low=float(seen), high=None, standard_error=None, level=level,
            interval_by="lognormal", numbers=numbers, why=why,
        )  # fmt: skip
    if f2:
        unseen, ratio = f1**2 / (2 * f2), f1 / f2
        variance = f2 * (0.25 * ratio**4 + ratio**3 + 0.5 * ratio**2)
    else:
        unseen = corrected
        variance = f1 * (f1 - 1) / 2 + f1 * (2 * f1 - 1) ** 2 / 4 - f1**4 / (4 * (seen + corrected))
    if unseen <= 0:
        low, high, error = float(seen), float(seen), 0.0
    else:
        z = NormalDist().inv_cdf(0.5 * (1 + level))
        error = math.sqrt(max(variance, 0.0))
        factor = math.exp(z * math.sqrt(math.log1p(error**2 / unseen**2)))
        low, high = seen + unseen / factor, seen + unseen * factor
    return Abundance(
        estimator="chao-lower-bound", value=seen + unseen, low=low, high=high, standard_error=error, level=level,
        interval_by="lognormal", numbers=numbers,
    )  # fmt: skip


def _no_recaptures(estimator: str, level: float, numbers: dict[str, float], low: float | None = None) -> Abundance:
    return Abundance(
        estimator=estimator, value=None, low=low, high=None, standard_error=None, level=level,
        interval_by="exact Poisson (Garwood)" if low is not None else "t for 1/N", numbers=numbers,
        why="no animal was caught again in the window",
    )  # fmt: skip
