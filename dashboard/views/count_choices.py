"""What the page of counts lets people choose: the window of flow, what is explained, terms, covariates, temperature."""

from __future__ import annotations

import streamlit as st

from dashboard.answers.count_choices import COMPARED, USUAL_WINDOW, CountChoices
from dashboard.views.address import take_id
from dashboard.views.parts import say
from dashboard.views.shown import Shown
from dashboard.wording import counts_page as labels
from dashboard.wording import pages as words
from ecology.count_response import Response, TemperatureBand
from ecology.count_terms import Factor, ModelTerms
from ecology.visit_numbers import numeric_columns

WINDOW, RESPONSE, SEASON, EXTRAS, COVARIATES = "window", "response", "season", "terms", "covariates"
FLAG, USUAL, LIMIT = "flag-temperature", "usual-temperature", "temperature-limit"
_STAGES = {"adults": "adults", "young": "juveniles", "eggs": "gravid"}
_USUAL_F, _LIMIT_F = 72.0, 2.0


def window_choice() -> None:
    """How many days of flow before a visit, or whichever of them predicts best."""
    take_id(WINDOW, words.WINDOWS)
    st.session_state.setdefault(WINDOW, _window())
    st.segmented_control(
        words.WINDOW,
        list(words.WINDOWS),
        required=True,
        format_func=words.WINDOWS.__getitem__,
        key=WINDOW,
        bind="query-params",
        wrap=True,
    )


def _window() -> int:
    """The window chosen; on the first run of a session the one in the address, by its days or by its name."""
    known = {str(w): w for w in words.WINDOWS} | {name: w for w, name in words.WINDOWS.items()}
    window = st.session_state.get(WINDOW, known.get(str(st.query_params.get(WINDOW)), USUAL_WINDOW))
    return window if window in words.WINDOWS else USUAL_WINDOW


def model_choices(s: Shown) -> None:
    """Everything else, in a section that is closed until it is wanted."""
    if s.workspace.visits is None:
        return
    frame = s.workspace.visits.frame
    with st.expander(labels.MODEL_CHOICES, key="model-choices"):
        with st.container(horizontal=True):
            st.selectbox(
                labels.RESPONSE,
                list(labels.RESPONSES),
                format_func=labels.RESPONSES.__getitem__,
                key=RESPONSE,
                width=280,
            )
            st.selectbox(
                labels.SEASON, list(labels.SEASONS), format_func=labels.SEASONS.__getitem__, key=SEASON, width=280
            )
        taxa = sum(t != "" for t in frame["taxon"].unique())
        extras = [e for e in labels.EXTRAS if e != "taxon" or taxa > 1]
        st.multiselect(labels.ALSO, extras, format_func=labels.EXTRAS.__getitem__, key=EXTRAS)
        columns = numeric_columns(frame)
        if columns:
            st.multiselect(labels.COVARIATES, columns, key=COVARIATES)
        else:
            say(labels.NO_COVARIATES)
        st.toggle(labels.FLAG_TEMPERATURE, key=FLAG)
        if st.session_state.get(FLAG) or st.session_state.get(RESPONSE) == "temperature":
            with st.container(horizontal=True):
                st.number_input(labels.USUAL_TEMPERATURE, value=_USUAL_F, step=0.5, key=USUAL, width=200)
                st.number_input(labels.TEMPERATURE_LIMIT, value=_LIMIT_F, min_value=0.1, step=0.5, key=LIMIT, width=200)


def chosen(s: Shown) -> CountChoices:
    """The model asked for by what is set on the page now."""
    state = st.session_state
    window = _window()
    response = state.get(RESPONSE, "count")
    stage = _STAGES.get(response, "all")
    kind = "count" if response in _STAGES else response
    extras = state.get(EXTRAS, [])
    # A level for each stage has no meaning where one stage, or a share of stages, is explained.
    staged = "stage" in extras and kind in ("count", "presence") and stage == "all"
    factor: Factor | None = "taxon" if "taxon" in extras else "stage" if staged else None
    band = None
    if state.get(FLAG) or kind == "temperature":
        band = TemperatureBand(
            limit_c=float(state.get(LIMIT, _LIMIT_F)) / 1.8, usual_c=(float(state.get(USUAL, _USUAL_F)) - 32.0) / 1.8
        )
    columns = [] if s.workspace.visits is None else list(s.workspace.visits.frame.columns)
    return CountChoices(
        window=window or USUAL_WINDOW,
        windows=() if window else COMPARED,
        terms=ModelTerms(
            season=state.get(SEASON, "harmonic"),
            dry_length="dry_length" in extras,
            year_trend="year_trend" in extras,
            flow_by_outlet="flow_by_outlet" in extras,
            factor=factor,
            covariates=tuple(c for c in state.get(COVARIATES, []) if c in columns),
        ),
        response=Response(kind=kind, stage=stage, band=band),  # type: ignore[arg-type]  # the keys of RESPONSES
        band=band,
    )
