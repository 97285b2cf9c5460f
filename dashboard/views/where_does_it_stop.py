"""Where does it stop? What people saw against discharge, the level learnt from it, and taking that level over."""

from __future__ import annotations

import datetime
import zoneinfo
from dataclasses import replace
from functools import partial
from typing import Any

import pandas as pd
import streamlit as st

from dashboard import cache
from dashboard.answers.threshold import OutletLevel
from dashboard.figures.drawing import Drawing
from dashboard.figures.level_curve import beyond, level_curve, near_range
from dashboard.people import may_change_levels
from dashboard.take_level import LevelChange, LevelNotTakenError, level_text, plan_change, write_change
from dashboard.views.address import take_id
from dashboard.views.parts import PLOT, ROWS_SHOWN, answer, caution, for_people, key_to, plain, say, say_all, table
from dashboard.views.shown import Shown, role, shown
from dashboard.views.take_away import take_away
from dashboard.wording import cautions, tables
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as words
from dashboard.wording import take_level as take_words
from dashboard.wording import threshold as level_words
from hydro.level_estimate import LevelEstimate

RANGE = "range"
#: What the last writing came to: outlet and sentence, said once on the run after it.
_SAID = "level-said"
_ASKED = "level-asked"
_PICTURE = "level-picture"
#: A picture whose marks can be chosen takes every touch for itself, and a page could not be moved by a finger that
#: lands on it. Fingers choose rows in the tables instead.
_FOR_FINGERS = f"""<style>@media (pointer: coarse) {{
.st-key-{_PICTURE} .draglayer .drag {{ pointer-events: none !important; }} }}</style>"""


def _page() -> None:
    s = shown()
    found = cache.level_of(s.workspace, s.revision, s.outlet.id)
    o, header = found.outlets[0], replace(found.header, unit=s.unit)
    answer(level_words.answer(o, header))
    drawings: list[Drawing] = []
    if s.workspace.visits is None:
        say(words.no_visits())
    if o.estimate is not None:
        drawings.append(_picture(s, o, o.estimate, level_words.answer(o, header)))
    say_all(level_words.details(o, header))
    if o.estimate is not None:
        _disagreeing(s, o.estimate)
        _use_level(s, o, o.estimate)
    say(cautions.PROVISIONAL)
    _rows_behind(s, o)
    take_away("threshold", found.tables(), drawings, found.as_json)


def _picture(s: Shown, o: OutletLevel, e: LevelEstimate, alt: str) -> Drawing:
    """The picture with its choice of range; a mark that is chosen shows its row."""
    near = e.one_sided is None and not e.curve.empty
    if near:
        take_id(RANGE, words.RANGES)
        st.segmented_control(
            words.RANGE_SHOWN,
            list(words.RANGES),
            default="near",
            required=True,
            format_func=words.RANGES.__getitem__,
            key=RANGE,
            bind="query-params",
            label_visibility="collapsed",
        )
    reach = near_range(o.sightings, e) if near and st.session_state.get(RANGE, "near") == "near" else None
    draw = partial(
        level_curve,
        o.sightings,
        e,
        id=o.outlet.id,
        title=o.outlet.title,
        set_m3s=o.outlet.stop_m3s,
        unit=s.unit,
        reach=reach,
        alt=alt,
    )
    drawing = cache.drawing_of(draw, s.revision, f"level-{o.outlet.id}", (s.unit, f"{reach}"))
    st.html(_FOR_FINGERS)
    with st.container(key=_PICTURE):
        event = st.plotly_chart(
            drawing.figure,
            width="stretch",
            config=PLOT,
            alt=drawing.alt,
            # Another outlet, unit or range is another picture: what was chosen in the one before does not carry over.
            key=f"level-{o.outlet.id}-{s.unit}-{reach is None}",
            on_select="rerun",
            selection_mode="points",
        )
    key_to(figure_words.LEVEL_KEY)
    if reach is not None and (n := beyond(o.sightings, reach)):
        say(words.beyond_picture(n))
    if n := int((o.sightings["discharge_m3s"] == 0).sum()):
        say(words.zero_sightings(n))
    points = [p for p in event.selection.points if "customdata" in p]
    if points:
        _visit(s, _row_of(points[0]["customdata"]))
    else:
        say(words.CHOOSE_A_MARK)
    return drawing


def _row_of(custom: Any) -> int:
    """The row that a mark carries; the browser hands it over alone or as a list."""
    return int(custom[0] if isinstance(custom, list) else custom)


