"""How far a published discharge may lie from the true one, and what that makes of a level.

Stated as the agencies do: 95 % of values lie within r of the truth. On the log scale sigma = ln(1 + r) / 1.96, and
P(true discharge < level | published discharge) = Phi((ln level - ln discharge) / sigma). The error is mostly
systematic within a rating period, so it is not averaged away over days. Where the level was learnt from the same
published record, a shared bias cancels and the probabilities below are too cautious.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist

#: 95 % of daily values within 10 % is what agencies call a good record (from memory).
DEFAULT_ERROR_PERCENT = 10.0
_Z95 = NormalDist().inv_cdf(0.975)


def log_sigma(error_percent: float) -> float:
    """Standard deviation of ln discharge for a 95 % error of `error_percent` (> 0) [%]."""
    if not error_percent > 0:
        raise ValueError("an error is above 0 %")
    return math.log1p(error_percent / 100.0) / _Z95


def combined_error_percent(discharges: Sequence[float], errors_percent: Sequence[float]) -> float:
    """95 % error of a sum [%] whose members err independently, from their discharges (>= 0) and errors [%].

    With a shared rating or sensor the members err together and the true figure is larger (up to the discharge
    weighted mean of the errors). A sum of zero has no relative error: the largest member error is returned.
    """
    total = sum(discharges)
    if total <= 0:
        return max(errors_percent)
    return math.sqrt(sum((q * r) ** 2 for q, r in zip(discharges, errors_percent, strict=True))) / total


def probability_below(level: float, discharge: float, error_percent: float) -> float:
    """P(true discharge < level) for a published `discharge` in the unit of `level` (> 0).

    A published zero or negative discharge is below every level for certain, as far as this error model goes.
    """
    if level <= 0:
        return 0.0
    if discharge <= 0:
        return 1.0
    return NormalDist().cdf((math.log(level) - math.log(discharge)) / log_sigma(error_percent))
