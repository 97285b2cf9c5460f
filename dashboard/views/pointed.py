"""A picture over days on a page: plain SVG that reads out the day pointed at and takes days dragged across."""

from __future__ import annotations

import datetime
from functools import lru_cache, partial
from importlib.resources import files
from typing import TYPE_CHECKING

import streamlit as st

from dashboard.views.period import show_only

if TYPE_CHECKING:
    from streamlit.components.v2.types import ComponentRenderer

    from dashboard.figures.drawing import Drawing

#: What the component gives back: first and last day dragged across, as ISO texts.
_DAYS = "days"


@lru_cache
def _component() -> ComponentRenderer:
    here = files("dashboard.views")
    return st.components.v2.component(
        "pointed_picture",
        html='<div class="pointed-picture"></div>',
        css=(here / "pointed.css").read_text(encoding="utf-8"),
        js=(here / "pointed.js").read_text(encoding="utf-8"),
        isolate_styles=False,  # the picture takes the page's letters and shades
    )


def pointed(drawing: Drawing, key: str) -> None:
    """A drawing over days under the shared choice of a period, which days dragged across become."""
    _component()(data=drawing.pointed, key=key, on_days_change=partial(_take_days, key))


def _take_days(key: str) -> None:
    """The days dragged across become the page's own period."""
    days = st.session_state[key].get(_DAYS)
    if not days:
        return
    show_only(*(datetime.date.fromisoformat(day) for day in days))
