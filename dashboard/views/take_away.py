"""Downloads of a page: its tables as CSV, its pictures as PNG and SVG where they can be drawn, its answer as JSON."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Literal, TypeAlias

import streamlit as st

from dashboard.browser_tab import find_browser
from dashboard.views.parts import plain
from dashboard.wording import pages as words

if TYPE_CHECKING:
    from dashboard.answers.answer import Table
    from dashboard.figures.drawing import Drawing

    #: Tables, pictures, and what makes the machine answer.
    Takings: TypeAlias = tuple[Sequence[Table], Sequence[Drawing], Callable[[], dict[str, object]]]

_PIXELS = 1100  # width of a saved picture


def take_away(
    name: str, tables: Sequence[Table], drawings: Sequence[Drawing], as_json: Callable[[], dict[str, object]]
) -> None:
    """A closed section with everything of the page to save; nothing is made before it is opened."""
    take_away_later(name, lambda: (tables, drawings, as_json))


def take_away_later(name: str, what: Callable[[], Takings]) -> None:
    """The same, where even the tables, the drawings and the answer are asked for only when it is opened."""
    section = st.expander(words.DOWNLOADS, key=f"take-away-{name}", on_change="rerun")
    if not section.open:
        return
    from dashboard.answers.csv_file import csv_bytes

    tables, drawings, as_json = what()
    with section:
        if tables:
            st.markdown(f"**{words.TABLE_FILES}**")
        for table in tables:
            with st.container(horizontal=True, vertical_alignment="center"):
                _button(words.AS_CSV, csv_bytes(table.frame), f"{table.name}.csv", "text/csv")
                st.markdown(plain(table.title))
        if drawings:
            st.markdown(f"**{words.PICTURE_FILES}**")
            drawable = can_draw()
            if not drawable:
                st.markdown(plain(words.NO_PICTURE_FILES))
        for drawing in drawings:
            with st.container(horizontal=True, vertical_alignment="center"):
                if drawable:
                    _button(words.AS_PNG, partial(image, drawing, "png"), f"{drawing.name}.png", "image/png")
                    _button(words.AS_SVG, partial(image, drawing, "svg"), f"{drawing.name}.svg", "image/svg+xml")
                _button(words.AS_CSV, csv_bytes(drawing.data), f"picture-{drawing.name}.csv", "text/csv")
                st.markdown(plain(drawing.title))
        st.markdown(f"**{words.ANSWER_FILE}**")
        text = json.dumps(as_json(), ensure_ascii=False, indent=1, allow_nan=False)
        _button(words.AS_JSON, text.encode(), f"{name}.json", "application/json")


def _button(label: str, data: bytes | Callable[[], bytes], file_name: str, mime: str) -> None:
    # No rerun on a click: the page stays as it is while a picture is being made.
    st.download_button(
        label, data, file_name=file_name, mime=mime, key=f"save-{file_name}", on_click="ignore", help=file_name
    )


def can_draw() -> bool:
    """True where a browser is found to draw with."""
    return find_browser() is not None


def image(drawing: Drawing, kind: Literal["png", "svg"]) -> bytes:
    """The drawing on white paper, as the bytes of a file."""
    import plotly.graph_objects as go

    from dashboard.figures.picture_file import picture_file

    paper = go.Figure(drawing.figure)
    paper.update_layout(
        paper_bgcolor="white",
        plot_bgcolor="white",
        font={"color": "#1f2328", "family": "sans-serif"},
        title={"text": drawing.title, "x": 0.01, "y": 0.99, "yanchor": "top", "font": {"size": 17}},
        margin={"t": int(paper.layout.margin.t) + 34},
        height=int(paper.layout.height) + 34,
    )
    return picture_file(paper, kind, (_PIXELS, int(paper.layout.height)))
