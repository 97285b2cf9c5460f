"""Return lags and their fits in the contract's shape."""

from __future__ import annotations

import numpy as np

from dashboard.answers.answer import interval, number
from dashboard.answers.between_outlets import OutletPair
from dashboard.answers.half_recovery import HalfRecovery
from dashboard.answers.lag_json import lags_json
from dashboard.answers.outlet_returns import OutletReturns
from ecology.interval_fits import IntervalFit
from ecology.missed_animals import Estimate, MissedAnimalsFit
from ecology.return_effects import LengthEffect, ReturnEffects

ELAPSED = "days elapsed from the start of the first running day: day d covers (d, d + 1]"


def outlet_json(o: OutletReturns, level: float) -> dict[str, object]:
    """Everything about one outlet."""
    out: dict[str, object] = {"outlet": o.outlet, "title": o.title}
    if o.lags is None:
        return out | {"lags": None, "why": o.why}
    return out | {
        "lags": lags_json(o.lags),
        "still_dry": o.lags.still_dry,
        "ended_unseen": o.lags.unseen,
        "end_unknown": o.lags.end_unknown,
        "n_informative": o.n_informative,
        "n_not_told": o.n_not_told,
        "days_with_passes": o.days_with_passes,
        "curve": _curve(o),
        "returned_by": _returned_by(o),
        "median_days": _median(o, level),
        "why_no_curve": o.why_no_curve,
        "fits": {name: fit_json(fit) for name, fit in o.fits.items()},
        "fits_count": ELAPSED,
        "never_returned": _never(o, level),
        "effects": effects_json(o.effects, o.why_no_curve),
        "allowing_for_missed_animals": corrected_json(o.corrected, o.why_not_corrected),
        "half_of_expected_count": None if o.half is None else half_json(o.half, level),
        "by_animals": [
            {
                "animals": a.animals,
                "n_spells": a.n_spells,
                "n_found": a.n_found,
                "median_between": None if a.median_between is None else list(a.median_between),
            }
            for a in o.by_animals
        ],
    }


def _curve(o: OutletReturns) -> list[dict[str, object]] | None:
    if o.curve is None:
        return None
    steps = zip(o.curve.low, o.curve.high, o.curve.mass, strict=True)
    return [{"low_days": max(number(a) or 0.0, 0.0), "high_days": number(b), "mass": float(m)} for a, b, m in steps]


def _returned_by(o: OutletReturns) -> list[dict[str, object]] | None:
    b = o.bands
    if b is None:
        return None
    found = []
    for i, day in enumerate(b.days.tolist()):
        least, most = float(b.by_low[i]), float(b.by_high[i])
        exact = most - least < 1e-9
        entry: dict[str, object] = {
            "days": int(day),
            "value": most if exact else None,
            "least": least,
            "most": most,
        }
        entry |= {"low": float(o.returned_low[i]), "high": float(o.returned_high[i]), "level": b.level}
        if not exact:
            entry["why"] = "between visits the curve is not defined; it lies between least and most"
        found.append(entry)
    return found


def _median(o: OutletReturns, level: float) -> dict[str, object]:
    b = o.bands
    if b is None:
        return interval(None, None, None, level, o.why_no_curve)
    low, high = b.quantile_bounds
    why = None if np.isfinite(high) else "fewer than half of the spells are known to have seen animals again"
    out = interval(high, max(b.quantile_low, 0.0), b.quantile_high, level, why)
    return out | {"between": [max(low, 0.0), number(high)]}


def _never(o: OutletReturns, level: float) -> dict[str, object]:
    n = o.never
    if n is None:
        return interval(None, None, None, level, o.why_not_never)
    return interval(n.share, n.low, n.high, n.level) | {
        "until_days": n.until_days,
        "n_returned": n.n_returned,
        "n_followed": n.n_followed,
        "n_cut_short": n.n_cut_short,
    }


def effects_json(e: ReturnEffects | None, why_not: str | None) -> dict[str, object]:
    """Effects of length and season: factors on the lag."""
    if e is None:
        return {"why": why_not}

    def length(found: LengthEffect | None, why: str | None) -> dict[str, object]:
        if found is None:
            return interval(None, None, None, e.level, why)
        return interval(found.factor, found.low, found.high, e.level) | {"p": found.p}

    season = interval(None, None, None, e.level, e.why_season)
    if e.season is not None:
        season = interval(e.season.factor, e.season.low, e.season.high, e.level)
        season |= {"slowest_day_of_year": e.season.slowest_day, "p": e.season.p}
    return {
        "model": f"accelerated failure time, {e.distribution}, first finds at face value",
        "factor_per_doubling_of_dry_days": length(e.length, e.why_length),
        "factor_per_doubling_with_season_fixed": length(e.length_season_fixed, e.why_together),
        "season_longest_over_shortest": season,
        "n": e.n,
        "n_found": e.n_found,
    }


def half_json(h: HalfRecovery, level: float) -> dict[str, object]:
    """Lags until half of the expected count; `detection` there is the chance that a visit reaches half."""
    c = h.corrected
    face = None if c is None else c.medians_by_detection[0]
    fitted = c is not None and c.median_days is not None
    why = h.why if c is None else c.why
    return {
        "expected_counts_from": "count model" if h.from_model else "visits in the year before each spell",
        "why_not_count_model": h.why_not_model,
        "chance_that_a_settled_visit_reaches_half": number(h.reach),
        "lags": lags_json(h.recovery.lags),
        "n_informative": h.n_informative,
        "n_reached": h.n_reached,
        "n_days_counted": h.recovery.n_days,
        "n_too_few_expected": h.recovery.n_too_few,
        "n_nothing_expected": h.recovery.n_no_expectation,
        "median_days": _estimate(c.median_days, level) if fitted and c is not None else _nothing(level, why),
        "chance_to_reach_half_per_visit": (
            _estimate(c.detection, level) if fitted and c is not None else _nothing(level, why)
        ),
        "median_days_face_value": (
            _nothing(level, why if face is None else face.why)
            if face is None or face.median_days is None
            else _estimate(face.median_days, level)
        ),
        "counted": ELAPSED,
    }


def _nothing(level: float, why: str | None) -> dict[str, object]:
    return interval(None, None, None, level, why)


def pair_json(p: OutletPair) -> dict[str, object]:
    """The comparison of two outlets."""
    out: dict[str, object] = {"outlets": list(p.outlets), "sizes": list(p.sizes), "same_flow": p.same_flow}
    t = p.test
    if t is None:
        return out | {"z": None, "p": None, "p_holm": None, "why": p.why}
    return out | {
        "z": t.z,
        "p": t.p_permutation,
        "p_holm": p.p_holm,
        "p_normal_approximation": t.p_asymptotic,
        "permutation": t.permutation,
        "labellings": t.labellings,
        "sooner": p.outlets[1] if t.z > 0 else p.outlets[0],
    }


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
        "repeat_passes_that_missed_beside_a_first_find": c.after.missed_beside,
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
