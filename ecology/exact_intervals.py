"""Exact intervals of a share and of a Poisson count: they cover at least as often as they say, however few the data."""

from __future__ import annotations

from scipy.special import betaincinv, gammaincinv


def share_interval(number: int, of: int, level: float = 0.95) -> tuple[float, float]:
    """(low, high) of the share behind `number` out of `of` (Clopper and Pearson 1934, Biometrika 26:404–413).

    (0, 1) where `of` is 0: nothing is known.
    """
    if not 0 <= number <= of:
        raise ValueError("a number lies between 0 and the number that it is out of")
    tail = 0.5 * (1.0 - level)
    low = 0.0 if number == 0 else float(betaincinv(number, of - number + 1, tail))
    high = 1.0 if number == of else float(betaincinv(number + 1, of - number, 1.0 - tail))
    return low, high


def count_interval(number: int, level: float = 0.95) -> tuple[float, float]:
    """(low, high) of the mean behind a Poisson count (Garwood 1936, Biometrika 28:437–442)."""
    if number < 0:
        raise ValueError("a count is not below 0")
    tail = 0.5 * (1.0 - level)
    low = 0.0 if number == 0 else float(gammaincinv(number, tail))
    return low, float(gammaincinv(number + 1, 1.0 - tail))
