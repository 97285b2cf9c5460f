"""Exports on a page: the calendar, and everything in open standards with positions withheld unless asked otherwise.

Exact positions are given by the command line alone: whoever can open a page need not be one who may know them.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping

import streamlit as st

from dashboard.export.calendar_file import calendar_file
from dashboard.export.export import CALENDAR, export_files
from dashboard.export.places import WITHHELD
from dashboard.export.planned_days import planned_days
from dashboard.views.parts import say, say_all
from dashboard.views.shown import Shown
from dashboard.wording import export as words

_KEPT = "taken-further"
#: The same bytes whenever it is made: an archive would carry the clock otherwise.
_WHEN = (1980, 1, 1, 0, 0, 0)


def take_further(s: Shown) -> None:
    """Nothing is worked out before somebody asks for it; what was made is kept for the session."""
    st.subheader(words.TAKE_OUT)
    say(words.WHAT_CALENDAR)
    made = st.session_state.setdefault(_KEPT, {})
    if st.button(words.MAKE_CALENDAR, key="make-calendar"):
        with st.spinner(words.MAKING):
            days = planned_days(s.workspace)
            text = calendar_file(days.events, s.workspace.as_of, s.workspace.settings.title)
            made["calendar"] = (s.revision, text.encode(), (words.in_calendar(len(days.events)), *days.notes))
    _save(made.get("calendar"), s.revision, words.SAVE_CALENDAR, CALENDAR, "text/calendar")
    say(words.WHAT_EXPORT)
    places = st.segmented_control(
        words.POSITIONS_LABEL, list(words.POSITIONS_CHOICE), default=WITHHELD, required=True,
        format_func=words.POSITIONS_CHOICE.__getitem__, key="export-positions", wrap=True,
    ) or WITHHELD  # fmt: skip
    if st.button(words.MAKE_EXPORT, key="make-export"):
        with st.spinner(words.MAKING):
            found = export_files(s.workspace, places=places)
            made["export"] = (f"{s.revision} {places}", _packed(found.data), (words.positions(places), *found.notes))
    _save(made.get("export"), f"{s.revision} {places}", words.SAVE_EXPORT, "resurgence-export.zip", "application/zip")


def _save(made: tuple[str, bytes, tuple[str, ...]] | None, now: str, label: str, name: str, mime: str) -> None:
    """What was made from what is shown now, to be saved."""
    if made is None or made[0] != now:
        return
    say_all(made[2])
    st.download_button(label, made[1], file_name=name, mime=mime, key=f"save-{name}", on_click="ignore")


def _packed(files: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in sorted(files.items()):
            archive.writestr(zipfile.ZipInfo(name, _WHEN), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()
