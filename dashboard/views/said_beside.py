"""What became of an entry that was just sent: beside its button, in sight without scrolling, and read out."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from dashboard.records.kept import Kept
from dashboard.records.place import Place
from dashboard.views.parts import plain
from dashboard.wording import records as words

SAID = "entry-said"
_BESIDE = "entry-said-beside"
#: The button may be at the lower edge of the screen, and what stands below it out of sight.
_INTO_SIGHT = f"""<script>setTimeout(() => document.querySelector(".st-key-{_BESIDE}")?.scrollIntoView(
{{ block: "nearest" }}), 100);</script>"""


def keep_said(kept: Kept, place: Place) -> None:
    """Remember over the next run what became of an entry that was just sent, and whether it is settled."""
    sentence = words.confirmed(kept, place.file_of(kept.entry.table) or "", place.titles)
    st.session_state[SAID] = (sentence, words.settled(kept))


def last_said() -> tuple[str, bool] | None:
    """The same on the run after it, once; seen at the top of the screen wherever the page is scrolled to."""
    said: tuple[str, bool] | None = st.session_state.pop(SAID, None)
    if said is not None:
        st.toast(plain(said[0]), duration="long")
    return said


def say_beside(show: Callable[[str], object], sentence: str) -> None:
    """Say it here by `show` (st.success, st.warning, st.error), and move it into sight."""
    with st.container(key=_BESIDE):
        show(plain(sentence))
    st.html(_INTO_SIGHT, unsafe_allow_javascript=True)
