"""What is asked of a visit and of an animal handled, in a new entry and in a correction alike."""

from __future__ import annotations

import datetime

import pandas as pd
import streamlit as st

from dashboard.records.entry import CAPTURES
from dashboard.views.entry_fields import Fields
from dashboard.views.parts import caution, plain, say
from dashboard.views.shown import outlet_labels
from dashboard.wording import cautions
from dashboard.wording import records as words
from dashboard.workspace import Workspace


def entry_form(workspace: Workspace, fields: Fields, kind: str, first_outlet: str) -> str:
    """All fields of an entry, with the cautions and the permit; gives the outlet chosen.

    kind   one of `words.KINDS`
    """
    if kind == "animal":
        caution(cautions.HANDLING, cautions.DISTURBANCE, short=cautions.SHORT_HANDLING)
    else:
        caution(cautions.WADING, cautions.DISTURBANCE, short=cautions.SHORT_VISIT)
    day = fields.day(workspace.as_of.date())
    if day is not None:
        _permit(workspace, day)
    labels = outlet_labels(workspace)
    outlet = fields.outlet(labels, first_outlet if first_outlet in labels else next(iter(labels)))
    if kind == "animal":
        animal_fields(workspace, fields)
    else:
        visit_fields(workspace, fields, kind)
    fields.text("note", long=True)
    return outlet


def kind_of(table: str) -> str:
    """The form in which an entry of a table is corrected."""
    return "animal" if table == CAPTURES else "visit"


def _permit(workspace: Workspace, day: datetime.date) -> None:
    sentence, in_order = words.permit(workspace.settings.permit, pd.Timestamp(day))
    if in_order:
        say(sentence)
    else:
        st.error(plain(sentence))


def visit_fields(workspace: Workspace, fields: Fields, kind: str) -> None:
    """What a visit notes; `kind` is “look” for a mere look at the water."""
    fields.values["surface"] = fields.choice("surface", words.SURFACES, first=fields.first.get("surface"))
    if kind == "look":
        fields.values["searched"] = "no"
        return
    done = fields.choice("searched", words.DONE, required=True, first=_done(fields))
    fields.values["searched"] = "no" if done == "not" else "yes"
    if done == "counted":
        fields.number("count", whole=True)
    if done != "not":
        fields.number("effort", label=words.effort_label(workspace.settings.surveys.effort_unit))
    named = workspace.visits is not None and workspace.visits.frame["taxon"].astype(bool).any()
    if done == "counted" and (named or "taxon" in fields.first):
        fields.text("taxon")
    with st.expander(words.STAGES):
        if done == "counted":
            for name in ("adults", "juveniles", "gravid"):
                fields.number(name, whole=True)
        fields.temperature()
        fields.time()
        fields.text("observers")
    _cleaning(fields)


def animal_fields(workspace: Workspace, fields: Fields) -> None:
    """What is noted of an animal handled."""
    fields.text("individual")
    fields.text("stage")
    fields.values["gravid"] = fields.choice("gravid", words.CARRYING_EGGS, first=fields.first.get("gravid", ""))
    fields.number("length_mm")
    fields.number("match_confidence", most=1.0)
    fields.number("held_minutes")
    most, held = workspace.settings.permit.holding_minutes, fields.values["held_minutes"]
    say(words.HOLDING)
    if most is not None and held and float(held) > most:
        st.error(plain(words.held_too_long(float(held), most)))


def _done(fields: Fields) -> str:
    """What was done, as the first values say it."""
    if "count" in fields.first or not fields.first:
        return "counted"
    return "not" if fields.first.get("searched") == "no" else "uncounted"


def _cleaning(fields: Fields) -> None:
    with st.expander(words.CLEANING):
        fields.text("decon_product")
        fields.text("decon_dose")
        fields.number("decon_minutes")
