"""Sentences about survival and abundance."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording.numbers import count_of, figures, short_date, whole

if TYPE_CHECKING:
    from dashboard.answers.individuals import IndividualsAnswer
    from ecology.abundance import Abundance
    from ecology.closed_window import ClosedWindow, Doubt
    from ecology.survival import Rate
    from ecology.survival_checks import SurvivalCheck

APPARENT = "Apparent survival counts an animal that leaves for good as lost: it is survival times staying."
ALIKE = (
    "All animals are taken as equally likely to be met and to live; where some are met far more easily than others, survival comes out too low "
    "and its interval too narrow."
)
SEVENFOLD = "In simulated sets in which the odds of being met differed sevenfold between animals, a true survival of 50 in 100 a year came out as 41."
ESTIMATORS = {
    "chapman": "Two halves of the window (Chapman)",
    "schnabel": "Every sample (Schnabel)",
    "schumacher-eschmeyer": "Every sample, by regression (Schumacher and Eschmeyer)",
    "chao-lower-bound": "At least, if animals differ (Chao)",
}
OCCASIONS = {"visit": "day of capture", "month": "month with captures", "year": "year with captures"}


def rate(r: Rate) -> str:
    """“47 in 100 (45–50)”, with what cannot be told or lies at a boundary said so."""
    if r.value is None or r.low is None or r.high is None:
        return f"not known ({r.why})"
    text = f"{_hundred(r.value)} in 100 ({_hundred(r.low)}–{_hundred(r.high)})"
    if r.boundary:
        edge = "1" if r.value > 0.5 else "0"
        text += f", at its boundary {edge}: the data set a limit on one side only"
    return text


def animals(value: float) -> str:
    """A number of animals: whole from ten up, three figures from a thousand up."""
    return f"{value:.1f}" if value < 10 else (f"{value:.0f}" if value < 1000 else figures(value))


def two_decimals(value: float) -> str:
    """A likelihood: what counts is its difference from others."""
    return f"{value:.2f}"


def _hundred(share: float) -> str:
    n = 100 * share
    return "less than 1" if 0 < n < 0.95 else f"{n:.0f}"


def survival_lines(a: IndividualsAnswer) -> list[str]:
    """Survival, what it rests on, and whether its assumptions hold."""
    from dashboard.answers.individuals_survival import dry_rates
    from ecology import survival_models as models
    from ecology.capture_chances import DRY, NOBODY

    run = a.run
    if run is None:
        return []
    s = run.survival
    if s is None:
        return [f"Survival cannot be told: {run.why_no_survival}."]
    c = s.constant
    again = int(s.counts.met.sum())
    found = [
        f"Apparent survival is {rate(c.rates[0])} a year, the chance of being met {rate(c.rates[1])} a {OCCASIONS[s.occasion]} "
        f"({100 * a.level:g} % intervals; {count_of(s.counts.n_releases, 'release')}, {whole(again)} met again, {count_of(s.found.n_occasions, 'occasion')}). {APPARENT}"
    ]
    with_dry, without, p = dry_rates(s)
    if with_dry is not None and without is not None and p is not None:
        differ = "differ by more than chance would make likely" if p < 0.05 else "do not differ clearly"
        found.append(
            f"Over intervals with a dry spell apparent survival is {rate(with_dry)} a year, without one {rate(without)}: they {differ} "
            f"(p {'< 0.001' if p < 0.001 else f'{p:.3f}'}), consistent with {'dry spells costing animals or driving them off' if p < 0.05 else 'no effect, or one too small for these data'}."
        )
    by_days = s.fit(models.BY_DRY_DAYS)
    if by_days is not None:
        found.append(
            f"Counted by days, survival a year of nothing but dry days would be {rate(by_days.rate(models.DRY))}, of running days {rate(by_days.rate(models.RUNNING))}."
        )
    dry, nobody = s.n_fixed(DRY), s.n_fixed(NOBODY)
    if dry or nobody:
        found.append(
            f"The chance of being met is fixed at 0, not estimated, on {whole(dry + nobody)} occasions of an outlet: {whole(dry)} dry, {whole(nobody)} without a search."
        )
    best = min(s.fits, key=lambda f: f.aic)
    if best is not c:
        found.append(f"Of {len(s.fits)} models the data favour “{best.model.name}” (AIC {c.aic - best.aic:.1f} lower).")
    found += [check_sentence(k) for k in s.checks]
    found.append(ALIKE)
    return found


def check_sentence(c: SurvivalCheck) -> str:
    """One check of the survival estimate."""
    from ecology.survival_checks import DIFFERENCES, TRANSIENTS

    if c.z is None or c.p is None:
        what = "animals differ in how easily they are met" if c.name == DIFFERENCES else f"{c.name} makes a difference"
        return f"Too few animals to test whether {what}."
    p = "< 0.001" if c.p < 0.001 else f"{c.p:.2f}"
    if c.name == TRANSIENTS:
        if c.passed:
            return f"Animals met for the first time are met again about as often as those known before (p {p})."
        more = "less" if c.z < 0 else "more"
        return f"Animals met for the first time are met again {more} often than those known before (p {p}): some may only pass through, and survival is too {'low' if c.z < 0 else 'high'} for those that stay."
    if c.name == DIFFERENCES:
        if c.passed:
            return f"The two together show no animals that differ much in how easily they are met (p {p}); smaller differences can stay unseen."
        return f"The two together are consistent with animals that differ in how easily they are met (p {p}): survival is then too low and its interval too narrow. {SEVENFOLD}"
    if c.passed:
        return f"Being met does not change the chance of being met on the next occasion (p {p})."
    more = "more" if c.z > 0 else "less"
    return f"Animals met on an occasion are met {more} often on the next (p {p}): chances differ between animals or follow handling, and the intervals are too narrow."


def abundance_lines(a: IndividualsAnswer) -> list[str]:
    """Abundance in the window, each estimate with its doubts, those that all share said once."""
    run = a.run
    if run is None or run.window is None:
        return []
    w = run.window
    span = f"{short_date(w.first)} to {short_date(w.last)}"
    if w.why is not None:
        return [f"How many animals there were from {span} cannot be told: {w.why}."]
    found = [
        f"Taken as closed from {span}: {count_of(w.handled, 'animal')} handled on {count_of(len(w.samples), 'occasion')}."
    ]
    found += [f"{estimate_line(e, w.handled)}{_own(w, doubts)}" for e, doubts in w.estimates]
    found += [f"{doubt_sentence(d)}" for d in shared_doubts(w)]
    return found


def estimate_line(e: Abundance, handled: int) -> str:
    """One estimate with its interval."""
    name = ESTIMATORS[e.estimator]
    if e.value is None:
        at_least = f"; at least {animals(max(e.low, handled))}" if e.low is not None else ""
        return f"{name}: not known, {e.why}{at_least}."
    if e.low is None:
        return f"{name}: {animals(e.value)} animals, without an interval: {e.why}."
    top = "no upper limit" if e.high is None else animals(e.high)
    return f"{name}: {animals(e.value)} animals (interval {animals(e.low)} to {top})."


def shared_doubts(w: ClosedWindow) -> list[Doubt]:
    """Doubts that hold for every estimate of the window."""
    sets = [list(doubts) for _, doubts in w.estimates]
    return [d for d in sets[0] if all(d.kind in [o.kind for o in others] for others in sets)] if sets else []


def _own(w: ClosedWindow, doubts: tuple[Doubt, ...]) -> str:
    shared = {d.kind for d in shared_doubts(w)}
    return "".join(f" {doubt_sentence(d)}" for d in doubts if d.kind not in shared)


def doubt_sentence(d: Doubt) -> str:
    """What speaks against an estimate."""
    from ecology import closed_window as kinds

    n = d.number
    return {
        kinds.FEW_RECAPTURES: lambda: f"It rests on {count_of(int(n), 'recapture')}: too few to lean on.",
        kinds.BELOW_HANDLED: lambda: f"It lies below the {whole(int(n))} animals handled and cannot be right.",
        kinds.UNEQUAL: lambda: (
            f"It lies below the lower bound of {animals(n)} that allows for animals that differ in how easily they are met: it is probably too low."
        ),
        kinds.NOT_CLOSED: lambda: (
            f"The window is not closed: at the survival estimated, about {100 * n:.0f} in 100 animals die or leave within it, and the estimates are too high."
        ),
        kinds.DRY_INSIDE: lambda: (
            f"An outlet was dry on {count_of(int(n), 'day')} of the window: animals there could not be met."
        ),
        kinds.OUTLETS_TOGETHER: lambda: (
            f"Captures of {int(n)} outlets are taken together, as if every animal could be met at each."
        ),
        kinds.MATCHING: lambda: (
            "An animal that is not recognised counts as a new one: every missed match makes the estimate too high."
        ),
    }[d.kind]()
