"""A table whose rows can be chosen."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard.views.parts import ROWS_SHOWN, for_people
from dashboard.wording.tables import Columns


def chosen_row(frame: pd.DataFrame, columns: Columns, unit: str, *, alt: str, key: str) -> int | None:
    """Show the table; the position of the chosen row in `frame`, None where none is chosen."""
    people, settings = for_people(frame, columns, unit)
    event = st.dataframe(
        people,
        hide_index=True,
        height="content" if len(people) <= ROWS_SHOWN else 36 * (ROWS_SHOWN + 1),
        column_config=settings,
        alt=alt,
        key=key,
        on_select="rerun",
        selection_mode="single-row",
        lazy=False,
        placeholder="",
    )
    return int(event.selection.rows[0]) if event.selection.rows else None
