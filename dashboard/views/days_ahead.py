"""What is ahead? Chances and discharge day by day, and how good such forecasts have been."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import pandas as pd
import streamlit as st

from dashboard import cache
from dashboard.answers.outlook import OutletOutlook
from dashboard.answers.status import OutletStatus
from dashboard.figures.days_ahead import chance_ahead
from dashboard.figures.drawing import Drawing
from dashboard.figures.forecasts_and_outcomes import forecasts_and_outcomes
from dashboard.figures.outlet_pictures import fan_ahead
from dashboard.views.address import take_id
from dashboard.views.parts import answer, caution, key_to, picture, say, say_all, table
from dashboard.views.shown import Shown, shown, trip_day
from dashboard.views.take_away import take_away
from dashboard.wording import cautions, tables
from dashboard.wording import figures as figure_words
from dashboard.wording import outlook as outlook_words
from dashboard.wording import pages as words
from dashboard.wording import status as status_words
from hydro.skill import LEADS, Skill

LEAD = "lead"


def _page() -> None:
    s = shown()
    now = next(o for o in cache.status_of(s.workspace, s.revision, trip_day()).outlets if o.outlet == s.outlet.id)
    # The outlook is there at once; its record takes longer and is filled in below.
    answer(outlook_words.answer(OutletOutlook(outlet=s.outlet, ahead=now.ahead, no_recharge=None, skill=None)))
    if now.trip is not None:
        say(status_words.trip_sentence(now))
    drawings: list[Drawing] = []
    forecast = now.ahead.why_none is None
    if forecast:
        drawings.append(_chance(s, now))
        st.subheader(words.CHANCE_OF_RUNNING)
        picture(drawings[0], key="chance")
        key_to(figure_words.CHANCE_KEY)
    found = cache.outlook_of(s.workspace, s.revision, s.outlet.id)
    o, header = found.outlets[0], replace(found.header, unit=s.unit)
    if forecast:
        choices = (s.unit, f"{now.trip}")
        draw = partial(fan_ahead, o, now, s.unit)
        drawings.append(cache.drawing_of(draw, s.revision, f"discharge-ahead-{now.outlet}", choices))
        st.subheader(words.DISCHARGE_EXPECTED)
        picture(drawings[1], key="fan")
        key_to(figure_words.FAN_KEY)
    record = {outlook_words.record_sentence(o.skill), *_reliability_in_words(o.skill)}
    say_all(line for line in outlook_words.details(o, header) if line not in record)
    if s.workspace.visits is None:
        say(words.no_visits())
    if forecast and now.level is not None and now.level.is_exact:
        say(words.LEVEL_TAKEN_AS_EXACT)
    caution(cautions.NOT_A_WARNING, cautions.PROVISIONAL, short=cautions.SHORT_ESTIMATE)
    if not s.outlet.perennial:
        st.subheader(words.RECORD)
        say(outlook_words.record_sentence(o.skill))
    if o.skill is not None:
        drawings += _record(s, o.skill)
    _rows_behind(s, o)
    take_away("outlook", found.tables(), drawings, found.as_json)


def _chance(s: Shown, now: OutletStatus) -> Drawing:
    sentence = outlook_words.answer(OutletOutlook(outlet=s.outlet, ahead=now.ahead, no_recharge=None, skill=None))
    draw = partial(chance_ahead, now.ahead, id=now.outlet, title=now.title, trip=now.trip, alt=sentence)
    return cache.drawing_of(draw, s.revision, f"chance-{now.outlet}", (f"{now.trip}",))


def _reliability_in_words(skill: Skill | None) -> list[str]:
    return outlook_words.reliability_sentences(skill, outlook_words.LEAD_IN_WORDS)


def _record(s: Shown, skill: Skill) -> list[Drawing]:
    """The scores, then one lead at a time: chance given against what came."""
    table(with_other_skills(skill.table), tables.SCORES, s.unit, alt=words.SCORES, key="scores")
    say(words.SCORES_READ)
    take_id(LEAD, {days: words.lead_label(days) for days in LEADS})
    lead = st.segmented_control(
        words.LEADS_LABEL,
        list(LEADS),
        default=outlook_words.LEAD_IN_WORDS,
        required=True,
        format_func=words.lead_label,
        key=LEAD,
        bind="query-params",
        wrap=True,
    )
    bins = skill.reliability[skill.reliability["lead"] == lead]
    if bins.empty:
        say(words.NOTHING_JUDGED)
        return []
    draw = partial(
        forecasts_and_outcomes, bins, id=s.outlet.id, title=s.outlet.title, lead=int(lead), level=skill.level
    )
    drawing = cache.drawing_of(draw, s.revision, f"came-true-{s.outlet.id}", (f"{lead}",))
    with st.container(width=560):
        picture(drawing, key="came-true")
    key_to(figure_words.CAME_TRUE_KEY)
    say_all(outlook_words.reliability_sentences(skill, int(lead)))
    return [drawing]


def with_other_skills(scores: pd.DataFrame) -> pd.DataFrame:
    """The scores with skill against climatology and persistence beside, left out where a skill is not stated."""
    stated = scores["why_no_skill"].isna()
    out = scores.copy()
    for name in ("climatology", "persistence"):
        reference = scores[f"brier_{name}"].where(stated & (scores[f"brier_{name}"] > 0), np.nan)
        out[f"skill_vs_{name}"] = 1.0 - scores["brier"] / reference
    return out.drop(columns="why_no_skill") if stated.all() else out


def _rows_behind(s: Shown, o: OutletOutlook) -> None:
    """The outlook day by day."""
    if o.ahead.days.empty:
        return
    section = st.expander(words.ROWS_BEHIND, key="rows-outlook", on_change="rerun")
    if section.open:
        with section:
            table(o.ahead.days, tables.OUTLOOK_DAYS, s.unit, alt=words.ROWS_BEHIND)


_page()
