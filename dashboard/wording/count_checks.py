"""Sentences about the checks of the count regression: what was found, and what follows where one failed."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.wording.check_labels import NAMES, term_name
from dashboard.wording.numbers import clause, count_of, figures, short_date

if TYPE_CHECKING:
    from ecology.model_checks import ModelCheck


_NO_TITLES: Mapping[str, str] = MappingProxyType({})


def terms_in_words(sentence: str, titles: Mapping[str, str] = _NO_TITLES) -> str:
    """A sentence of the fit that quotes terms, with their names for people."""
    return re.sub("“([^”]+)”", lambda quoted: f"“{term_name(quoted[1], titles)}”", sentence)


def check_name(c: ModelCheck) -> str:
    return NAMES.get(c.name, c.name)


def check_sentence(c: ModelCheck, titles: Mapping[str, str] = _NO_TITLES) -> str:
    """One check as a sentence that stays true whether it passed or not; outlets by their `titles`, by id."""
    if c.passed is None or c.value is None:
        return f"{check_name(c)}: does not apply to these data{'' if c.why is None else f' ({clause(c.why)})'}."
    good = bool(c.passed)
    return _SENTENCES[c.name](replace(c, about=_named(c.about, titles)), good)


def _named(about: str | None, titles: Mapping[str, str]) -> str | None:
    """What a check is about, an outlet in it by its title: a term, or “day at outlet”."""
    if about is None:
        return None
    before, at, outlet = about.rpartition(" at ")
    return f"{before}{at}{titles[outlet]}" if at and outlet in titles else term_name(about, titles)


def _signed(value: float) -> str:
    return figures(value, 2) if value >= 0 else f"−{figures(-value, 2)}"


def _p(value: float) -> str:
    return "p < 0.001" if value < 0.001 else f"p = {value:.3f}"


def _separation(c: ModelCheck, good: bool) -> str:
    return "No term sets the zeros apart from the counts." if good else str(c.why)


def _collinearity(c: ModelCheck, good: bool) -> str:
    if c.why is not None:
        return c.why
    told = "can be told apart" if good else "can hardly be told apart"
    return f"The terms {told} (“{c.about or ''}” shares {_signed(c.value or 0.0)} of its variance with the others)."


def _dispersion(c: ModelCheck, good: bool) -> str:
    scatter = "as the model allows" if good else "more than the model allows"
    return f"What was found scatters {scatter} (Pearson chi² per degree of freedom {_signed(c.value or 0.0)}, limit {c.limit:g})."


def _residuals(c: ModelCheck, good: bool) -> str:
    spread = "are spread as the model says" if good else "are not spread as the model says"
    return f"The residuals {spread} (Kolmogorov's test, {_p(c.value or 0.0)}, the middle of nine draws)."


def _pattern(what: str) -> str:
    return {
        "flow": "a bend in the relation to flow",
        "season": "a second wave within the year",
        "time": "a change over the years",
    }[what]


def _against(c: ModelCheck, good: bool) -> str:
    found = "show no sign of" if good else "show"
    return f"The residuals {found} {_pattern(c.name)} (score test by flow cycle, {_p(c.value or 0.0)})."


def _autocorrelation(c: ModelCheck, good: bool) -> str:
    found = "are hardly related to" if good else "are related to"
    worst = _worst_lag(c)
    how = "at any distance in time" if good else "beyond what the model says"
    return f"Residuals of visits to the same outlet {found} each other {how}{worst}."


def _worst_lag(c: ModelCheck) -> str:
    if c.table is None:
        return ""
    label = c.table["least_days"].astype(str) + "–" + c.table["most_days"].astype(str) + " days"
    row = c.table[label == c.about]
    if row.empty:
        return ""
    return f" (largest at {c.about} apart: correlation {_signed(float(row['correlation'].iloc[0]))})"


def _zeros(c: ModelCheck, good: bool) -> str:
    seen = "about as many zeros as expected" if good else ("more" if (c.value or 0.0) > 0 else "fewer") + " zeros than expected"  # fmt: skip
    numbers = ""
    if c.table is not None:
        zero = c.table.iloc[0]
        numbers = f"{int(zero['observed'])} seen, {figures(float(zero['expected']))} expected; "
    return f"There are {seen} ({numbers}{_signed(c.value or 0.0)} standard deviations apart)."


def _effort(c: ModelCheck, good: bool) -> str:
    found = "grows in proportion to effort" if good else "does not grow in proportion to effort"
    return f"What is found {found} (exponent {_signed(c.value or 0.0)} where it is left free, 1 assumed)."


def _carries(what: str, unit: str) -> Callable[[ModelCheck, bool], str]:
    """A single thing that may carry the whole effect of flow."""

    def sentence(c: ModelCheck, good: bool) -> str:
        verb = f"No {what} carries" if good else f"A {what} carries"
        return f"{verb} the effect of flow (largest: {_dated(c.about or '')} moves it by {_signed(abs(c.value or 0.0))} {unit})."

    return sentence


def _clusters(c: ModelCheck, good: bool) -> str:
    found = "enough groups" if good else "few groups"
    return f"There are {found} for cluster-robust errors ({c.value:g}; {c.limit:g} or more are wanted)."


def _flow_range(c: ModelCheck, good: bool) -> str:
    if good:
        return "The flow of the last days lies within the flows of the visits."
    return f"The flow of the last days lies outside the flows of the visits at {c.about}."


def _dated(about: str) -> str:
    """ISO dates inside a short text, written for people."""
    words = []
    for word in about.split(" "):
        day = pd.to_datetime(word, format="%Y-%m-%d", errors="coerce")
        words.append(word if pd.isna(day) else short_date(day))
    return " ".join(words)


_SENTENCES = {
    "separation": _separation,
    "collinearity": _collinearity,
    "dispersion": _dispersion,
    "residuals": _residuals,
    "flow": _against,
    "season": _against,
    "time": _against,
    "autocorrelation": _autocorrelation,
    "zeros": _zeros,
    "effort": _effort,
    "influence": _carries("single visit", "standard errors"),
    "one group": _carries("single flow cycle", "standard errors by group"),
    "clusters": _clusters,
    "flow range": _flow_range,
}


def what_follows(c: ModelCheck) -> str | None:
    """What a failed check changes about the answer; None where it did not fail."""
    if c.passed is not False:
        return None
    return {
        "separation": "No factor is given: the data say that it is large or small, not how large.",
        "collinearity": "Read the estimates of these terms together: what one takes the other lacks.",
        "dispersion": "Use only the intervals by group: those from observed information are too narrow.",
        "residuals": "The band of single counts is not to be relied on; the mean may still be right.",
        "flow": "The factor per doubling is an average over low and high flow, and does not hold at each.",
        "season": "Part of the season is left over and may lie in the effect of flow: try the season as a spline.",
        "time": "Something changed over the years beside flow, and part of it may lie in its effect: try a trend by year.",
        "autocorrelation": "Visits count for less than their number: use only the intervals by group.",
        "zeros": "Something beside flow decides whether animals are seen at all, such as that they are not back yet: "
        "the factor speaks of the mean, zeros included.",
        "effort": "Counts for equal effort are not quite comparable: compare visits of similar effort.",
        "influence": "Look at that visit in the file before relying on the factor.",
        "one group": "The factor rests on that cycle more than on all others: another dry spell may change it.",
        "clusters": "Intervals by group tend to be too narrow with so few groups.",
        "flow range": "For today the relation is a guess beyond the data: no count is to be read off it.",
    }[c.name]  # fmt: skip


def check_line(c: ModelCheck, titles: Mapping[str, str] = _NO_TITLES) -> str:
    """What was found and, where the check failed, what follows."""
    return f"{check_sentence(c, titles)} {what_follows(c) or ''}".rstrip()


def tally(checks: tuple[ModelCheck, ...]) -> str:
    """How many checks passed, failed and do not apply."""
    passed = sum(c.passed is True for c in checks)
    failed = sum(c.passed is False for c in checks)
    rest = len(checks) - passed - failed
    text = f"Of {count_of(len(checks), 'check')}, {passed} passed and {failed} failed"
    return f"{text}{f', {rest} did not apply' if rest else ''}."
