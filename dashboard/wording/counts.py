"""Sentences about counts and flow."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from dashboard.wording import cautions
from dashboard.wording.numbers import count_of, figures

if TYPE_CHECKING:
    from dashboard.answers.counts import CountsAnswer
    from ecology.model_checks import ModelCheck

NOT_ABUNDANCE = (
    "Counts are of animals seen, not of animals present: what can be seen changes with flow and light, and animals move "
    "between outlets. The relation is consistent with an effect of flow; it does not show one."
)
_NAMES = {
    "intercept": "level at baseline",
    "season_sin": "season (sine)",
    "season_cos": "season (cosine)",
    "log_days_since_restart": "recovery, ln days since restart",
}


def term_name(term: str) -> str:
    """A term in words."""
    if term.startswith("log_discharge_"):
        window = term.removeprefix("log_discharge_").removesuffix("d")
        return f"mean ln discharge, {window} days before"
    if term.startswith("outlet["):
        return f"outlet {term[7:-1]}"
    return _NAMES.get(term, term)


def answer(a: CountsAnswer) -> str:
    """The first sentence."""
    if a.per_doubling is None or a.design is None:
        return f"Whether counts follow flow cannot be said: {a.why}."
    value, low, high = a.per_doubling
    percent = f"{100 * a.level:g}"
    if low > 1:
        lead = "Counts rise with flow"
    elif high < 1:
        lead = "Counts fall as flow rises"
    else:
        lead = "No clear relation of counts with flow"
    return (
        f"{lead}: twice the discharge over the {a.design.window} days before goes with {figures(value)} times the count "
        f"({percent} % interval {figures(low)}–{figures(high)}), from {count_of(len(a.design.rows), 'visit')}."
    )


def details(a: CountsAnswer) -> list[str]:
    """What stands behind the first sentence."""
    if a.design is None:
        return []
    d, found = a.design, []
    left = [f"{n} {reason}" for reason, n in d.left_out.items() if n]
    if left:
        found.append(f"Left out: {', '.join(left)}. A dry outlet is a state, not a count of zero.")
    if a.fit is not None:
        f = a.fit
        kind = "negative binomial (NB2)" if f.model == "negative-binomial" else "Poisson"
        alpha = (
            ""
            if np.isnan(f.alpha)
            else f", alpha {figures(f.alpha, 2)} ({figures(f.alpha_low, 2)}–{figures(f.alpha_high, 2)})"
        )
        found.append(
            f"Model: {kind}{alpha}, effort as offset, one yearly harmonic, recovery over the first 180 days after a restart, one level an outlet."
        )
        n = d.rows["cycle"].nunique()
        if a.clustered is not None:
            found.append(f"Intervals allow for dependence within {count_of(n, 'group')} by {d.cycles_by}.")
        else:
            found.append(f"Intervals do not allow for dependence between visits: {a.why_not_clustered}")
        found += [check_sentence(c) for c in a.checks if c.passed is False]
        found += list(f.notes)
    found.append(NOT_ABUNDANCE)
    return found


def check_sentence(c: ModelCheck) -> str:
    """One check as a sentence that stays true whether it passed or not."""
    if c.value is None:
        return f"{c.name}: does not apply to these data."
    v = figures(c.value, 2) if c.value >= 0 else f"−{figures(-c.value, 2)}"
    if c.name == "dispersion":
        good = (
            "as the model allows"
            if c.passed
            else "more than the model allows: the intervals by observed information are too narrow"
        )
        return f"Counts scatter {good} (Pearson chi² per degree of freedom {v}, limit {c.limit})."
    if c.name == "zeros":
        good = (
            "about as many zeros as expected"
            if c.passed
            else "more or fewer zeros than expected: something else decides whether animals are seen at all"
        )
        return f"There are {good} ({v} standard deviations from the expected number)."
    if c.name == "collinearity":
        good = "can be told apart" if c.passed else "can hardly be told apart: read their estimates together"
        return f"The terms {good} ({term_name(c.about or '')} shares {v} of its variance with the others)."
    good = "enough groups" if c.passed else "few groups: intervals tend to be too narrow"
    return f"There are {good} for cluster-robust errors ({v}; {c.limit:g} or more are wanted)."


def as_text(a: CountsAnswer) -> str:
    """The whole answer for a terminal."""
    h = a.header
    lines = [f"{h.title}, as of {h.as_of}", "", answer(a), *(f"  {sentence}" for sentence in details(a))]
    if not a.terms.empty:
        lines += ["", f"  {'term':<38}{'estimate':>10}{'se':>9}{'by group':>10}{'interval by group':>22}"]
        for t in a.terms.itertuples(index=False):
            by_group = (
                ""
                if np.isnan(t.cluster_se)
                else f"{t.cluster_se:>10.3f}{f'{t.cluster_low:.3f} to {t.cluster_high:.3f}':>22}"
            )
            lines.append(f"  {term_name(t.term):<38}{t.estimate:>10.3f}{t.se:>9.3f}{by_group}")
    lines += ["", cautions.PROVISIONAL]
    return "\n".join(lines)
