"""A picture whose marks can be chosen with a mouse."""

from __future__ import annotations

from typing import Any

import streamlit as st

from dashboard.figures.drawing import Drawing
from dashboard.views.parts import PLOT


def chosen_mark(drawing: Drawing, *, place: str, key: str) -> list[Any] | None:
    """Show the picture; what the chosen mark carries (its `customdata`), None where none is chosen.

    place   key of the container, one a page
    key     another for every other picture that can stand there: what was chosen in one does not carry over
    """
    # Such a picture takes every touch for itself, and a page could not be moved by a finger that lands on it.
    st.html(
        f"<style>@media (pointer: coarse) {{ .st-key-{place} .draglayer .drag {{ pointer-events: none !important; }} }}"
        "</style>"
    )
    with st.container(key=place):
        event = st.plotly_chart(
            drawing.figure,
            width="stretch",
            config=PLOT,
            alt=drawing.alt,
            key=key,
            on_select="rerun",
            selection_mode="points",
        )
    points = [p for p in event.selection.points if "customdata" in p]
    if not points:
        return None
    carried = points[0]["customdata"]
    return carried if isinstance(carried, list) else [carried]
