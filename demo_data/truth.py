"""What is true in the demo, in numbers: TRUTH.json. Field crews never see such a file."""

from __future__ import annotations

import numpy as np
import pandas as pd

from demo_data import animals, outlets, visits, water
from demo_data.gauge_files import HOLES, STATIONS
from demo_data.outlets import OUTLETS, SET_LEVELS_CFS, TRUE_LEVELS_CFS, Outlet
from demo_data.visits import CFS_TO_M3S, DROP_FACTOR, DROP_FROM, DROP_OUTLET


def day(value: pd.Timestamp) -> str | None:
    """ISO date, or None for a day that never came."""
    return None if pd.isna(value) else f"{value:%Y-%m-%d}"


def level(cfs: float) -> dict[str, float]:
    """One level in both units that people ask for."""
    return {"cfs": cfs, "m3s": round(cfs * CFS_TO_M3S, 6)}


def levels() -> dict[str, dict[str, dict[str, float]]]:
    """True and set stop and restart levels of the outlets that stop."""
    return {
        name: {
            "true_stop": level(TRUE_LEVELS_CFS[name][0]),
            "true_restart": level(TRUE_LEVELS_CFS[name][1]),
            "set_stop": level(SET_LEVELS_CFS[name][0]),
            "set_restart": level(SET_LEVELS_CFS[name][1]),
        }
        for name in TRUE_LEVELS_CFS
    }


def spells(outlet: Outlet) -> list[dict[str, object]]:
    """True dry spells of one outlet, the restart after each and the true return of the animals."""
    rows: list[dict[str, object]] = []
    for spell in outlet.spells.itertuples():
        rows.append(
            {
                "first": day(spell.first),
                "last": day(spell.last),
                "days": (spell.last - spell.first).days + 1,
                "restart": day(spell.last + pd.Timedelta(days=1)),
                "drawn_lag_days": int(spell.lag_days),
                "returned": day(spell.returned),
            }
        )
    return rows


def detection(table: pd.DataFrame) -> dict[str, dict[str, float]]:
    """Mean chance of counting at least one animal on a searched visit to each outlet, animals being there."""
    out = {}
    for name in OUTLETS:
        here = table[(table["outlet"] == name) & (table["true_mean"] > 0)]
        found = 1 - (1 + visits.ALPHA * here["true_mean"]) ** (-1 / visits.ALPHA)
        early = here["days_since_return"] <= 21
        out[name] = {"all_visits": round(float(found.mean()), 4), "visits": len(here)}
        if name in TRUE_LEVELS_CFS:
            out[name]["first_three_weeks_after_return"] = round(float(found[early].mean()), 4)
            out[name]["visits_in_those_weeks"] = int(early.sum())
    return out


def state_truth(
    seed: int, spring: water.Water, places: dict[str, Outlet], table: pd.DataFrame, captures: pd.DataFrame
) -> dict[str, object]:
    """The whole truth as plain JSON values; units stand in the names or beside the numbers."""
    in_record = spring.true_system[water.FIRST_DAY :]
    error = np.log(spring.published.sum(axis=1) / in_record)
    return {
        "what": "The truth behind the invented demo; no tool may read it, tests compare with it.",
        "seed": seed,
        "first_day": day(water.FIRST_DAY),
        "last_day": day(water.LAST_DAY),
        "levels": levels(),
        "level_rule": "dry once the true combined discharge is below true_stop, running again at true_restart or more",
        "gauges": {
            "stations": STATIONS,
            "rating_error": {
                "law": "published = true x exp(e), e a first-order autoregression, one a gauge, mean 0 over the record",
                "sd_of_log": water.RATING_ERROR_SD,
                "e_folding_days": water.RATING_ERROR_DAYS,
                "within_95_percent_of_gauge_days_percent": 10,
                "combined_sd_of_log_realised": round(float(error.std()), 5),
                "combined_mean_of_log_realised": round(float(error.mean()), 5),
            },
            "recession": {
                "law": "slow reservoir: -dQ/dt = a x Q^b, Q in cfs, t in days",
                "a": water.RECESSION_FACTOR,
                "b": water.RECESSION_EXPONENT,
                "quick_e_folding_days": water.QUICK_DAYS,
                "quick_share_of_recharge": water.QUICK_SHARE,
            },
            "holes": [{"gauge": g, "first": a, "last": b, "code": c or None} for g, a, b, c in HOLES],
        },
        "return_lag": {
            "law": "Weibull, rounded to whole days, counted from the first running day (day 0), same at both outlets",
            "shape": outlets.LAG_SHAPE,
            "scale_days": round(float(outlets.LAG_SCALE_DAYS), 4),
            "median_days": outlets.LAG_MEDIAN_DAYS,
            "note": "every dry day empties the outlet; no return where it falls dry again before the lag is over",
        },
        "counts": {
            "law": "NB2: variance = mean + alpha x mean^2",
            "log_mean": "intercept[outlet] + beta x flow + season + ln(effort/60) + ln(back) + ln(drop)",
            "beta": visits.BETA,
            "flow": "mean of ln(true combined discharge in m3/s) over the 30 days d-30 ... d-1 before the visit day d",
            "alpha": visits.ALPHA,
            "intercepts": visits.INTERCEPT,
            "season": {**visits.SEASON, "angle": f"2 pi x day of year / {visits.YEAR_DAYS}"},
            "effort_unit": "person-min",
            "back": {
                "law": "1 - (1 - start) x exp(-days since the true return / e_folding_days); 0 while they are away",
                "start": visits.BACK_START,
                "e_folding_days": visits.BACK_DAYS,
                "outlets": list(TRUE_LEVELS_CFS),
            },
            "unexplained_drop": {
                "outlet": DROP_OUTLET, "from": day(DROP_FROM), "factor": DROP_FACTOR,
                "note": "not caused by flow, effort or season",
            },
        },
        "detection_per_visit": detection(table),
        "captures": {
            "individuals": captures["individual"].nunique(),
            "captures": len(captures),
            "survival_per_year": animals.SURVIVAL_PER_YEAR,
            "survival_per_year_while_outlet_has_no_animals": animals.SURVIVAL_PER_YEAR_AWAY,
            "year_days": 365.25,
            "recapture_per_visit": animals.RECAPTURE_PER_VISIT,
            "recapture_note": "lower where fewer animals of that stage were counted than drawn",
            "moves_after_dry_spell": animals.MOVES_AFTER_DRY_SPELL,
            "moves_per_year_otherwise": animals.MOVES_PER_YEAR,
        },
        "dry_spells": {name: spells(places[name]) for name in TRUE_LEVELS_CFS},
    }  # fmt: skip
