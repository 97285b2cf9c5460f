"""Do animals come back sooner at one outlet than at another? Every two outlets with lags, compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import comb

import numpy as np

from dashboard.answers.outlet_returns import OutletReturns
from dashboard.workspace import Workspace
from ecology.interval_tests import TwoSampleTest, permutation_log_rank
from ecology.not_estimable import NotEstimable

#: With fewer ways to label the spells than this, even the most extreme would not be rarer than 1 in 20.
FEWEST_LABELLINGS = 20


@dataclass(frozen=True, eq=False, kw_only=True)
class OutletPair:
    """Two outlets and their test; `p_holm` allows for the number of pairs tested (Holm 1979). `test` is None where
    `why` says so. In the test the second outlet's times are shorter where z > 0."""

    outlets: tuple[str, str]
    titles: tuple[str, str]
    sizes: tuple[int, int]
    same_flow: bool
    test: TwoSampleTest | None
    p_holm: float | None = None
    why: str | None = None


def compare_outlets(workspace: Workspace, outlets: Sequence[OutletReturns], seed: int) -> tuple[OutletPair, ...]:
    """A pair for every two outlets with at least one informative lag each, in the workspace's order."""
    with_lags = [o for o in outlets if o.n_informative]
    pairs = [_pair(workspace, a, b, seed) for a, b in combinations(with_lags, 2)]
    tested = [p.test.p_permutation for p in pairs if p.test is not None]
    adjusted = iter(_holm(np.array(tested)))
    return tuple(p if p.test is None else replace(p, p_holm=float(next(adjusted))) for p in pairs)


def _pair(workspace: Workspace, a: OutletReturns, b: OutletReturns, seed: int) -> OutletPair:
    sizes = (a.n_informative, b.n_informative)
    test, why = None, None
    ways = comb(sum(sizes), sizes[0])
    if ways < FEWEST_LABELLINGS:
        why = (
            f"with {sizes[0]} and {sizes[1]} spells there are {ways} ways to label them, too few for any difference to "
            "be told from chance"
        )
    elif a.lags is not None and b.lags is not None:
        (low_a, high_a), (low_b, high_b) = a.lags.intervals(), b.lags.intervals()
        low, high = np.concatenate((low_a, low_b)), np.concatenate((high_a, high_b))
        try:
            test = permutation_log_rank(low, high, np.repeat([0, 1], sizes), seed=seed)
        except NotEstimable as error:
            why = error.reason.rstrip(".")
    return OutletPair(
        outlets=(a.outlet, b.outlet),
        titles=(a.title, b.title),
        sizes=sizes,
        same_flow=workspace.outlets[a.outlet].flow == workspace.outlets[b.outlet].flow,
        test=test,
        why=why,
    )


def _holm(p: np.ndarray) -> np.ndarray:
    """p values allowing for their number: Holm 1979, Scandinavian Journal of Statistics 6:65–70."""
    order = np.argsort(p, kind="stable")
    stepped = np.maximum.accumulate((p.size - np.arange(p.size)) * p[order])
    out = np.empty(p.size)
    out[order] = np.minimum(stepped, 1.0)
    return out
