"""Exact limits of a share and of a rate from a count.

Clopper & Pearson 1934, Biometrika 26:404-413 (share) and Garwood 1936, Biometrika 28:437-442 (rate); cited from memory.
"""

from __future__ import annotations


def share_limits(count: int, of: int, level: float = 0.95) -> tuple[float, float]:
    """Exact limits of the chance behind `count` out of `of`; (0, 1) where there are none. Raises ValueError else."""
    if not 0 <= count <= of or not 0 < level < 1:
        raise ValueError("a count lies between 0 and the number it is out of, a level between 0 and 1")
    from scipy.special import betaincinv

    tail = (1.0 - level) / 2.0
    low = 0.0 if count == 0 else float(betaincinv(count, of - count + 1, tail))
    high = 1.0 if count == of else float(betaincinv(count + 1, of - count, 1.0 - tail))
    return low, high


def rate_limits(count: int, exposure: float, level: float = 0.95) -> tuple[float, float]:
    """Exact limits of the rate behind `count` events in `exposure` (above 0), per unit of exposure."""
    if count < 0 or not exposure > 0 or not 0 < level < 1:
        raise ValueError("a count is at least 0, exposure above 0, a level between 0 and 1")
    from scipy.special import gammaincinv

    tail = (1.0 - level) / 2.0
    low = 0.0 if count == 0 else float(gammaincinv(count, tail))
    return low / exposure, float(gammaincinv(count + 1, 1.0 - tail)) / exposure
