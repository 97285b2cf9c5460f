"""Return lags and their fits in the contract's shape."""

from __future__ import annotations

import numpy as np

from dashboard.answers.answer import interval, iso, number
from ecology.interval_fits import IntervalFit
from ecology.missed_animals import Estimate, MissedAnimalsFit

ELAPSED = "days elapsed from the start of the first running day: day d covers (d, d + 1]"


def fit_json(fit: IntervalFit | str) -> dict[str, object]:
    """One fitted shape, or the reason for its absence."""
    if isinstance(fit, str):
        return {"why": fit}
    return {
        **{name: float(value) for name, value in fit.parameters.items()},
        "log_likelihood": fit.log_likelihood,
        "aic": fit.aic,
        "median_days": interval(fit.median, fit.median_low, fit.median_high, fit.level),
    }


def corrected_json(c: MissedAnimalsFit | None, why_not: str | None) -> dict[str, object]:
    """Lags that allow for missed animals, or why there are none."""
    if c is None:
        return {"why": why_not}
    assumed = [
        {"detection": m.detection, "median_days": _estimate(m.median_days, c.level), "why": m.why}
        for m in c.medians_by_detection
    ]
    out: dict[str, object] = {
        "medians_by_detection": assumed,
        "caveats": list(c.caveats),
        "n_spells": c.n_spells,
        "n_searches": c.n_searches,
        "n_effort_unknown": c.n_effort_unknown,
        "typical_effort": number(c.typical_effort),
        "counted": ELAPSED,
    }
    if c.why is not None or c.parameters is None:
        return {"why": c.why, **out}
    return {
        "detection_per_visit": _estimate(c.detection, c.level),
        "median_days": _estimate(c.median_days, c.level),
        "fit": {
            "distribution": c.distribution,
            **c.parameters,
            "log_likelihood": c.log_likelihood,
            "aic": c.aic,
        },
        **out,
    }


def _estimate(e: Estimate | None, level: float) -> dict[str, object] | None:
    return None if e is None else interval(e.value, e.low, e.high, level)


def lag_json(row: dict) -> dict[str, object]:
    """One dry spell's lag."""
    return {
        "spell_first": iso(row["spell_first"]),
        "spell_last": iso(row["spell_last"]),
        "dry_days": None if np.isnan(row["dry_days"]) else int(row["dry_days"]),
        "restart": iso(row["restart"]),
        "restart_latest": iso(row["restart_latest"]),
        "follow_up_end": iso(row["follow_up_end"]),
        "searches": int(row["searches"]),
        "last_none_found": iso(row["last_none_found"]),
        "first_found": iso(row["first_found"]),
        "low_days": int(row["low_days"]),
        "high_days": number(row["high_days"]),
        "censoring": row["censoring"],
        "informative": bool(row["informative"]),
    }
