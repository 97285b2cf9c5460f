"""The answer to `explain` for programs."""

from __future__ import annotations

from dashboard.answers.answer import interval, iso, number
from dashboard.answers.explain import ExplainAnswer
from dashboard.wording import explain as words
from dashboard.wording import explain_comparison
from ecology.count_drop import DropJudgement, PeriodCount, Span


def answer_json(a: ExplainAnswer) -> dict[str, object]:
    """Everything of the answer; what could not be worked out is null beside a reason."""
    j = a.judgement
    why = a.why if j is None else j.why
    return a.header.as_json() | {
        "outlet": a.outlets[0] if len(a.outlets) == 1 else None,
        "outlets": list(a.outlets),
        "observed": _period(a, None if j is None else j.judged, a.judged),
        "baseline": _period(a, None if j is None else j.baseline, a.baseline),
        "baseline_from": a.baseline_from,
        "expected": interval(
            None if j is None else j.expected,
            None if j is None else j.low,
            None if j is None else j.high,
            a.level,
            why,
        ),
        "tail_probability": None if j is None else number(j.tail),
        "chance_of_so_few_or_fewer": None if j is None else number(j.tail_low),
        "chance_of_so_many_or_more": None if j is None else number(j.tail_high),
        "verdict": "cannot say" if j is None else j.verdict,
        "verdict_line": {
            "tail_below": round(1.0 - a.level, 12),
            "lower_below": None if j is None else number(j.line_low),
            "higher_above": None if j is None else number(j.line_high),
        },
        "parts": [] if j is None else _parts(a, j),
        "why_no_parts": a.why if j is None else j.why_no_factors,
        "ratio": None if j is None or j.split is None else j.split.ratio,
        "difference": None if j is None or j.split is None else j.split.difference,
        "sentence": words.read_aloud(a),
        "does_not_show": words.DOES_NOT_SHOW,
        "tried": {
            "n": a.tries,
            "chance_that_one_is_as_far_out": number(a.chance_among_tries()),
            "sentence": words.tried(a),
        },
        "comparison": _comparison(a),
        "model": _model(a),
        "why": why,
    }


def _period(a: ExplainAnswer, p: PeriodCount | None, span: Span) -> dict[str, object]:
    return {
        "first": iso(span[0]),
        "last": iso(span[1]),
        "count": None if p is None else p.count,
        "visits": None if p is None else p.planned,
        "counted_visits": None if p is None else p.counted,
        "dry_visits": None if p is None else p.dry,
        "effort": None if p is None else number(p.effort),
        "effort_unit": a.effort_unit,
        "count_per_visit": None if p is None else number(p.per_visit),
    }


def _parts(a: ExplainAnswer, j: DropJudgement) -> list[dict[str, object]]:
    parts: list[dict[str, object]] = []
    for row in j.factors.to_dict("records"):
        part: dict[str, object] = {
            "name": row["part"],
            "factor": number(row["factor"]),
            "low": number(row["low"]),
            "high": number(row["high"]),
            "level": a.level,
            "animals": number(row["animals"]),
        }
        parts.append(part if part["high"] is not None else part | {"why": words.NO_UPPER_LIMIT})
    return parts


def _comparison(a: ExplainAnswer) -> dict[str, object] | None:
    if a.control is None:
        return None
    c = a.contrast
    named: dict[str, object] = {"outlet": a.control, "change": iso(a.change)}
    if c is None:
        return named | {"ratio": None, "why": a.why_no_contrast}
    return named | {
        "ratio": interval(c.ratio, c.low, c.high, c.level),
        "change_in_question": interval(*c.change, c.level),
        "change_at_comparison": interval(*c.comparison, c.level),
        "visits": c.visits,
        "cycles_before": c.cycles_before,
        "cycles_after": c.cycles_after,
        "sentence": explain_comparison.comparison(a),
        "assumptions": explain_comparison.assumptions(a),
    }


def _model(a: ExplainAnswer) -> dict[str, object] | None:
    j = a.judgement
    if j is None or j.model is None or j.fit is None or a.design is None:
        return None
    return {
        "formula": a.design.formula,
        "n": j.model.n,
        "groups": j.groups,
        "groups_by": a.design.cycles_by,
        "alpha_within_cycles": number(j.model.alpha),
        "spread_between_cycles": number(j.model.spread),
        "terms": [{"term": t, "estimate": number(b)} for t, b in zip(j.fit.terms, j.model.coefficients, strict=True)],
        "visits_with_flow_outside": j.flow_outside,
    }
