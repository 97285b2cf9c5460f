"""Return lags and the visits behind them in the contract's shape."""

from __future__ import annotations

import numpy as np

from dashboard.answers.answer import iso, number
from ecology.return_lag import ReturnLags


def lags_json(lags: ReturnLags) -> list[dict[str, object]]:
    """Every dry spell's lag with the visits behind it."""
    behind = lags.searches
    return [
        lag_json(row) | {"visits": [_visit(v) for v in behind[behind["spell"] == i].to_dict("records")]}
        for i, row in enumerate(lags.lags.to_dict("records"))
    ]


def _visit(row: dict) -> dict[str, object]:
    out: dict[str, object] = {"date": iso(row["date"]), "days": int(row["days"]), "pass": int(row["pass"])}
    if "expected" in row:
        out |= {"count": int(row["counted"]), "expected": float(row["expected"]), "reached_half": bool(row["count"])}
    else:
        out |= {"count": int(row["count"])}
    return out | {"effort": number(row["effort"]), "row": int(row["row"])}


def lag_json(row: dict) -> dict[str, object]:
    """One dry spell's lag."""
    return {
        "spell_first": iso(row["spell_first"]),
        "spell_last": iso(row["spell_last"]),
        "dry_days": None if np.isnan(row["dry_days"]) else int(row["dry_days"]),
        "restart": iso(row["restart"]),
        "restart_latest": iso(row["restart_latest"]),
        "restart_narrowed_by_sightings": bool(row["restart_narrowed"]),
        "follow_up_end": iso(row["follow_up_end"]),
        "searches": int(row["searches"]),
        "passes": int(row["passes"]),
        "last_none_found": iso(row["last_none_found"]),
        "first_found": iso(row["first_found"]),
        "low_days": int(row["low_days"]),
        "high_days": number(row["high_days"]),
        "censoring": row["censoring"],
        "informative": bool(row["informative"]),
    }
