"""When do they come back? A row a dry spell, the returned-by curve below it, and the searches behind both."""

from __future__ import annotations

from functools import partial

import pandas as pd
import streamlit as st

from dashboard import cache
from dashboard.answers.returns import OutletReturns, ReturnsAnswer
from dashboard.figures.drawing import Drawing
from dashboard.figures.outlet_curve import outlet_curve
from dashboard.figures.return_rows import lag_rows
from dashboard.views.address import put_in_words
from dashboard.views.chosen_mark import chosen_mark
from dashboard.views.chosen_row import chosen_row
from dashboard.views.parts import answer, caution, key_to, picture, plain, say, say_all, table
from dashboard.views.shown import Shown, shown
from dashboard.views.take_away import take_away
from dashboard.wording import animal_tables, cautions
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as words
from dashboard.wording import return_effects as more_words
from dashboard.wording import returns as return_words
from dashboard.workspace import Workspace
from ecology.animal_choice import ALL, animal_choices, matching_choice

ANIMALS = "animals"


def _page() -> None:
    s = shown()
    animals = _animals(s.workspace)
    found = cache.returns_of(s.workspace, s.revision, animals)
    o = next(one for one in found.outlets if one.outlet == s.outlet.id)
    answer(return_words.answer(o))
    drawings: list[Drawing] = []
    if o.lags is not None and len(o.lags.lags):
        drawings.append(_rows_picture(s, o))
    if o.curve is not None:
        curve = cache.drawing_of(partial(outlet_curve, o), s.revision, f"returned-by-{o.outlet}", (animals,))
        drawings.append(curve)
        st.subheader(words.RETURNED_BY)
        picture(curve, key="returned-by")
        key_to(figure_words.CURVE_KEY)
        say_all([*return_words.returned_by(o), *more_words.never_returned(o)])
    if s.workspace.visits is None:
        say(words.no_visits(return_words.answer(o)))
    if o.lags is not None and o.curve is None:
        say_all(return_words.lag_line(row) for _, row in o.lags.lags.iloc[::-1].iterrows())
    say_all(return_words.details(o))
    caution(cautions.DISTURBANCE, cautions.HANDLING, short=cautions.SHORT_SEARCH)
    drawings += _half(s, o)
    pairs = [p for p in found.pairs if o.outlet in p.outlets]
    beside = [*more_words.effects(o), *more_words.by_animals(o), *more_words.pairs(pairs, animals, found.level)]
    if o.lags is not None and beside:
        st.subheader(words.LONGER_LAGS)
        say_all(beside)
    if o.lags is not None and len(o.lags.lags):
        st.subheader(words.THE_LAGS)
        _lag_table(s, o, o.lags.lags)
    _rows_behind(s, o)
    only = ReturnsAnswer(
        header=found.header, level=found.level, seed=found.seed, outlets=(o,), animals=animals, choices=found.choices
    )
    take_away("returns", only.tables(), drawings, found.as_json)


def _animals(workspace: Workspace) -> str:
    """The animals that the page is about: all, a stage or a taxon."""
    choices = (ALL,) if workspace.visits is None else animal_choices(workspace.visits.frame)
    if len(choices) == 1:
        return ALL
    labels = {c: "all animals" if c == ALL else more_words.who(c) for c in choices}
    asked = st.query_params.get(ANIMALS)
    meant = None if asked is None or asked in labels.values() else matching_choice(asked, choices)
    if meant is not None:
        put_in_words(ANIMALS, meant, labels[meant])  # the address may name them as the command line does
    elif st.session_state.get(ANIMALS) not in (None, *choices):
        del st.session_state[ANIMALS]
    st.selectbox(
        words.ANIMALS,
        choices,
        format_func=labels.__getitem__,
        key=ANIMALS,
        bind="query-params",
        required=True,
        label_visibility="collapsed",
        width=230,
    )
    chosen = str(st.session_state.get(ANIMALS, ALL))
    return chosen if chosen in choices else ALL


def _rows_picture(s: Shown, o: OutletReturns) -> Drawing:
    """A row a dry spell; a mark that is chosen shows every visit behind that lag."""
    if o.lags is None:
        raise ValueError("there are no lags to draw")
    them = more_words.who(o.animals)
    draw = partial(lag_rows, o.lags.lags, o.lags.searches, id=o.outlet, title=o.title, animals=them)
    drawing = cache.drawing_of(draw, s.revision, f"lags-{o.outlet}", (o.animals,))
    chosen = chosen_mark(drawing, place="lags-picture", key=f"lags-{o.outlet}-{o.animals}")
    key_to(figure_words.LAGS_KEY)
    if chosen is not None and len(chosen) > 1:
        _visits_behind(s, o, int(chosen[1]))
    else:
        say(words.CHOOSE_A_SPELL)
    return drawing


def _visits_behind(s: Shown, o: OutletReturns, spell: int) -> None:
    """Every search after one dry spell, as it stands in the file, with the count of the chosen animals."""
    if o.lags is None or s.workspace.visits is None or spell >= len(o.lags.lags):
        return
    made = o.lags.searches[o.lags.searches["spell"] == spell]
    file = s.workspace.visits.frame.set_index("row")[["surface", "observers", "note"]]
    rows = made.join(file, on="row")
    title = words.visits_behind(o.lags.lags["restart"].iloc[spell], len(rows))
    st.markdown(f"**{plain(title)}**")
    say(return_words.lag_line(o.lags.lags.iloc[spell]))
    if len(rows):
        table(rows, animal_tables.SEARCHES, s.unit, alt=title, key=f"behind-{o.outlet}-{spell}")


def _half(s: Shown, o: OutletReturns) -> list[Drawing]:
    """The second lag, until half of the expected count."""
    if o.half is None:
        return []
    st.subheader(words.HALF_BACK)
    say(more_words.half(o))
    lags = o.half.recovery.lags
    drawings = []
    if lags.lags["informative"].any():
        draw = partial(lag_rows, lags.lags, lags.searches, id=o.outlet, title=o.title, of_half=True)
        drawings.append(cache.drawing_of(draw, s.revision, f"half-{o.outlet}", (o.animals,)))
        picture(drawings[0], key="half")
        key_to(figure_words.HALF_KEY)
    say_all(more_words.half_details(o))
    return drawings


def _lag_table(s: Shown, o: OutletReturns, lags: pd.DataFrame) -> None:
    """The lags; a row that is chosen shows every visit behind it."""
    named = lags.assign(censoring=lags["censoring"].map(animal_tables.CENSORINGS))
    named.loc[~lags["informative"].astype(bool), "censoring"] = words.NOBODY_SEARCHED
    key = f"lag-table-{o.outlet}-{o.animals}"
    row = chosen_row(named.iloc[::-1], animal_tables.LAGS, s.unit, alt=words.THE_LAGS, key=key)
    if row is not None:
        _visits_behind(s, o, len(lags) - 1 - row)


def _rows_behind(s: Shown, o: OutletReturns) -> None:
    """Every search after a dry spell, and every count judged against half of what is expected."""
    section = st.expander(words.ROWS_BEHIND, key="rows-returns", on_change="rerun")
    if section.open and o.lags is not None:
        with section:
            table(o.lags.searches.iloc[::-1], animal_tables.SEARCHES, s.unit, alt=words.ROWS_BEHIND)
            if o.half is not None:
                counts = o.half.recovery.lags.searches.iloc[::-1]
                st.markdown(f"**{plain(words.HALF_BACK)}**")
                table(counts, animal_tables.HALF_COUNTS, s.unit, alt=words.HALF_BACK)


_page()
