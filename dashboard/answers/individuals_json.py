"""The machine answer of `individuals`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from dashboard.answers.answer import interval, iso, number
from dashboard.answers.individuals_survival import FIXED_REASONS, Survival, dry_rates
from ecology import survival_models as models

if TYPE_CHECKING:
    from dashboard.answers.individuals import IndividualsAnswer, IndividualsRun
    from ecology.closed_window import ClosedWindow
    from ecology.individuals import SpellCrossings
    from ecology.survival import Rate

NOT_OVER, NONE_BEFORE = "the dry spell is not over", "no animal was last seen here before it"


def answer_json(a: IndividualsAnswer) -> dict[str, object]:
    out: dict[str, object] = a.header.as_json() | {"outlets": list(a.outlets), "occasion": a.occasion}
    if a.matched is not None:
        out["matches"] = _matches(a)
    if a.run is None:
        return out | {
            "n_individuals": None, "n_captures": None, "across_spells": [], "moves": None, "survival": {"why": a.why},
            "abundance": [], "why": a.why,
        }  # fmt: skip
    out |= _run(a.run, a.level)
    if a.least_confidence is not None and a.sure is not None and a.left_out is not None:
        out["without_unsure_matches"] = {
            "least_confidence": a.least_confidence,
            "captures_left_out": len(a.left_out),
            "rows_left_out": [int(r) for r in a.left_out["row"]],
        } | _run(a.sure, a.level)
    return out


def _run(run: IndividualsRun, level: float) -> dict[str, object]:
    return {
        "n_individuals": run.n_individuals,
        "n_captures": run.n_captures,
        "across_spells": [spell for c in run.crossings for spell in _crossings(c, level)],
        "no_spells": [{"outlet": id, "why": why} for id, why in run.no_crossings.items()],
        "moves": _moves(run),
        "survival": {"why": run.why_no_survival} if run.survival is None else _survival(run.survival, level),
        "abundance": [] if run.window is None else _abundance(run.window),
        "why_no_abundance": run.why_no_window if run.window is None else run.window.why,
    }


def _crossings(c: SpellCrossings, level: float) -> list[dict[str, object]]:
    found = []
    for s in c.spells.to_dict("records"):
        absences = c.absences[c.absences["spell_first"] == s["first"]]
        found.append(
            {
                "outlet": c.outlet,
                "spell": {"first": iso(s["first"]), "last": iso(s["last"]), "days": s["days"], "status": s["status"]},
                "seen_before": s["seen_before"],
                "seen_before_and_after": _share(s, "", "seen_after", "seen_before", level),
                "seen_lately_before": s["lately"],
                "seen_lately_before_and_after": _share(s, "lately_", "lately_after", "lately", level),
                "back_here_before_the_next_spell": s["back_here"],
                "seen_elsewhere_while_dry": s["elsewhere_during"],
                "searched_after": {
                    "until": iso(s["follow_up_end"]),
                    "days_here": s["searches"],
                    "effort_here": number(s["effort"]),
                    "days_here_without_effort": s["without_effort"],
                    "days_anywhere_since": s["searches_anywhere"],
                    "effort_anywhere_since": number(s["effort_anywhere"]),
                },
                "absences": [
                    {
                        "individual": r["individual"],
                        "last_before": iso(r["last_before"]),
                        "first_after": iso(r["first_after"]),
                        "first_after_outlet": r["first_after_outlet"],
                        "least_days": int(r["least_days"]),
                        "most_days": int(r["most_days"]),
                    }
                    for r in absences.to_dict("records")
                ],
            }
        )
    return found


def _share(s: dict[str, object], prefix: str, k: str, n: str, level: float) -> dict[str, object]:
    value = s[f"{prefix}share"]
    why = None
    if pd.isna(value):
        why = NONE_BEFORE if s["over"] else NOT_OVER
    return interval(value, s[f"{prefix}low"], s[f"{prefix}high"], level, why) | {"number": s[k], "of": s[n]}


def _moves(run: IndividualsRun) -> dict[str, object]:
    m = run.moves
    return {
        "n_pairs": m.pairs,
        "n_pairs_over_dry_spell": m.pairs_over_dry_spell,
        "n_moves": len(m.moves),
        "n_moves_over_dry_spell": int(m.moves["over_dry_spell"].sum()),
        "list": [
            {
                "individual": r["individual"], "from": r["from_outlet"], "to": r["to_outlet"],
                "last_seen": iso(r["last_seen"]), "first_seen": iso(r["first_seen"]), "days": int(r["days"]),
                "over_dry_spell": bool(r["over_dry_spell"]),
            }
            for r in m.moves.to_dict("records")
        ],
    }  # fmt: skip


def rate_json(r: Rate | None, level: float, why: str) -> dict[str, object]:
    """A rate with its interval, its standard error and whether it lies at a boundary."""
    if r is None:
        return interval(None, None, None, level, why)
    return interval(r.value, r.low, r.high, level, r.why) | {
        "standard_error": number(r.standard_error),
        "at_boundary": r.boundary,
    }


def _survival(s: Survival, level: float) -> dict[str, object]:
    with_dry, without, p = dry_rates(s)
    no_dry = "no interval between occasions, or every one, holds a dry spell of its outlet"
    by_days = s.fit(models.BY_DRY_DAYS)
    running = None if by_days is None else by_days.rate(models.RUNNING)
    dry = None if by_days is None else by_days.rate(models.DRY)
    constant = s.constant
    return {
        "apparent_per_year": rate_json(constant.rates[0], level, ""),
        "with_dry_spell": rate_json(with_dry, level, no_dry),
        "without_dry_spell": rate_json(without, level, no_dry),
        "p_of_no_difference": p,
        "per_year_while_dry": rate_json(dry, level, no_dry),
        "per_year_while_running": rate_json(running, level, no_dry),
        "recapture": rate_json(constant.rates[1], level, ""),
        "minus_two_log_likelihood": constant.minus_two_log_likelihood,
        "n_occasions": s.found.n_occasions,
        "n_releases": s.counts.n_releases,
        "n_met_again": int(s.counts.met.sum()),
        "chance_fixed_at_0": {reason: s.n_fixed(reason) for reason in FIXED_REASONS},
        "models": [_record(r) for r in s.models_table().to_dict("records")],
        "rates": [_record(r) for r in s.rates_table().to_dict("records")],
        "checks": [{"name": c.name, "passed": c.passed, "z": c.z, "p": c.p, "tables": c.tables} for c in s.checks],
        "occasions": [_record(r) for r in s.occasions_table().to_dict("records")],
    }


def _abundance(w: ClosedWindow) -> list[dict[str, object]]:
    from dashboard.wording.individuals import doubt_sentence

    found: list[dict[str, object]] = []
    for e, doubts in w.estimates:
        row: dict[str, object] = {
            "window": f"{w.first:%Y-%m-%d}/{w.last:%Y-%m-%d}",
            "estimator": e.estimator,
            "value": number(e.value),
            "low": number(e.low),
            "high": number(e.high),
            "level": e.level,
            "standard_error": number(e.standard_error),
            "interval_by": e.interval_by,
            "animals_handled": w.handled,
            "samples": len(w.samples),
            "numbers": e.numbers,
            "warnings": [doubt_sentence(d) for d in doubts],
        }
        found.append(row if e.why is None else row | {"why": e.why})
    return found


def _matches(a: IndividualsAnswer) -> dict[str, object]:
    m = a.matched
    if m is None:
        return {}
    return {
        "n_names": len(m.names),
        "n_individuals": int(m.names["individual"].nunique()),
        "names": [_record(r) for r in m.names.to_dict("records")],
        "conflicts": [_record(r) for r in m.conflicts.to_dict("records")],
        "left_out_as_unsure": [int(r) for r in m.unsure["row"]],
        "not_among_captures": list(a.unknown_names),
    }


def _record(row: dict[str, object]) -> dict[str, object]:
    """A table row as plain JSON values: dates as ISO, missing numbers as null."""
    out: dict[str, object] = {}
    for key, value in row.items():
        if isinstance(value, pd.Timestamp):
            out[key] = iso(value)
        elif isinstance(value, str | bool | int):
            out[key] = value
        else:
            out[key] = number(value)
    return out
