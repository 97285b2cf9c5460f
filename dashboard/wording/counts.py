"""Sentences about counts and flow."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from dashboard.wording import cautions
from dashboard.wording.check_labels import term_name
from dashboard.wording.count_checks import check_line, check_name, check_sentence, tally, terms_in_words
from dashboard.wording.count_windows import span_of, windows
from dashboard.wording.numbers import clause, count_of, figures, short_date

if TYPE_CHECKING:
    from dashboard.answers.counts_answer import CountsAnswer

NOT_ABUNDANCE = (
    "Counts are of animals seen, not of animals present: what can be seen changes with flow and light, and animals move "
    "between outlets."
)
NOT_THE_CAUSE = "The relation is consistent with an effect of flow; it does not show one."
#: By response: what rises with flow, what has no clear relation, and what is multiplied.
_SUBJECTS = {
    "count": ("Counts rise with flow", "Counts fall as flow rises", "No clear relation of counts with flow", "the count"),
    "gravid": ("More of the {of} carry eggs at higher flow", "Fewer of the {of} carry eggs at higher flow",
               "No clear relation of the share with eggs and flow", "the odds of carrying eggs"),
    "juveniles": ("More of the {of} are juvenile at higher flow", "Fewer of the {of} are juvenile at higher flow",
                  "No clear relation of the share of juveniles and flow", "the odds of being juvenile"),
    "presence": ("Animals are found on more visits at higher flow", "Animals are found on fewer visits at higher flow",
                 "No clear relation of finding any animals and flow", "the rate of finding animals"),
    "temperature": ("Water outside its usual temperature is more common at higher flow",
                    "Water outside its usual temperature is less common at higher flow",
                    "No clear relation of water outside its usual temperature and flow",
                    "the odds of water outside its usual temperature"),
}  # fmt: skip
_ASKED = {
    "count": "counts follow",
    "gravid": "the share with eggs follows",
    "juveniles": "the share of juveniles follows",
    "presence": "finding any animals follows",
    "temperature": "water outside its usual temperature follows",
}
_STAGES = {"adults": "adults", "juveniles": "juveniles", "gravid": "animals with eggs"}


def answer(a: CountsAnswer) -> str:
    """The first sentence; what failed among the checks is part of it."""
    if a.per_doubling is None or a.design is None:
        why = clause(terms_in_words(a.why or "", a.titles))
        care = _with_care(a) if a.fit else ""
        return f"Whether {_ASKED[a.choices.response.kind]} flow cannot be said: {why}. {care}".strip()
    value, low, high = a.per_doubling
    failed = {c.name: c for c in a.failed}
    rises, falls, unclear, times = _SUBJECTS[a.choices.response.kind]
    lead = (rises if low > 1 else falls if high < 1 else unclear).format(of=a.design.share_of)
    if "collinearity" in failed and failed["collinearity"].about == a.design.flow_term:
        lead = "The effect of flow can hardly be told from those of the other terms"
    elif "flow" in failed:
        lead = f"{lead}, on average over low and high flow"
    if a.clustered is None and {"dispersion", "autocorrelation"} & set(failed):
        sure = "no interval: visits are not independent, and there are too few groups to allow for it"
    elif a.clustered is None:
        sure = f"{100 * a.level:g} % interval {figures(low)}–{figures(high)} as if visits were independent"
    else:
        sure = f"{100 * a.level:g} % interval {figures(low)}–{figures(high)}"
    if a.choices.response.stage != "all":
        times = f"the count of {_STAGES[a.choices.response.stage]}"
    said = (
        f"{lead}: twice the discharge over {span_of(a.design.window)} goes with {_factor(value)} {times} "
        f"({sure}), from {count_of(a.design.n_visits, 'visit')}."
    )
    return f"{said} {_with_care(a)}".strip()


def _factor(value: float) -> str:
    """“1.5 times”; a factor beyond a thousand either way is not written in figures."""
    if value > 1_000:
        return "more than 1000 times"
    return "less than a thousandth of" if value < 0.001 else f"{figures(value)} times"


def _with_care(a: CountsAnswer) -> str:
    """Which checks failed, in the first paragraph."""
    if not a.failed:
        return ""
    names = [check_name(c).lower() for c in a.failed]
    listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    return f"Read it with care: {len(a.failed)} of {count_of(len(a.checks), 'check')} failed ({listed})."


def details(a: CountsAnswer) -> list[str]:
    """What stands behind the first sentence."""
    if a.design is None:
        return []
    found = []
    left = [f"{n} {reason}" for reason, n in a.design.left_out.items() if n]
    if left:
        found.append(f"Left out: {', '.join(left)}. A dry outlet is a state, not a count of zero.")
    if a.fit is not None:
        found.append(_model(a))
        found.append(_errors(a))
        found += _by_outlet(a)
        found += trend(a)
        found += list(a.fit.notes)
    else:
        found += [check_sentence(c, a.titles) for c in a.failed]
    found += temperatures(a)
    if a.choices.response.kind != "temperature":
        found.append(NOT_ABUNDANCE if a.per_doubling is None else f"{NOT_ABUNDANCE} {NOT_THE_CAUSE}")
    return found


def _model(a: CountsAnswer) -> str:
    """The model in one sentence."""
    if a.design is None or a.fit is None:
        return ""
    f, terms = a.fit, a.design.model_terms
    kind = {"negative-binomial": "negative binomial (NB2)", "poisson": "Poisson"}.get(f.model, "binomial")
    if f.model == "binomial":
        kind += ", complementary log-log link" if a.choices.response.has_effort else ", logit link"
    alpha_low, alpha_high = getattr(f, "alpha_low", np.nan), getattr(f, "alpha_high", np.nan)
    alpha = ""
    if not np.isnan(f.alpha):
        alpha = f", alpha {figures(f.alpha, 2)} ({figures(alpha_low, 2)}–{figures(alpha_high, 2)})"
    parts = ["effort as offset"] if a.choices.response.has_effort else []
    parts.append("one yearly harmonic" if terms.season == "harmonic" else "a cyclic spline of the year with six knots")
    parts.append("recovery over the first 180 days after a restart")
    parts += ["that recovery by the length of the dry spell"] if terms.dry_length else []
    parts.append("one level an outlet")
    parts += ["an effect of flow for each outlet"] if terms.flow_by_outlet else []
    parts += [f"one level a {terms.factor}"] if terms.factor else []
    parts += ["a trend by year"] if terms.year_trend else []
    parts += [f"“{name}” as it is written" for name in terms.covariates]
    return f"Model: {kind}{alpha}, {', '.join(parts)}."


def _errors(a: CountsAnswer) -> str:
    """Which errors the intervals rest on."""
    if a.design is None or a.clustered is None:
        return f"Intervals do not allow for dependence between visits: {clause(a.why_not_clustered or '')}."
    n = a.clustered.n_clusters
    few = "" if not a.clustered.notes else f" {' '.join(a.clustered.notes)}"
    return (
        f"Intervals allow for dependence within {count_of(n, 'group')} by {a.design.cycles_by}; errors from the observed "
        f"information stand beside them in the table.{few}"
    )


def _by_outlet(a: CountsAnswer) -> list[str]:
    if not a.effects:
        return []
    each = "; ".join(
        f"{a.titles.get(f'{e.outlet}', e.outlet)} {figures(e.value)} ({figures(e.low)}–{figures(e.high)})"
        for e in a.effects
    )
    test = "" if a.slopes_p is None else f" That they are all the same: p {_p(a.slopes_p)}."
    return [f"By outlet, twice the discharge goes with: {each}.{test}"]


def trend(a: CountsAnswer) -> list[str]:
    """What drifts over the years beside flow, effort and season."""
    if a.trend is None:
        return []
    t = a.trend.trend
    value, low, high = a.trend.percent_a_year
    limits = "" if low != low or high != high else f", {100 * t.level:g} % interval {_percent(low)} to {_percent(high)}"
    beside = "flow, effort and season" if a.choices.response.has_effort else "flow and season"
    text = (
        f"Beside {beside}, what was found changed by {_percent(value)} % a year over {count_of(t.n, 'flow cycle')} "
        f"(median slope{limits}; Kendall's test, p {_p(t.p)})"
    )
    if t.p >= 1.0 - t.level:
        return [f"{text}: no clear trend."]
    return [f"{text}. A single step gives the same answer, and so does whatever else changed over those years."]


def _percent(value: float) -> str:
    return f"{'+' if value > 0 else '−' if value < 0 else ''}{figures(abs(value), 2)}"


def _p(p: float) -> str:
    return "< 0.001" if p < 0.001 else f"= {p:.3f}"


def temperatures(a: CountsAnswer) -> list[str]:
    """Visits whose water was not at its usual temperature."""
    band = a.choices.band
    if band is None or a.outside_band is None:
        return []
    n = len(a.outside_band)
    usual = f"{figures(band.usual_c)} ± {figures(band.limit_c, 2)} °C"
    if a.n_temperatures == 0:
        return ["No visit has a water temperature."]
    text = f"Water was outside its usual {usual} on {n} of {count_of(a.n_temperatures, 'visit')} with a temperature"
    if n == 0:
        return [f"{text}."]
    last = a.outside_band.iloc[-1]
    return [
        f"{text}, last on {short_date(last['date'])} at {a.titles.get(last['outlet'], last['outlet'])} ({figures(last['water_temp_c'])} °C)."
    ]


def as_text(a: CountsAnswer) -> str:
    """The whole answer for a terminal."""
    h = a.header
    lines = [f"{h.title}, as of {h.as_of}", "", answer(a), *(f"  {sentence}" for sentence in details(a))]
    if not a.terms.empty:
        wide = max(38, *(len(term_name(t, a.titles)) + 2 for t in a.terms["term"]))
        lines += ["", f"  {'term':<{wide}}{'estimate':>10}{'se':>9}{'by group':>10}{'interval by group':>22}"]
        for t in a.terms.itertuples(index=False):
            by_group = (
                ""
                if np.isnan(t.cluster_se)
                else f"{t.cluster_se:>10.3f}{f'{t.cluster_low:.3f} to {t.cluster_high:.3f}':>22}"
            )
            lines.append(f"  {term_name(t.term, a.titles):<{wide}}{t.estimate:>10.3f}{t.se:>9.3f}{by_group}")
    lines += ["", *(f"  {sentence}" for sentence in windows(a))]
    if a.cross_validation is not None:
        lines += ["", f"  {'window, days':>12}{'score':>10}{'behind best by':>16}{'± error':>10}"]
        for w in a.cross_validation.windows.itertuples(index=False):
            lines.append(f"  {w.window:>12}{w.score:>10.4f}{w.behind:>16.4f}{w.behind_se:>10.4f}")
    if a.checks:
        lines += ["", f"  {tally(a.checks)}"]
        lines += [f"  {_MARKS[c.passed]:<15}{check_line(c, a.titles)}" for c in a.checks]
    lines += ["", cautions.PROVISIONAL]
    return "\n".join(lines)


_MARKS = {True: "pass", False: "FAIL", None: "does not apply"}
