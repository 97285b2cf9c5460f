"""Who came through the dry spell? Individuals over time, shares seen again, survival, abundance and their doubts."""

from __future__ import annotations

import datetime
from functools import partial

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from dashboard import cache
from dashboard.answers.individuals import IndividualsAnswer, IndividualsRun, abundance_table
from dashboard.figures.drawing import Drawing
from dashboard.figures.individual_rows import MOST_ROWS, individual_rows, shares_seen_again
from dashboard.views.address import take_id
from dashboard.views.by_title import by_title
from dashboard.views.parts import answer, caution, key_to, picture, say, say_all, table
from dashboard.views.shown import Shown, shown
from dashboard.views.take_away import take_away
from dashboard.wording import cautions, individual_pages
from dashboard.wording import individual_figures as figure_words
from dashboard.wording import individuals as sentences
from dashboard.wording import individuals_numbers as numbers
from dashboard.wording import pages as words
from ecology.encounters import OCCASIONS, Occasion

OF, OCCASION, SHOWN, FIRST, LAST, CONFIDENCE = "of", "occasion", "animals", "window-from", "window-to", "confidence"


def _page() -> None:
    s = shown()
    if s.workspace.captures is None:
        _nobody_recognised(s)
        return
    # The controls stand in the lower sections, but what they say is needed for the first sentence: the sections are
    # laid out first and filled afterwards, so that an address with choices in it is answered at once.
    top, survival, abundance, unsure, end = (st.container() for _ in range(5))
    of, occasion = _animals_of(s, survival), _occasion(survival)
    window = _window(s, abundance)
    least = _confidence(unsure)
    found = cache.individuals_of(s.workspace, s.revision, of, occasion, window, least)
    run = found.run
    drawings: list[Drawing] = []
    with top:
        answer(sentences.answer(found, s.outlet.id))
        if run is not None:
            drawings = _pictures(s, found, run)
            _came_through(s, run, found)
        if s.workspace.visits is None:
            say(words.no_visits())
        caution(cautions.HANDLING, cautions.DISTURBANCE, short=cautions.SHORT_SEARCH)
    with survival:
        say_all(numbers.survival_lines(found))
        if run is not None and run.survival is not None:
            models = run.survival.models_table()
            models["minus_two_log_likelihood"] = models["minus_two_log_likelihood"].map(numbers.two_decimals)
            table(models, individual_pages.MODELS, s.unit, alt=individual_pages.SURVIVAL)
    with abundance:
        _abundance(s, found)
    with unsure:
        say_all(sentences.second_run(found))
    with end:
        if run is not None:
            _rows_behind(s, run)
        say(cautions.PROVISIONAL)
        take_away("individuals", found.tables(), drawings, found.as_json)


def _nobody_recognised(s: Shown) -> None:
    """Without captures there is nothing to choose."""
    found = cache.individuals_of(s.workspace, s.revision, (), "month", (), 0)
    answer(sentences.answer(found, s.outlet.id))
    say(individual_pages.HOW_TO_BEGIN)
    if s.workspace.visits is None:
        say(words.no_visits())
    caution(cautions.HANDLING, cautions.DISTURBANCE, short=cautions.SHORT_SEARCH)
    take_away("individuals", found.tables(), [], found.as_json)


def _animals_of(s: Shown, place: DeltaGenerator) -> tuple[str, ...]:
    """The outlets that survival and abundance are about; empty for all."""
    with place:
        st.subheader(individual_pages.SURVIVAL)
        chosen = st.segmented_control(
            individual_pages.ANIMALS_OF,
            [individual_pages.OF_ALL, individual_pages.OF_HERE],
            default=individual_pages.OF_ALL,
            required=True,
            key=OF,
            bind="query-params",
            wrap=True,
        )
    return (s.outlet.id,) if chosen == individual_pages.OF_HERE else ()


def _occasion(place: DeltaGenerator) -> Occasion:
    """How captures are grouped for survival."""
    with place:
        take_id(OCCASION, individual_pages.OCCASIONS)
        chosen = st.segmented_control(
            individual_pages.GROUPED_BY,
            list(OCCASIONS),
            default="month",
            required=True,
            format_func=individual_pages.OCCASIONS.__getitem__,
            key=OCCASION,
            bind="query-params",
            wrap=True,
        )
    return chosen if chosen in OCCASIONS else "month"


def _window(s: Shown, place: DeltaGenerator) -> tuple[str, ...]:
    """The first and last day of the window for abundance; empty until both are chosen."""
    end = s.workspace.as_of
    start = end
    if s.workspace.captures is not None and len(s.workspace.captures.frame):
        start = min(s.workspace.captures.frame["date"].min(), end)
    chosen = []
    with place:
        st.subheader(individual_pages.ABUNDANCE)
        say(individual_pages.CLOSED)
        with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
            for key, label in ((FIRST, words.FROM), (LAST, words.TO)):
                chosen.append(
                    st.date_input(
                        label, value=None, min_value=start.date(), max_value=end.date(), key=key, bind="query-params",
                        format="YYYY-MM-DD", width=160,
                    )
                )  # fmt: skip
    if not all(isinstance(d, datetime.date) for d in chosen):
        return ()
    return tuple(sorted(f"{d:%Y-%m-%d}" for d in chosen if isinstance(d, datetime.date)))


