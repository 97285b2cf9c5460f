"""The count regression for programs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.answers.answer import interval, iso, number

if TYPE_CHECKING:
    from dashboard.answers.counts_answer import CountsAnswer


def counts_json(a: CountsAnswer) -> dict[str, object]:
    """The whole answer; names are part of the contract."""
    d, f = a.design, a.fit
    ratio = a.per_doubling or (None, None, None)
    response, terms = a.choices.response, a.choices.terms
    return a.header.as_json() | {
        "response": {"kind": response.kind, "stage": response.stage, "taxon": response.taxon},
        "model": None if f is None else f.model,
        "formula": None if d is None else d.formula,
        "season": terms.season,
        "outlets": list(a.outlets),
        "window_days": None if d is None else d.window,
        "window_chosen": a.window_chosen,
        "n": 0 if d is None else len(d.rows),
        "n_left_out": {} if d is None else dict(d.left_out),
        "first": None if d is None or d.rows.empty else iso(d.rows["date"].min()),
        "last": None if d is None or d.rows.empty else iso(d.rows["date"].max()),
        "clusters": {
            "by": None if d is None else d.cycles_by,
            "n": None if d is None else int(d.rows["cycle"].nunique()),
            "why": a.why_not_clustered,
        },
        "standard_errors": {
            "se": "observed information, joint with alpha",
            "cluster_se": "sandwich by cluster, observed-information bread, G/(G-1) · (n-1)/(n-k); t with G-1",
        },
        "terms": [{k: (v if k == "term" else number(v)) for k, v in row.items()} for row in a.terms.to_dict("records")],
        "alpha": interval(
            None if f is None else f.alpha,
            getattr(f, "alpha_low", None),
            getattr(f, "alpha_high", None),
            a.level,
            "a binomial model has no alpha" if f is not None and f.model == "binomial" else a.why,
        ),
        "log_likelihood": None if f is None else number(f.log_likelihood),
        "aic": None if f is None else number(f.aic),
        "per_doubling_of_flow": interval(ratio[0], ratio[1], ratio[2], a.level, a.why),
        "per_doubling_is": "odds ratio" if getattr(f, "link", None) == "logit" else "rate ratio",
        "per_doubling_by_outlet": [
            {"outlet": e.outlet, **interval(e.value, e.low, e.high, a.level)} for e in a.effects
        ],
        "slopes_differ_p": number(a.slopes_p),
        "effort_exponent": _effort(a),
        "trend_beside_flow": _trend(a),
        "checks": _checks(a),
        "cross_validation": _cross_validation(a),
        "why_no_cross_validation": a.why_no_cross_validation,
        "temperature": _temperature(a),
        "notes": [] if f is None else list(f.notes),
        "why": a.why,
    }


def _checks(a: CountsAnswer) -> list[dict[str, object]]:
    from dashboard.wording.count_checks import check_sentence, what_follows

    return [
        {
            "name": c.name,
            "passed": c.passed,
            "value": number(c.value),
            "limit": number(c.limit),
            "detail": check_sentence(c, a.titles),
            "consequence": what_follows(c),
        }
        for c in a.checks
    ]


def _effort(a: CountsAnswer) -> dict[str, object]:
    e = a.effort
    if e is None:
        return interval(None, None, None, a.level, a.why_no_effort or a.why)
    return interval(e.exponent, e.low, e.high, a.level) | {"p_against_1": number(e.p), "by_cluster": e.by_cluster}


def _trend(a: CountsAnswer) -> dict[str, object]:
    if a.trend is None:
        return interval(None, None, None, a.level, a.why_no_trend or a.why)
    t = a.trend.trend
    value, low, high = (None if v != v else v for v in a.trend.percent_a_year)
    return interval(value, low, high, a.level) | {
        "is": "percent a year, over flow cycles, of what flow, effort and season leave over",
        "n_cycles": t.n,
        "s": t.s,
        "p": number(t.p),
    }


def _cross_validation(a: CountsAnswer) -> dict[str, object] | None:
    from dashboard.wording.count_windows import after_choosing

    cv = a.cross_validation
    if cv is None:
        return None
    return {
        "left_out": "one block of flow cycles at a time",
        "score": "mean log probability of the left-out counts, larger is better",
        "n": cv.n,
        "n_blocks": cv.n_blocks,
        "best_window_days": cv.best,
        "chosen": a.window_chosen,
        "windows": [
            {"window_days": int(r["window"]), **{k: number(v) for k, v in r.items() if k != "window"}}
            for r in cv.windows.to_dict("records")
        ],
        "skipped": list(cv.skipped),
        "note": after_choosing(a.window_chosen),
    }


def _temperature(a: CountsAnswer) -> dict[str, object] | None:
    if a.choices.band is None or a.outside_band is None:
        return None
    flags = [
        {"row": int(r.row), "date": iso(r.date), "outlet": r.outlet, "water_temp_c": number(r.water_temp_c)}
        for r in a.outside_band.itertuples(index=False)
    ]
    return {
        "usual_c": number(a.choices.band.usual_c),
        "limit_c": number(a.choices.band.limit_c),
        "n_measured": a.n_temperatures,
        "n_outside": len(flags),
        "visits": flags,
    }