def _visit(s: Shown, row: int) -> None:
    """One row of the visits file as it was read."""
    if s.workspace.visits is None:
        return
    frame = s.workspace.visits.frame
    st.markdown(f"**{plain(words.visit_row(row))}**")
    table(frame[frame["row"] == row], tables.VISITS, s.unit, alt=words.visit_row(row), key=f"visit-{row}")


def _choosable(s: Shown, rows: pd.DataFrame, alt: str, key: str) -> None:
    """A table of sightings; the row chosen is shown as it stands in the file."""
    people, settings = for_people(rows, tables.SIGHTINGS, s.unit)
    event = st.dataframe(
        people,
        hide_index=True,
        height="content" if len(people) <= ROWS_SHOWN else 36 * (ROWS_SHOWN + 1),
        column_config=settings,
        alt=alt,
        key=f"{key}-{s.outlet.id}",
        on_select="rerun",
        selection_mode="single-row",
        lazy=False,
        placeholder="",
    )
    if chosen := event.selection.rows:
        _visit(s, int(rows["row"].iloc[chosen[0]]))


def _disagreeing(s: Shown, e: LevelEstimate) -> None:
    if len(e.contradictions):
        st.subheader(words.DISAGREEING)
        _choosable(s, e.contradictions.iloc[::-1], words.DISAGREEING, "disagreeing")


def _rows_behind(s: Shown, o: OutletLevel) -> None:
    """Every sighting, and why some were not used."""
    section = st.expander(words.ROWS_BEHIND, key="rows-level", on_change="rerun")
    if not section.open:
        return
    with section:
        rows = o.sightings
        if o.estimate is not None and len(o.estimate.left_out):
            rows = rows.merge(o.estimate.left_out[["row", "reason"]], on="row", how="left")
        _choosable(s, rows.iloc[::-1], words.SIGHTINGS_LISTED, "sightings")


def _use_level(s: Shown, o: OutletLevel, e: LevelEstimate) -> None:
    """Old and new value, a second step, and then the one line of the file."""
    said = st.session_state.pop(_SAID, None)
    st.subheader(take_words.USE_LEVEL)
    if said is not None and said[0] == o.outlet.id:
        say(said[1])
    if e.stop_level.value_m3s is None:
        say(take_words.NOTHING_TO_USE)
        return
    was = o.outlet.stops_below
    new = level_text(e.stop_level.value_m3s, was.unit if was else s.workspace.unit)
    if was is not None and new == level_text(was.m3s, was.unit):
        say(take_words.SAME_LEVEL)
        return
    today = datetime.datetime.now(zoneinfo.ZoneInfo(s.workspace.settings.time_zone)).date()
    try:
        change = plan_change(
            s.workspace.folder, o.outlet.id, new, today=today, sightings=e.n_running + e.n_dry
        )  # fmt: skip
    except LevelNotTakenError as why:
        say(take_words.old_and_new(str(was) if was else None, new))
        say(f"{why}")
        return
    say(take_words.old_and_new(change.old, new))
    if not may_change_levels(role()):
        say(take_words.ONLY_KEEPERS)
        return
    if st.session_state.get(_ASKED) != o.outlet.id:
        st.button(take_words.USE_LEVEL_ASK, key="use-level", on_click=partial(_ask, o.outlet.id))
        return
    if change.line_before is not None:
        say(take_words.THE_LINE_IS)
        st.code(change.line_before.strip(), language=None, wrap_lines=True)
    say(take_words.THE_LINE_BECOMES if change.line_before is not None else take_words.THE_LINE_ADDED)
    st.code(change.line_after.strip(), language=None, wrap_lines=True)
    caution(take_words.WHAT_CHANGES)
    with st.container(horizontal=True):
        # The change that was shown is the one that is written: its digest tells a file that is another by now.
        st.button(take_words.WRITE_IT, key="write-level", type="primary", on_click=partial(_write, change))
        st.button(take_words.LEAVE_IT, key="leave-level", on_click=partial(_ask, None))


def _ask(outlet: str | None) -> None:
    st.session_state[_ASKED] = outlet


def _write(change: LevelChange) -> None:
    st.session_state[_ASKED] = None
    if not may_change_levels(role()):  # the settings may have changed since the button was shown
        return
    try:
        write_change(change)
    except LevelNotTakenError as why:
        st.session_state[_SAID] = (change.outlet, f"{why}")
        return
    st.session_state[_SAID] = (change.outlet, take_words.level_taken(change.old, change.new, change.path.name))


_page()