def _confidence(place: DeltaGenerator) -> int:
    """The least confidence of matches in a second run, in 100; 0 for no second run."""
    with place:
        st.subheader(individual_pages.UNSURE)
        least = st.number_input(
            individual_pages.LEAST_CONFIDENCE, min_value=0.0, max_value=0.99, value=0.0, step=0.05, format="%.2f",
            key=CONFIDENCE, bind="query-params", width=260,
        )  # fmt: skip
    return round(100 * least)


def _pictures(s: Shown, found: IndividualsAnswer, run: IndividualsRun) -> list[Drawing]:
    """Individuals over time, then the shares seen again."""
    drawings: list[Drawing] = []
    crossings = sentences.crossings_at(run, s.outlet.id)
    choices = dict(individual_pages.ANIMALS)
    if crossings is None or crossings.absences.empty:
        choices.pop("through")
    take_id(SHOWN, choices)
    which = st.segmented_control(
        individual_pages.ANIMALS_SHOWN,
        list(choices),
        default=next(iter(choices)),
        required=True,
        format_func=choices.__getitem__,
        key=SHOWN,
        bind="query-params",
        wrap=True,
    )
    chosen = _animals(run, s.outlet.id, which or next(iter(choices)))
    if len(chosen):
        dry = s.workspace.dry_spells[s.outlet.id]
        draw = partial(
            individual_rows, run.captures, chosen, None if dry is None else dry.joined, outlet=s.outlet.id,
            title=s.outlet.title, which=choices[which or next(iter(choices))].lower(),
        )  # fmt: skip
        drawings.append(cache.drawing_of(draw, s.revision, f"individuals-{s.outlet.id}", (str(which),)))
        picture(drawings[0], key="individuals")
        key_to(figure_words.ROWS_KEY)
        if len(chosen) > MOST_ROWS:
            say(figure_words.shown_of(MOST_ROWS, len(chosen)))
    else:
        say(individual_pages.nobody(s.outlet.title))
    if crossings is not None and (crossings.spells["over"].astype(bool) & (crossings.spells["lately"] > 0)).any():
        st.subheader(individual_pages.SEEN_AGAIN)
        draw = partial(shares_seen_again, crossings.spells, outlet=s.outlet.id, title=s.outlet.title, level=found.level)
        drawings.append(cache.drawing_of(draw, s.revision, f"seen-again-{s.outlet.id}"))
        picture(drawings[-1], key="seen-again")
        key_to(figure_words.SHARES_KEY)
    return drawings


def _animals(run: IndividualsRun, outlet: str, which: str) -> list[str]:
    """The animals that a choice means."""
    if which == "through":
        return sentences.out_of_sight(run, outlet)
    times = run.captures["individual"].value_counts()
    here = run.captures.loc[run.captures["outlet"] == outlet, "individual"].unique()
    return [str(i) for i in here if times[i] >= 2]


def _came_through(s: Shown, run: IndividualsRun, found: IndividualsAnswer) -> None:
    """What is known of crossings, as sentences and tables."""
    say_all(sentences.came_through(found, s.outlet.id))
    crossings = sentences.crossings_at(run, s.outlet.id)
    if crossings is None:
        return
    st.subheader(individual_pages.BY_SPELL)
    spells = crossings.spells.iloc[::-1]
    table(
        spells,
        individual_pages.crossings(found.effort_unit),
        s.unit,
        alt=individual_pages.BY_SPELL,
        first=individual_pages.CROSSINGS_FIRST,
    )
    if len(crossings.absences):
        st.subheader(individual_pages.OUT_OF_SIGHT)
        absences = crossings.absences.iloc[::-1]
        table(
            by_title(s, absences, "first_after_outlet"),
            individual_pages.ABSENCES,
            s.unit,
            alt=individual_pages.OUT_OF_SIGHT,
        )


def _abundance(s: Shown, found: IndividualsAnswer) -> None:
    """The estimates in the window chosen."""
    run = found.run
    if run is None or run.window is None:
        say(individual_pages.CHOOSE_WINDOW)
        return
    say_all(numbers.abundance_lines(found))
    if run.window.estimates:
        rows = abundance_table(run.window)
        rows["estimator"] = rows["estimator"].map(numbers.ESTIMATORS)
        table(rows, individual_pages.ESTIMATES, s.unit, alt=individual_pages.ABUNDANCE)


def _rows_behind(s: Shown, run: IndividualsRun) -> None:
    """Every capture at the outlet, and those that are doubtful."""
    section = st.expander(words.ROWS_BEHIND, key="rows-individuals", on_change="rerun")
    if section.open:
        with section:
            here = run.captures[run.captures["outlet"] == s.outlet.id].iloc[::-1]
            table(by_title(s, here), individual_pages.CAPTURES, s.unit, alt=words.ROWS_BEHIND)
            doubtful = run.while_dry[run.while_dry["outlet"] == s.outlet.id]
            if len(doubtful):
                say(sentences.while_dry(doubtful))
                table(by_title(s, doubtful), individual_pages.CAPTURES, s.unit, alt=words.DOUBTFUL)


_page()
