"""Third step of the page “Start”: the outlets, whether each stops, and its level with the hydrograph under it."""

from __future__ import annotations

from functools import partial

import pandas as pd
import streamlit as st

from dashboard import cache, cache_start
from dashboard.figures.drawing import Drawing
from dashboard.figures.hydrograph import hydrograph
from dashboard.start.outlet_level import FLOW, agreement, dry_days, level_steps, lowest_level, seen_dry
from dashboard.start.plan import NewOutlet
from dashboard.views.parts import key_to, picture, plain, say
from dashboard.views.start_gauges import Water
from dashboard.views.start_visits import Survey
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as page_words
from dashboard.wording import start as words
from dashboard.wording import start_outlets as level_words
from ecology.visits import Visits
from hydro.combine import Flow
from hydro.dry_spells import find_dry_spells
from hydro.outlet import Outlet
from hydro.units import FACTORS, SYMBOLS, Quantity

_YEARS = {"all": None, "10y": 10, "3y": 3, "1y": 1}
_SEEN_COLUMNS = ("date", "surface", "kind", "count")


def outlets_step(water: Water, survey: Survey) -> tuple[str, tuple[NewOutlet, ...]]:
    """(display unit, outlets); no outlets until water and visits are settled."""
    if water.flow is None or not survey.settled:
        say(words.FIRST_SETTLE)
        return water.unit, ()
    units = list(dict.fromkeys((water.unit, *FACTORS)))
    unit = st.selectbox(
        words.UNIT, units, format_func=SYMBOLS.__getitem__, key=f"start-unit-{water.unit}", width=160,
        persist_state="session",
    )  # fmt: skip
    visits = None if survey.draft is None else survey.draft.visits
    if survey.draft is not None:
        names = list(survey.draft.outlets)
    else:
        said = st.text_input(words.OUTLET_NAMES, value="outlet", key="start-outlets", persist_state="session") or ""
        names = list(dict.fromkeys(n.strip() for n in said.split(",") if n.strip()))
    revision = f"{water.revision} {survey.revision}"
    outlets = tuple(_outlet(name, visits, water.flow, unit, revision) for name in names)
    if any(o.stops_below is not None for o in outlets):
        key_to(figure_words.HYDROGRAPH_KEY)
    return unit, outlets


def _outlet(name: str, visits: Visits | None, flow: Flow, unit: str, revision: str) -> NewOutlet:
    with st.container(border=True):
        st.subheader(plain(name), anchor=False)
        with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
            title = st.text_input(
                words.OUTLET_TITLE, value=name, key=f"start-title-{name}", width=260, persist_state="session"
            )
            stops = st.segmented_control(
                words.CAN_STOP, list(words.STOPS), default="stops" if seen_dry(visits, name) else "runs",
                format_func=words.STOPS.__getitem__, key=f"start-stops-{name}", required=True, wrap=True,
                persist_state="session",
            )  # fmt: skip
        if stops != "stops" or flow.empty:
            return NewOutlet(id=name, title=title or name)
        level, learnt = _level(name, title or name, visits, flow, unit, revision)
        return NewOutlet(
            id=name, title=title or name, stops_below=level, learnt=learnt, restarts_above=_restart(name, level)
        )


def _restart(name: str, stop: Quantity | None) -> Quantity | None:
    """The level at which it runs again, where a person says that it is another."""
    if stop is None or not st.toggle(words.HIGHER_RESTART, key=f"start-higher-{name}", persist_state="session"):
        return None
    value = st.number_input(
        f"{words.RESTART}, {SYMBOLS[stop.unit]}", min_value=stop.value, value=float(f"{1.05 * stop.value:.3g}"),
        format="%.6g", key=f"start-restart-{name}-{stop.unit}-{stop.value:g}", width=220, persist_state="session",
    )  # fmt: skip
    return Quantity(float(value), stop.unit)


