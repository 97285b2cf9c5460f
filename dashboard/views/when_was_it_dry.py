"""When was it dry? The hydrograph with what people saw, the dry spells, and dry days by year and month."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pandas as pd
import streamlit as st

from dashboard import cache
from dashboard.answers.spells import OutletSpells, SpellsAnswer
from dashboard.figures.dry_years import dry_calendar, dry_years, ever_dry_or_unknown
from dashboard.figures.outlet_pictures import spells_over_time
from dashboard.views.address import take_id
from dashboard.views.by_title import by_title
from dashboard.views.dry_months import dry_months
from dashboard.views.parts import answer, key_to, say, say_all, table
from dashboard.views.pointed import pointed
from dashboard.views.shown import Shown, shown
from dashboard.views.take_away import take_away
from dashboard.wording import cautions, tables
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as words
from dashboard.wording import spells as spell_words

LISTED = "spells"


def _page() -> None:
    s = shown()
    found = cache.spells_of(s.workspace, s.revision)
    o = next(one for one in found.outlets if one.outlet.id == s.outlet.id)
    header = replace(found.header, unit=s.unit)
    answer(spell_words.answer(o, header))
    drawings = []
    if o.flow.empty:
        say(words.never_known(o.outlet.title))
    else:
        choices = (s.unit, f"{s.first}", f"{s.last}")
        draw = partial(spells_over_time, o, s.first, s.last, s.unit)
        drawings.append(cache.drawing_of(draw, s.revision, f"hydrograph-{o.outlet.id}", choices))
        if not _anything(s, o):
            say(words.nothing_in_period(s.first, s.last))
        pointed(drawings[0], key="hydrograph")
        key_to(f"{figure_words.HYDROGRAPH_KEY} {figure_words.POINT_AT_A_DAY}")
    if s.workspace.visits is None:
        say(words.no_visits())
    say_all(spell_words.details(o, header))
    if o.dry is not None and o.summary is not None:
        _spell_table(s, o)
    if o.dry is not None and o.summary is not None and ever_dry_or_unknown(o.summary.by_year):
        named = {"id": o.outlet.id, "title": o.outlet.title}
        years = partial(dry_years, o.summary.by_year, **named)
        months = partial(dry_calendar, o.dry.states, **named)
        drawings.append(cache.drawing_of(years, s.revision, f"years-{o.outlet.id}"))
        drawings.append(cache.drawing_of(months, s.revision, f"months-{o.outlet.id}"))
        st.subheader(words.BY_MONTH)
        dry_months(o.dry.states, o.summary.by_year, alt=drawings[-1].alt)
        key_to(figure_words.CALENDAR_KEY)
    say(cautions.PROVISIONAL)
    _rows_behind(s, o)
    take_away("spells", SpellsAnswer(header=found.header, outlets=(o,)).tables(), drawings, found.as_json)


def _anything(s: Shown, o: OutletSpells) -> bool:
    """Whether the period holds a discharge or a visit."""
    return bool(o.flow.values.loc[s.first : s.last].notna().any() or o.seen["date"].between(s.first, s.last).any())


def _spell_table(s: Shown, o: OutletSpells) -> None:
    """The spells that touch the period, by themselves or with short interruptions joined."""
    st.subheader(words.THE_SPELLS)
    take_id(LISTED, words.SPELLS_SHOWN)
    listed = st.segmented_control(
        words.SPELLS_SHOWN_LABEL,
        list(words.SPELLS_SHOWN),
        default="unjoined",
        required=True,
        format_func=words.SPELLS_SHOWN.__getitem__,
        key=LISTED,
        bind="query-params",
        label_visibility="collapsed",
        wrap=True,
    )
    rows = o.joined if listed == "joined" else o.spells
    inside = rows[(rows["last"] >= s.first) & (rows["first"] <= s.last)] if len(rows) else rows
    say(words.spells_in_period(len(inside), len(rows), s.first, s.last))
    if len(inside):
        named = inside.assign(status=inside["status"].map(spell_words.STATUS_WORDS)).iloc[::-1]
        if listed != "joined":
            named = named.drop(columns="parts")
        table(named, tables.SPELLS, s.unit, alt=words.THE_SPELLS)


def _rows_behind(s: Shown, o: OutletSpells) -> None:
    """Every day of the period, and every visit in it."""
    section = st.expander(words.ROWS_BEHIND, key="rows-spells", on_change="rerun")
    if not section.open:
        return
    with section:
        days = o.flow.frame if o.dry is None else o.flow.frame.assign(state=o.dry.states.astype(str))
        days = days.loc[s.first : s.last].reset_index()
        if days.empty:
            say(words.nothing_in_period(s.first, s.last))
        else:
            table(days.iloc[::-1], tables.DAILY, s.unit, alt=words.ROWS_BEHIND)
        if s.workspace.visits is not None:
            visits = s.workspace.visits.at(o.outlet.id)
            inside = visits[(visits["date"] >= s.first) & (visits["date"] <= s.last)]
            table(by_title(s, pd.DataFrame(inside.iloc[::-1])), tables.VISITS, s.unit, alt=words.ROWS_BEHIND)


_page()
