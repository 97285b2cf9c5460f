"""What a workspace may hold beyond the essentials, folded away on the page “Start”: captures and a permit."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import streamlit as st

from dashboard.start.dropped import MOST_VISITS_MB
from dashboard.start.more import permit_of
from dashboard.start.plan import NO_PERMIT
from dashboard.start.staging import Staging
from dashboard.start.survey_draft import SurveyDraft
from dashboard.views.parts import caution, plain
from dashboard.views.start_state import drop_field
from dashboard.views.start_visits import table_card
from dashboard.wording import cautions
from dashboard.wording import start as words
from dashboard.workspace_settings import PermitSettings
from hydro.problems import InputError


@dataclass(frozen=True, eq=False, kw_only=True)
class More:
    """`settled` = nothing of it is open or wrong."""

    captures: SurveyDraft | None = None
    permit: PermitSettings = NO_PERMIT
    settled: bool = True
    revision: str = ""


def more_step(staged: Staging, zone: str, outlets: tuple[str, ...]) -> More:
    if not st.toggle(words.MORE, key="start-more", persist_state="session"):
        return More()

    def take(name: str, data: bytes) -> str | None:
        staged.set_captures(name, data)
        return None

    drop_field(words.DROP_CAPTURES, ("csv", "txt", "tsv", "xlsx"), MOST_VISITS_MB, take, "captures", several=False)
    found = None if staged.captures is None else table_card(staged.captures, zone, "captures", outlets)
    permit = _permit()
    return More(
        captures=None if found is None else found.draft,
        permit=permit or NO_PERMIT,
        settled=(found is None or found.settled) and permit is not None,
        revision="" if found is None else found.revision,
    )


def _permit() -> PermitSettings | None:
    """The permit as far as it is said; None where its days contradict each other."""
    caution(cautions.HANDLING, short=cautions.SHORT_HANDLING)
    days: list[datetime.date | None] = []
    with st.container(horizontal=True, gap="small", vertical_alignment="bottom"):
        number = st.text_input(words.PERMIT, key="start-permit", width=200, persist_state="session")
        holder = st.text_input(words.HOLDER, key="start-holder", width=220, persist_state="session")
        for label, key in ((words.PERMIT_FIRST, "start-permit-first"), (words.PERMIT_LAST, "start-permit-last")):
            day = st.date_input(label, value=None, key=key, format="YYYY-MM-DD", width=150, persist_state="session")
            days.append(day if isinstance(day, datetime.date) else None)
        minutes = st.number_input(
            words.HOLDING, min_value=1, value=None, step=1, key="start-holding", width=220, persist_state="session"
        )
    try:
        return permit_of(number, holder, days[0], days[1], minutes)
    except InputError:
        st.error(plain(words.PERMIT_ENDS_FIRST))
        return None
