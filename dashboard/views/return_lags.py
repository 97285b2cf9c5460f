"""When do they come back? A row a dry spell, the returned-by curve below it, and the searches behind both."""

from __future__ import annotations

from functools import partial

import numpy as np
import streamlit as st

from dashboard import cache
from dashboard.answers.returns import OutletReturns, ReturnsAnswer
from dashboard.figures.drawing import Drawing
from dashboard.figures.return_rows import horizon, lag_rows, returned_by
from dashboard.views.parts import answer, caution, key_to, picture, say, say_all, table
from dashboard.views.shown import Shown, shown
from dashboard.views.take_away import take_away
from dashboard.wording import cautions, tables
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as words
from dashboard.wording import returns as return_words


def _page() -> None:
    s = shown()
    found = cache.returns_of(s.workspace, s.revision)
    o = next(one for one in found.outlets if one.outlet == s.outlet.id)
    answer(return_words.answer(o))
    drawings: list[Drawing] = []
    if o.lags is not None and len(o.lags.lags):
        rows = partial(lag_rows, o.lags.lags, o.lags.searches, id=o.outlet, title=o.title)
        drawings.append(cache.drawing_of(rows, s.revision, f"lags-{o.outlet}"))
        picture(drawings[0], key="lags")
        key_to(figure_words.LAGS_KEY)
    if o.curve is not None:
        curve = cache.drawing_of(partial(_curve, o), s.revision, f"returned-by-{o.outlet}")
        drawings.append(curve)
        st.subheader(words.RETURNED_BY)
        picture(curve, key="returned-by")
        key_to(figure_words.CURVE_KEY)
        say_all(return_words.returned_by(o))
    if s.workspace.visits is None:
        say(words.no_visits())
    say_all(return_words.details(o))
    caution(cautions.DISTURBANCE, cautions.HANDLING)
    if o.lags is not None and len(o.lags.lags):
        st.subheader(words.THE_LAGS)
        named = o.lags.lags.assign(censoring=o.lags.lags["censoring"].map(tables.CENSORINGS))
        named.loc[~o.lags.lags["informative"].astype(bool), "censoring"] = words.NOBODY_SEARCHED
        table(named.iloc[::-1], tables.LAGS, s.unit, alt=words.THE_LAGS)
    _rows_behind(s, o)
    only = ReturnsAnswer(header=found.header, level=found.level, seed=found.seed, outlets=(o,))
    take_away("returns", only.tables(), drawings, found.as_json)


def _curve(o: OutletReturns) -> Drawing:
    """The returned-by picture of an outlet that has a curve."""
    if o.curve is None or o.bands is None or o.lags is None:
        raise ValueError("there is no curve to draw")
    return returned_by(
        id=o.outlet,
        title=o.title,
        low=o.curve.low,
        high=o.curve.high,
        mass=o.curve.mass,
        days=np.asarray(o.bands.days, float).tolist(),
        band_low=o.bands.low,
        band_high=o.bands.high,
        median=o.bands.quantile_bounds,
        end=horizon(o.lags.lags),
        alt=return_words.answer(o),
    )


def _rows_behind(s: Shown, o: OutletReturns) -> None:
    """Every search after a dry spell."""
    section = st.expander(words.ROWS_BEHIND, key="rows-returns", on_change="rerun")
    if section.open and o.lags is not None:
        with section:
            table(o.lags.searches.iloc[::-1], tables.SEARCHES, s.unit, alt=words.ROWS_BEHIND)


_page()
