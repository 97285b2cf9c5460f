"""What every page is built from: sentences, tables, pictures, links. Text from files is never taken for markup."""

from __future__ import annotations

import html
import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, Literal

import streamlit as st

from dashboard.views.plain_table import MOST_ROWS, plain_table
from dashboard.wording.cautions import IN_FULL
from dashboard.wording.pages import p_value
from dashboard.wording.tables import Columns, by_want
from hydro.units import SYMBOLS, from_m3s

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

    from dashboard.figures.drawing import Drawing

#: Rows of a table shown without scrolling inside it.
ROWS_SHOWN = 12
_MARKUP = re.compile(r"([\\`*_{}\[\]<>()#+\-!|~$:])")
#: Settings of every picture.
PLOT = {"displayModeBar": False, "scrollZoom": False, "showTips": False}


def plain(text: str) -> str:
    """Text with every sign that markdown would act on made plain."""
    return _MARKUP.sub(r"\\\1", text)


def answer(sentence: str) -> None:
    """The first sentence of a page, larger than the rest."""
    size = "font-size:clamp(1.15rem, 1rem + 0.9vw, 1.3rem)"  # a phone shows the answer and the picture's beginning
    style = f"{size};line-height:1.45;max-width:50rem;margin:0 0 0.4rem 0"
    st.html(f'<p style="{style}">{html.escape(sentence)}</p>')


def say(sentence: str) -> None:
    """One sentence; nothing where there is none."""
    if sentence:
        st.markdown(plain(sentence))


def say_all(sentences: Iterable[str]) -> None:
    """Sentences as a list."""
    text = "\n".join(f"- {plain(s)}" for s in sentences)
    if text:
        st.markdown(text)


def row(word: str, rest: str) -> None:
    """One thing in one line of text: its word first and larger."""
    strong = f'<span style="font-size:1.25rem;font-weight:600">{html.escape(word)}</span>'
    st.html(f'<p style="margin:0.5rem 0 0 0;line-height:1.5">{strong}<br>{html.escape(rest)}</p>')


def caution(*sentences: str, short: str = "") -> None:
    """Cautions beside the act they belong to: set apart by a rule, in plain text size.

    short   the same in two lines at most; the sentences then open below it, without asking the server
    """
    style = "border-left:4px solid #D55E00;padding:0.1rem 0 0.1rem 0.8rem;max-width:50rem"
    lines = "".join(f'<p style="margin:0.3rem 0">{html.escape(s)}</p>' for s in sentences)
    if short:
        opens = f'<summary style="cursor:pointer;width:fit-content;padding:0.2rem 0">{html.escape(IN_FULL)}</summary>'
        lines = f'<p style="margin:0.3rem 0">{html.escape(short)}</p><details>{opens}{lines}</details>'
    st.html(f'<div role="note" style="{style}">{lines}</div>')


def picture(drawing: Drawing, key: str) -> None:
    """A drawing, with its sentence for people who do not see it."""
    st.plotly_chart(drawing.ready, width="stretch", config=PLOT, alt=drawing.alt, key=key)


def still(picture: str) -> None:
    """A picture of `still_picture`: every text in it has been made plain there."""
    st.markdown(picture, unsafe_allow_html=True)


def key_to(text: str) -> None:
    """The key to the marks of the picture above."""
    style = "font-size:0.92rem;line-height:1.4;margin:-0.6rem 0 0.4rem 0;max-width:60rem"
    st.html(f'<p style="{style}">{html.escape(text)}</p>')


def table(
    frame: pd.DataFrame, columns: Columns, unit: str, *, alt: str, key: str | None = None, first: Sequence[str] = ()
) -> None:
    """The columns named, in words and in the display unit, three significant figures where not counted.

    first   the columns that are wanted most where there is little room; from left to right if nothing is said
    """
    shown, settings = for_people(frame, columns, unit)
    if len(shown) <= MOST_ROWS:
        wanted = [[label_of(columns[n], unit) for n in g] for g in by_want([n for n in columns if n in frame], first)]
        plain_table(shown, {label_of(c, unit): c[1] for c in columns.values()}, alt=alt, wanted=wanted)
        return
    height: int | Literal["content"] = "content" if len(shown) <= ROWS_SHOWN else 36 * (ROWS_SHOWN + 1)
    st.dataframe(
        shown, hide_index=True, height=height, column_config=settings, alt=alt, key=key, lazy=False, placeholder=""
    )


def label_of(column: tuple[str, str], unit: str) -> str:
    """The heading of a column of a label and a kind."""
    label, kind = column
    return f"{label}, {SYMBOLS[unit]}" if kind == "discharge" else label


def for_people(frame: pd.DataFrame, columns: Columns, unit: str) -> tuple[pd.DataFrame, dict[str, Any]]:
    """The shown frame and its column settings; columns that the frame lacks are left out."""
    import numpy as np
    import pandas as pd

    shown: dict[str, object] = {}
    settings: dict[str, Any] = {}
    for name, (label, kind) in columns.items():
        if name not in frame:
            continue
        values = frame[name]
        label = label_of((label, kind), unit)
        if kind == "day":
            shown[label] = pd.to_datetime(values).to_numpy()
            settings[label] = st.column_config.DateColumn(format="D MMM YYYY")
        elif kind == "discharge":
            shown[label] = _three(from_m3s(values.to_numpy(np.float64), unit))
            settings[label] = st.column_config.NumberColumn()
        elif kind in ("number", "volume"):
            shown[label] = _three(pd.to_numeric(values).to_numpy(np.float64))
            settings[label] = st.column_config.NumberColumn(format="localized" if kind == "volume" else None)
        elif kind in ("count", "year"):
            shown[label] = pd.to_numeric(values).to_numpy(np.float64)
            settings[label] = st.column_config.NumberColumn(format="%d")
        elif kind == "p":
            shown[label] = [p_value(v) for v in values]
        elif kind == "yes":
            shown[label] = np.where(values.to_numpy(bool), "yes", "")
        else:
            shown[label] = values.astype(object).where(values.notna(), "").map(str).to_numpy()
    return pd.DataFrame(shown), settings


def _three(values: np.ndarray) -> np.ndarray:
    """Three significant figures."""
    import numpy as np

    with np.errstate(divide="ignore", invalid="ignore"):
        power = np.floor(np.log10(np.abs(values)))
    scale = 10.0 ** (2 - np.where(np.isfinite(power), power, 0.0))
    return np.round(values * scale) / scale
