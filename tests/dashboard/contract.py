"""The shape that machine answers keep, written down once, and what of an answer departs from it.

A shape is a mapping of keys that must be there (more are welcome), a list of one shape for every entry, MAY_BE_NULL
around a shape for which null has a meaning of its own, or one of the kinds below. Any other null needs a sentence under
a key that begins with “why”, beside it or further out: a number that cannot be estimated is never left out, and never
null in silence.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

NUMBER, WHOLE, TEXT, TRUTH, DAY, ANYTHING = "number", "whole", "text", "truth", "day", "anything"
INTERVAL = {"value": NUMBER, "low": NUMBER, "high": NUMBER, "level": NUMBER}
QUANTITY = {"value": NUMBER, "unit": TEXT}


@dataclass(frozen=True)
class May:
    """Null has a meaning here."""

    shape: object


def one_of(*words: str) -> frozenset[str]:
    return frozenset(words)


HEADER = {"workspace": TEXT, "as_of": DAY, "warnings": [TEXT], "method_version": TEXT}
_SPELL = {
    "first": DAY,
    "last": DAY,
    "days": WHOLE,
    "status": one_of("ended", "ongoing", "starts-in-gap", "ends-in-gap", "starts-before-record"),
    "unknown_days": WHOLE,
    "minimum": QUANTITY,
    "deficit": QUANTITY,
    "seen_dry": ANYTHING,
    "seen_running": ANYTHING,
}
_LAG = {
    "spell_last": DAY,
    "restart": DAY,
    "searches": WHOLE,
    "last_none_found": May(DAY),
    "first_found": May(DAY),
    "low_days": WHOLE,
    "high_days": May(NUMBER),
    "censoring": one_of("interval", "left", "right"),
    "dry_days": May(WHOLE),  # the spell's start or end lies in a gap
}
_EXPECTED = May({"median": May(DAY), "earliest": May(DAY), "latest": May(DAY), "level": NUMBER})
_CANDIDATE = {
    "level": QUANTITY,
    "hits": WHOLE,
    "late": WHOLE,
    "misses": WHOLE,
    "false_alerts": WHOLE,
    "hit_rate": May(NUMBER),
    "false_alarm_ratio": May(NUMBER),
    "alerts_per_year": NUMBER,
    "lead_days": {"p10": May(NUMBER), "median": May(NUMBER), "p90": May(NUMBER)},
}
_SKILL = {
    "lead": WHOLE,
    "n": WHOLE,
    "n_years": WHOLE,
    **dict.fromkeys(
        ("base_rate", "brier", "brier_climatology", "brier_conditional_climatology", "brier_persistence",
         "skill_vs_conditional_climatology", "low", "high"), May(NUMBER)
    ),
    "reliability": [{"forecast": NUMBER, "observed": NUMBER, "n": WHOLE}],
}  # fmt: skip
_PERIOD = {"count": NUMBER, "visits": WHOLE, "effort": May(NUMBER)}

SHAPES: dict[str, object] = {
    "status": {
        "outlets": [
            {
                "outlet": TEXT,
                "state": one_of("running", "dry", "unknown"),
                "probability_running": NUMBER,
                "reading": May(
                    {"date": DAY, "value": NUMBER, "unit": TEXT, "age_days": WHOLE, "provisional": May(TRUTH)}
                ),
                "last_seen": May({"date": DAY, "surface": TEXT}),
                "trip": May({"date": DAY, "probability_running": NUMBER}),
                "expected_stop": _EXPECTED,
                "expected_restart": _EXPECTED,
                "reasons": [TEXT],
            }
        ]
    },
    "spells": {
        "outlets": [
            {
                "outlet": TEXT,
                "spells": [_SPELL],
                "joined": [_SPELL],
                "summary": {
                    "dry_days": WHOLE,
                    "unknown_days": WHOLE,
                    "record_days": WHOLE,
                    "dry_days_by_year": ANYTHING,
                    "longest": May(WHOLE),
                    "median_days": May(NUMBER),
                },
            }
        ]
    },
    "threshold": {
        "outlets": [
            {
                "outlet": TEXT,
                "stop_level": INTERVAL | {"unit": TEXT},
                "bracket": {"highest_dry": May(QUANTITY), "lowest_running": May(QUANTITY), "overlap": TRUTH},
                "n_running": WHOLE,
                "n_dry": WHOLE,
                "n_pooled": WHOLE,
                "n_spells": WHOLE,
                "separated": May(TRUTH),
                "restart_level": May(INTERVAL | {"unit": TEXT}),
                "set_level": May(QUANTITY),
                "contradictions": [{"date": DAY, "surface": TEXT, "discharge": QUANTITY, "expected": TEXT}],
            }
        ]
    },
    "outlook": {
        "outlets": [
            {
                "outlet": TEXT,
                "issued": May(DAY),
                "days": [
                    {
                        "date": DAY,
                        "lead": WHOLE,
                        "probability_running": NUMBER,
                        "discharge": {"low": NUMBER, "median": NUMBER, "high": NUMBER},
                    }
                ],
                "no_recharge": {"stop_date": May(DAY)},
                "stops_by": [{"lead": WHOLE, "probability": NUMBER}],
                "skill": [_SKILL],
            }
        ]
    },
    "alert-levels": {
        "outlets": [
            {
                "outlet": TEXT,
                "needs": {"lead_days": WHOLE, "hit_rate": May(NUMBER)},
                "candidates": [_CANDIDATE],
                "recommended": _CANDIDATE | {"held_out": ANYTHING},
                "n_events": WHOLE,
                "n_years": NUMBER,
            }
        ]
    },
    "returns": {
        "outlets": [
            {
                "outlet": TEXT,
                "lags": [_LAG],
                "curve": [{"low_days": NUMBER, "high_days": May(NUMBER), "mass": NUMBER}],
                "returned_by": [{"days": NUMBER, "value": May(NUMBER), "low": NUMBER, "high": NUMBER}],
                "median_days": INTERVAL,
                "fits": {
                    "weibull": {"shape": NUMBER, "scale": NUMBER, "log_likelihood": NUMBER, "aic": NUMBER},
                    "lognormal": {"log_likelihood": NUMBER, "aic": NUMBER},
                    "loglogistic": {"log_likelihood": NUMBER, "aic": NUMBER},
                },
                "allowing_for_missed_animals": {
                    "detection_per_visit": INTERVAL,
                    "median_days": INTERVAL,
                    "fit": ANYTHING,
                },
            }
        ]
    },
    "counts": {
        "model": one_of("negative-binomial", "poisson"),
        "formula": TEXT,
        "n": WHOLE,
        "n_left_out": {"dry": WHOLE, "no effort": WHOLE, "no flow": WHOLE},
        "clusters": {"by": TEXT, "n": WHOLE},
        "terms": [{"term": TEXT, "estimate": NUMBER, "se": NUMBER, "low": NUMBER, "high": NUMBER, "p": NUMBER}],
        "alpha": INTERVAL,
        "log_likelihood": NUMBER,
        "aic": NUMBER,
        "per_doubling_of_flow": INTERVAL,
        "checks": [{"name": TEXT, "passed": May(TRUTH), "detail": TEXT}],
        "cross_validation": ANYTHING,
    },
    "explain": {
        "outlet": May(TEXT),  # all outlets together
        "observed": _PERIOD,
        "baseline": _PERIOD,
        "expected": INTERVAL,
        "tail_probability": NUMBER,
        "verdict": one_of("as expected", "lower than expected", "higher than expected", "cannot say"),
        "parts": [
            {
                "name": one_of("effort", "flow", "season", "surface dry", "outlet", "unexplained"),
                "factor": NUMBER,
            }
        ],
        "sentence": TEXT,
        "why": May(TEXT),
    },
    "individuals": {
        "n_individuals": WHOLE,
        "n_captures": WHOLE,
        "across_spells": [
            {
                "outlet": TEXT,
                "spell": {"first": DAY, "last": DAY},
                "seen_before": WHOLE,
                "seen_before_and_after": INTERVAL,
                "absences": [
                    {
                        "individual": TEXT,
                        "last_before": DAY,
                        "first_after": DAY,
                        "least_days": WHOLE,
                        "most_days": WHOLE,
                    }
                ],
            }
        ],
        "survival": {
            "apparent_per_year": INTERVAL,
            "with_dry_spell": INTERVAL,
            "without_dry_spell": INTERVAL,
            "recapture": INTERVAL,
            "minus_two_log_likelihood": NUMBER,
        },
        "abundance": [
            {"window": TEXT, "estimator": TEXT, "value": NUMBER, "low": NUMBER, "high": NUMBER, "warnings": ANYTHING}
        ],
    },
    "plan": {
        "purpose": one_of("absence", "return", "trend"),
        "inputs": ANYTHING,
        "visits_needed": NUMBER,
        "curve": [{"visits": WHOLE, "probability": NUMBER}],
        "assumptions": [TEXT],
    },
    "watch": {
        "alerts": [
            {
                "outlet": TEXT,
                "kind": TEXT,
                "since": TEXT,
                "level": May(ANYTHING),
                "discharge": May(ANYTHING),
                "sent_to": [TEXT],
                "new": TRUTH,
            }
        ]
    },
    "check": {},
}  # fmt: skip


def departures(command: str, answer: object) -> list[str]:
    """What of an answer departs from the shape of its command, as paths with what was expected there."""
    shape = SHAPES[command]
    assert isinstance(shape, dict)
    return [*_walk(answer, HEADER | shape, command, told=False)]


def _walk(found: object, shape: object, path: str, *, told: bool) -> list[str]:
    """`told` is true where a “why” stands beside or further out."""
    if isinstance(shape, May):
        return [] if found is None else _walk(found, shape.shape, path, told=told)
    if found is None:
        return [] if told else [f"{path}: null without a reason"]
    if isinstance(shape, dict):
        if not isinstance(found, dict):
            return [f"{path}: no object"]
        told = told or any(k.startswith("why") and isinstance(v, str) and v for k, v in found.items())
        wrong = [] if told else [f"{path}.{key}: left out" for key in shape if key not in found]
        for key in (k for k in shape if k in found):
            wrong += _walk(found[key], shape[key], f"{path}.{key}", told=told)
        return wrong
    if isinstance(shape, list):
        if not isinstance(found, list):
            return [f"{path}: no list"]
        return [w for i, entry in enumerate(found) for w in _walk(entry, shape[0], f"{path}[{i}]", told=told)]
    return [] if _is(found, shape) else [f"{path}: {found!r} is not {shape}"]


def _is(found: object, kind: object) -> bool:
    if isinstance(kind, frozenset):
        return found in kind
    number = isinstance(found, int | float) and not isinstance(found, bool)
    return {
        NUMBER: number,
        WHOLE: number and found == int(found),  # type: ignore[call-overload]
        TEXT: isinstance(found, str),
        TRUTH: isinstance(found, bool),
        DAY: isinstance(found, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", found) is not None,
        ANYTHING: True,
    }[str(kind)]
