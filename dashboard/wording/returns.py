"""Sentences about return lags."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from dashboard.wording import cautions
from dashboard.wording.numbers import chance, count_of, days, days_only, short_date
from dashboard.wording.return_effects import by_animals, effects, half, half_details, never_returned, pairs, who

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.answers.returns import OutletReturns, ReturnsAnswer
    from ecology.return_lag import ReturnLags

_SHAPES = {"weibull": "Weibull", "lognormal": "log-normal", "loglogistic": "log-logistic"}
FACE_VALUE = (
    "The curve and the table take first finds at face value. A search that finds none does not prove absence, so animals may "
    "have been back earlier than they say."
)


def answer(o: OutletReturns) -> str:
    """The first sentence: allowing for missed animals where that can be told."""
    them = who(o.animals)
    if o.lags is None:
        return f"When {them} come back to {o.title} cannot be said: {o.why}."
    if o.bands is None:
        listed = " Each spell is listed." if len(o.lags.lags) else ""
        return f"Too little is known about returns of {them} to {o.title} for a curve: {o.why_no_curve}.{listed}"
    c = o.corrected
    if c is None or c.median_days is None or c.detection is None:
        return face_value(o)
    m = c.median_days
    top = days_only(m.high) if np.isfinite(m.high) else "no upper limit"
    return (
        f"After half of the dry spells at {o.title} {them} were back within about {days(m.value)} of the water's return "
        f"({100 * c.level:g} % interval {days_only(m.low)} to {top}), allowing for searches that missed them."
    )


def face_value(o: OutletReturns) -> str:
    """When animals were first found again, taking searches without a find for absence."""
    if o.bands is None:
        return ""
    low, high = o.bands.quantile_bounds
    n, them = o.n_informative, who(o.animals)
    if not np.isfinite(high):
        return f"After fewer than half of the {n} dry spells at {o.title} {them} are known to have been seen again."
    low = max(low, 0.0)
    between = f"between {days_only(low)} and {days(high)}" if high > low else f"by {days(high)}"
    top = days_only(o.bands.quantile_high) if np.isfinite(o.bands.quantile_high) else "no upper limit"
    return (
        f"At {o.title} {them} were first seen again {between} after the water returned in half of {n} dry spells "
        f"({100 * o.bands.level:g} % interval {days_only(max(o.bands.quantile_low, 0))} to {top})."
    )


def details(o: OutletReturns) -> list[str]:
    """What stands behind the first sentence."""
    if o.lags is None:
        return []
    found = [*_missed(o), *_spells(o, o.lags)]
    if o.curve is not None:
        slack = max(o.curve.max_gradient - o.curve.n, 0.0)
        found.append(
            "The curve is the one that fits the intervals best, no shape assumed (nonparametric maximum likelihood, "
            f"solved to within {slack:.1e})."
        )
        shapes = [
            f"{_SHAPES.get(name, name)} {days_only(f.median)} (AIC {f.aic:.1f})"
            for name, f in o.fits.items()
            if not isinstance(f, str)
        ]
        if shapes:
            found.append(
                f"Medians of smooth shapes fitted to the same intervals: {', '.join(shapes)}. "
                "The lower the AIC, the better a shape fits."
            )
        found.append(FACE_VALUE)
    return found


def _spells(o: OutletReturns, lags: ReturnLags) -> list[str]:
    """Spells that tell less than a whole lag, and searches that tell nothing of the animals asked for."""
    found = []
    them = who(o.animals)
    never = int(((lags.lags["censoring"] == "right") & lags.lags["informative"]).sum())
    if never:
        one = "animal was" if o.animals == "all" else f"{them} were"
        found.append(f"After {count_of(never, 'spell')} no {one} found before the next dry spell or the last visit.")
    unsearched = int((~lags.lags["informative"]).sum())
    if unsearched:
        nobody = "nobody searched" if o.animals == "all" else f"no search tells of {them}"
        found.append(f"After {count_of(unsearched, 'spell')} {nobody}: nothing is learnt from them.")
    if lags.still_dry:
        found.append("It is still dry: that spell has no lag yet.")
    if lags.end_unknown:
        found.append("The record stops telling in the last dry spell: whether water came back after it is not known.")
    if lags.unseen:
        found.append(
            f"{count_of(lags.unseen, 'spell')} ended in a gap of the record; water may have come and gone unseen."
        )
    narrowed = int(lags.lags["restart_narrowed"].sum())
    if narrowed:
        found.append(
            f"After {count_of(narrowed, 'spell')} the water came back in a gap of the record, and the day is known closer "
            "from what people saw of the surface."
        )
    if o.n_not_told:
        found.append(
            f"{count_of(o.n_not_told, 'search does', 'searches do')} not say how many {them} were among the animals: they "
            "count neither as a find nor as a search without one."
        )
    if o.days_with_passes:
        found.append(
            f"On {count_of(o.days_with_passes, 'day')} of search several passes were made; each counts for how often a pass "
            "misses what is there."
        )
    return found


def _missed(o: OutletReturns) -> list[str]:
    """What allowing for missed animals rests on, and what other detections would make of it."""
    c = o.corrected
    if c is None:
        why = o.why_not_corrected or ""
        return [f"Missed animals could not be allowed for: {why.rstrip('.')}."] if o.bands is not None else []
    found = []
    if c.detection is not None and c.median_days is not None:
        p, after = c.detection, c.after.searches
        beside = (
            f" and {count_of(c.after.missed_beside, 'pass', 'passes')} beside them" if c.after.missed_beside else ""
        )
        found.append(
            f"A search of typical effort finds {who(o.animals)} that are there with a chance of {chance(p.value)} (interval "
            f"{100 * p.low:.0f}–{100 * p.high:.0f}), judging by {count_of(after, 'search', 'searches')} after first finds"
            f"{beside}; twice the effort is taken as two searches."
        )
        found.append(face_value(o))
    elif c.why is not None:
        found.append(f"Missed animals could not be allowed for: {c.why.rstrip('.')}.")
    assumed = [
        f"{days_only(m.median_days.value)} if {m.detection:g}"
        for m in c.medians_by_detection
        if m.median_days is not None
    ]
    if assumed:
        found.append(f"The median would be, by how often a search finds what is there: {'; '.join(assumed)}.")
    return [*found, *c.caveats]


def lag_line(row: pd.Series) -> str:
    """One dry spell as a line."""
    start = f"water back {short_date(row['restart'])}"
    if row["restart_latest"] > row["restart"]:
        start += f" to {short_date(row['restart_latest'])} (gap in the record)"
    if not row["informative"]:
        return f"{start}: no search that tells of a return before {short_date(row['follow_up_end'])}"
    tries = count_of(row["searches"], "search", "searches")
    if row["censoring"] == "right":
        return f"{start}: not found in {tries}, the last after {days(row['low_days'])}"
    if row["censoring"] == "left":
        return f"{start}: found by the first search, after {days(row['high_days'])}"
    return f"{start}: found between {days_only(row['low_days'])} and {days(row['high_days'])}, {tries}"


def returned_by(o: OutletReturns) -> list[str]:
    """The returned-by table as sentences."""
    if o.bands is None:
        return []
    found = []
    b = o.bands
    for i, day in enumerate(b.days.tolist()):
        least, most = round(100 * float(b.by_low[i])), round(100 * float(b.by_high[i]))
        value = f"{most} in 100" if least == most else f"between {least} and {most} in 100"
        interval = f"{round(100 * float(o.returned_low[i]))}–{round(100 * float(o.returned_high[i]))}"
        found.append(f"Seen again within {days(day)}: {value} (interval {interval}).")
    return found


def as_text(result: ReturnsAnswer) -> str:
    """The whole answer for a terminal."""
    h = result.header
    lines = [f"{h.title}, as of {h.as_of}"]
    if result.animals != "all":
        lines.append(f"About {who(result.animals)} alone.")
    for o in result.outlets:
        lines += ["", answer(o), *(f"  {sentence}" for sentence in details(o))]
        lines += [f"    {sentence}" for sentence in returned_by(o)]
        more = [*never_returned(o), *effects(o), half(o), *half_details(o), *by_animals(o)]
        lines += [f"  {sentence}" for sentence in more if sentence]
        if o.lags is not None:
            lines += [f"    {lag_line(row)}" for _, row in o.lags.lags.iterrows()]
    if result.pairs:
        lines += ["", *pairs(result.pairs, result.animals, result.level)]
    lines += ["", cautions.PROVISIONAL, cautions.DISTURBANCE]
    return "\n".join(lines)
