"""Where does it stop? What people saw against discharge, the level learnt from it, and taking that level over."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any

import pandas as pd
import streamlit as st

from dashboard import cache
from dashboard.answers.threshold import OutletLevel
from dashboard.figures.drawing import Drawing
from dashboard.figures.level_curve import beyond, level_curve, near_range
from dashboard.take_level import level_text, plan_change
from dashboard.views.address import take_id
from dashboard.views.chosen_row import chosen_row
from dashboard.views.parts import PLOT, answer, key_to, plain, say, say_all, table
from dashboard.views.shown import Shown, shown
from dashboard.views.take_away import take_away
from dashboard.views.take_over import TakeOver, last_writing, take_over
from dashboard.views.try_level import level_slider, levels_compared, tried_m3s
from dashboard.wording import cautions, tables
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as words
from dashboard.wording import take_level as take_words
from dashboard.wording import threshold as level_words
from hydro.level_estimate import LevelEstimate

RANGE = "range"
_TAKEN = "level"
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
        say(words.no_visits(level_words.answer(o, header)))
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
    """The picture with its choice of range and, right under it, a level to try; a mark that is chosen shows its row."""
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
            wrap=True,
        )
    reach = near_range(o.sightings, e) if near and st.session_state.get(RANGE, "near") == "near" else None
    tried = tried_m3s(s, o)
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
        tried_m3s=tried,
    )
    drawing = cache.drawing_of(draw, s.revision, f"level-{o.outlet.id}", (s.unit, f"{reach}", f"{tried}"))
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
    level_slider(s, o, e)
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
    chosen = chosen_row(rows, tables.SIGHTINGS, s.unit, alt=alt, key=f"{key}-{s.outlet.id}")
    if chosen is not None:
        _visit(s, int(rows["row"].iloc[chosen]))


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
    st.subheader(take_words.USE_LEVEL)
    last_writing(_TAKEN, o.outlet.id)
    levels_compared(s, o)
    tried, learnt = tried_m3s(s, o), e.stop_level.value_m3s
    value = learnt if tried is None else tried
    if value is None:
        say(take_words.NOTHING_TO_USE)
        return
    # A level that a person tries counts as learnt only where it is the learnt one, in the figures that are written.
    by_hand = tried is not None and (learnt is None or level_text(tried, s.unit) != level_text(learnt, s.unit))
    n = None if by_hand else e.n_running + e.n_dry
    how = TakeOver(
        name=_TAKEN,
        ask=take_words.USE_LEVEL_ASK,
        same=take_words.SAME_LEVEL,
        what_changes=take_words.WHAT_CHANGES_BY_HAND if by_hand else take_words.WHAT_CHANGES,
        plan=lambda new, today: plan_change(s.workspace.folder, o.outlet.id, new, today=today, sightings=n),
        old_and_new=take_words.old_and_new,
        taken=take_words.level_taken,
    )
    take_over(s, how, was=o.outlet.stops_below, value_m3s=value)


_page()
