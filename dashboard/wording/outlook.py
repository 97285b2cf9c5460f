"""Sentences about the days ahead and about how good such forecasts have been."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from dashboard.wording import cautions
from dashboard.wording.numbers import chance, count_of, discharge, figures, long_date, short_date, whole
from dashboard.wording.status import crossing_sentence, weakness

if TYPE_CHECKING:
    from dashboard.answers.answer import Header
    from dashboard.answers.outlook import OutletOutlook, OutlookAnswer
    from hydro.skill import Skill

LEADS_SHOWN = (7, 14, 30, 60, 90, 180)
#: The lead whose record is told in words [days].
LEAD_IN_WORDS = 30


def answer(o: OutletOutlook) -> str:
    """The first sentence."""
    title, a = o.outlet.title, o.ahead
    if a.why_none is not None:
        return f"There is no outlook for {title}: {a.why_none}."
    lead = min(LEAD_IN_WORDS, int(a.days["lead"].iloc[-1]))
    p = a.probability_running(lead)
    day = a.issued + pd.Timedelta(days=lead)
    if p is None:
        return f"What {title} will do is not known beyond the next days."
    years = figures(a.n_years, 2)
    rests = f"{'1 year' if years == '1.0' else f'{years} years'} of discharge, {a.n_dry_years} of them with dry days"
    last = "" if a.reading_day is None else f", the last reading of {short_date(a.reading_day)}"
    return f"{title} runs in {lead} days, on {long_date(day)}, with a chance of {chance(p)}, judging by {rests}{last}."


def details(o: OutletOutlook, header: Header) -> list[str]:
    """What stands behind the first sentence."""
    a, found = o.ahead, []
    if a.why_none is not None:
        return [] if o.outlet.perennial else [record_sentence(o.skill)]
    for passages, what in ((a.stops_by, "have stopped"), (a.restarts_by, "run again")):
        if passages is not None:
            found.append(crossing_sentence(passages, what))
    found += weakness(a)
    if o.no_recharge is not None:
        found.append(no_recharge_sentence(o))
    found.append(record_sentence(o.skill))
    found += reliability_sentences(o.skill, LEAD_IN_WORDS)
    return found


def no_recharge_sentence(o: OutletOutlook) -> str:
    """The stop date if no water is added."""
    n = o.no_recharge
    if n is None or n.why_none is not None or n.stop_date is None:
        why = "it lies beyond a year" if n is None or n.why_none is None else n.why_none
        return f"When it would stop without any recharge cannot be said: {why}."
    span = ""
    if n.earliest is not None:
        span = f" ({100 * n.level:g} % of recessions between {short_date(n.earliest)} and "
        span += f"{short_date(n.latest)})" if n.latest is not None else "more than a year)"
    if n.stop_date <= o.ahead.issued:
        return f"Without any water added since the last reading it would have stopped already, about {long_date(n.stop_date)}{span}."
    return f"If no water were added it would stop about {long_date(n.stop_date)}{span}."


def record_sentence(skill: Skill | None) -> str:
    """How good such forecasts were on earlier years, against what season and present state alone tell."""
    if skill is None:
        return "How good such forecasts have been is not known."
    row = skill.table[skill.table["lead"] == LEAD_IN_WORDS]
    if row.empty:
        return "How good such forecasts have been is not known."
    r = row.iloc[0]
    s = r["skill_vs_conditional_climatology"]
    if np.isnan(s):
        return f"No score of such forecasts can be stated: {r['why_no_skill']}."
    better = "better" if s >= 0 else "worse"
    return (
        f"On earlier years, each judged without itself, forecasts {LEAD_IN_WORDS} days ahead were {100 * abs(s):.0f} % {better} "
        f"than season and present state alone ({100 * skill.level:g} % range {100 * r['low']:.0f} to {100 * r['high']:.0f} %, "
        f"{count_of(int(r['n']), 'forecast')} in {count_of(int(r['n_years']), 'year')}, {count_of(skill.n_events, 'dry spell')})."
    )


def reliability_sentences(skill: Skill | None, lead: int) -> list[str]:
    """How many groups of like forecasts came true as often as they said, then each that did not."""
    if skill is None:
        return []
    bins = skill.reliability[skill.reliability["lead"] == lead]
    if bins.empty:
        return []
    width, ahead = 0.2 if bins["n"].sum() < 100 else 0.1, f"{count_of(lead, 'day')} ahead"
    others = []
    for b in bins.itertuples(index=False):
        if b.bar_low - 1e-9 <= b.observed <= b.bar_high + 1e-9:
            continue
        lower = min(np.floor(b.forecast / width + 1e-9), round(1 / width) - 1) * width
        than = "more" if b.observed > b.bar_high else "fewer"
        others.append(
            f"Of {count_of(int(b.n), 'forecast')} {ahead} between {100 * lower:.0f} and {100 * (lower + width):.0f} in 100, "
            f"{whole(round(b.observed * b.n))} ran, {than} than chance allows."
        )
    right, n = len(bins) - len(others), len(bins)
    kept = f"{right} of {n}" if right < n else f"all {n}" if n > 1 else "the only one"
    return [
        f"Forecasts {ahead} in groups of like chances: in {kept} as many ran as chance allows.",
        *others,
    ]


def as_text(result: OutlookAnswer) -> str:
    """The whole answer for a terminal."""
    h = result.header
    lines = [f"{h.title}, as of {h.as_of}"]
    for o in result.outlets:
        lines += ["", answer(o), *(f"  {sentence}" for sentence in details(o, h))]
        for d in o.ahead.days.itertuples(index=False):
            if d.lead in LEADS_SHOWN:
                band = " to ".join(
                    discharge(v, h.unit) for v in (d.discharge_low_m3s, d.discharge_high_m3s) if not np.isnan(v)
                )
                p = "not known" if np.isnan(d.probability_running) else chance(d.probability_running)
                lines.append(f"    {short_date(d.date):<12} {p:<20} discharge {band or 'not known'}")
    lines += ["", cautions.PROVISIONAL, cautions.NOT_A_WARNING]
    return "\n".join(lines)