def _level(
    name: str, title: str, visits: Visits | None, flow: Flow, unit: str, revision: str
) -> tuple[Quantity | None, bool]:
    """The level by slider or number, what it would mean, and the picture; whether it is the learnt one."""
    estimate, text = cache_start.start_level_of(visits, flow, revision, name, unit)
    learnt = None if text is None else Quantity(float(text.split(" ", 1)[0]), unit)
    start = learnt or lowest_level(flow, unit)
    if start is None:
        return None, False
    steps = level_steps(flow, unit, also=(start,))
    say(level_words.nothing_learnt(title) if estimate is None else level_words.learnt_level(title, estimate, unit))
    number, slide = f"start-level-{name}-{unit}", f"start-slide-{name}-{unit}"
    if number not in st.session_state:
        st.session_state[number] = start.value
    st.session_state[slide] = min(steps, key=lambda s: abs(s - st.session_state[number]))
    st.select_slider(
        words.SLIDER, steps, format_func=lambda v: f"{v:g} {SYMBOLS[unit]}", key=slide,
        on_change=partial(_copy, slide, number), persist_state="session",
    )  # fmt: skip
    with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
        value = st.number_input(
            f"{words.LEVEL}, {SYMBOLS[unit]}", min_value=0.0, step=float(f"{start.value / 100:.1g}"), format="%.6g",
            key=number, width=220, persist_state="session",
        )  # fmt: skip
        if learnt is not None and value != learnt.value:
            st.button(words.USE_LEARNT, key=f"start-learnt-{name}", on_click=partial(_set, number, learnt.value))
    level = Quantity(float(start.value if value is None else value), unit)
    say(level_words.level_means(title, *dry_days(flow, level.m3s), level.m3s, unit))
    if visits is not None and estimate is not None:
        say(level_words.agrees(agreement(visits, name, flow, level.m3s)))
    _picture(name, title, visits, flow, level, revision, learnt=level == learnt)
    return level, level == learnt


def _copy(source: str, target: str) -> None:
    st.session_state[target] = st.session_state[source]


def _set(key: str, value: float) -> None:
    st.session_state[key] = value


def _picture(
    name: str, title: str, visits: Visits | None, flow: Flow, level: Quantity, revision: str, *, learnt: bool
) -> None:
    """The hydrograph under the level; drawn anew only for the outlet that something changed about."""
    shown = st.segmented_control(
        words.SHOWN_DAYS, list(_YEARS), default="all", format_func=page_words.PERIODS.__getitem__, required=True,
        key=f"start-shown-{name}", label_visibility="collapsed", persist_state="session", wrap=True,
    )  # fmt: skip
    draw = partial(_draw, name, title, visits, flow, level, _YEARS[shown or "all"], learnt)
    choices = (title, f"{level!r}", f"{shown}", f"{learnt}")
    picture(cache.drawing_of(draw, revision, f"start-{name}", choices), f"start-picture-{name}")


def _draw(
    name: str, title: str, visits: Visits | None, flow: Flow, level: Quantity, years: int | None, learnt: bool
) -> Drawing:
    first, last = flow.frame.index[0], flow.frame.index[-1]
    if years is not None:
        first = max(first, last - pd.DateOffset(years=years))
    # As the workspace will have it: nothing but the stop level is set.
    outlet = Outlet(id=name, title=title, flow=FLOW, stops_below=level)
    spells = find_dry_spells(
        flow.values,
        level.m3s,
        level.m3s,
        stop_days=outlet.stop_days,
        restart_days=outlet.restart_days,
        join_days=outlet.join_days,
    )
    nobody = pd.DataFrame({c: pd.Series(dtype=object) for c in _SEEN_COLUMNS}).assign(date=pd.DatetimeIndex([]))
    return hydrograph(
        id=name,
        title=title,
        flow=flow.frame,
        states=spells.states,
        spells=spells.spells,
        seen=nobody if visits is None else visits.at(name)[list(_SEEN_COLUMNS)],
        first=first,
        last=last,
        unit=level.unit,
        stop_m3s=level.m3s,
        restart_m3s=None,
        source="learnt" if learnt else "set",
    )
