"""The fields of an entry: large targets, each kept in the session as soon as it is left, so that nothing typed is lost.

There is no form around them: a form holds back what is typed until it is sent, and loses it on a change of page.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from contextlib import suppress
from types import MappingProxyType
from typing import Any

import streamlit as st

from dashboard.wording import records as words
from dashboard.workspace import Workspace

_KEPT: dict[str, Any] = {"persist_state": "session"}


class Fields:
    """Widgets of one entry; `values` gathers what they hold, by column, as an entry writes it.

    `id` names the entry: another one begins with empty fields, or with the values in `first`.
    """

    def __init__(self, workspace: Workspace, id: str, first: Mapping[str, str] = MappingProxyType({})) -> None:
        self.workspace, self.id, self.first = workspace, id, first
        self.values: dict[str, str] = {}

    def key(self, name: str) -> str:
        return f"entry-{name}-{self.id}"

    def day(self, today: datetime.date) -> datetime.date | None:
        """The day, which is not later than today; None where it was cleared."""
        picked = st.date_input(
            words.LABELS["date"], value=self.first.get("date", today), max_value=today, key=self.key("date"),
            format="YYYY-MM-DD", **_KEPT,
        )  # fmt: skip
        self.values["date"] = "" if picked is None else picked.isoformat()
        return picked

    def choice(self, name: str, options: Mapping[str, str], *, required: bool = False, first: str | None = None) -> str:
        """One of a few words, each a button."""
        picked = st.segmented_control(
            words.LABELS[name], list(options), format_func=options.__getitem__, key=self.key(name), default=first,
            required=required, wrap=True, **_KEPT,
        )  # fmt: skip
        return picked or ""

    def outlet(self, outlets: Mapping[str, str], first: str) -> str:
        chosen = self.choice("outlet", outlets, required=True, first=first)
        self.values["outlet"] = chosen
        return chosen

    def text(self, name: str, *, long: bool = False, help: str | None = None) -> None:
        make = st.text_area if long else st.text_input
        self.values[name] = (
            make(words.LABELS[name], value=self.first.get(name, ""), key=self.key(name), help=help, **_KEPT) or ""
        )

    def number(self, name: str, *, label: str | None = None, whole: bool = False, most: float | None = None) -> None:
        """A number of 0 or more; empty = not noted."""
        kind: dict[str, Any] = (
            {"min_value": 0, "step": 1, "max_value": None if most is None else int(most)}
            if whole
            else {"min_value": 0.0, "step": 1.0, "max_value": most}
        )
        if name == "match_confidence":
            kind["step"] = 0.05
        first = self.first.get(name)
        value = None if first is None else int(float(first)) if whole else float(first)
        found = st.number_input(label or words.LABELS[name], value=value, key=self.key(name), **kind, **_KEPT)
        self.values[name] = "" if found is None else f"{found:g}" if not whole else f"{found:d}"

    def time(self) -> None:
        found = st.time_input(
            words.LABELS["time"], value=_time_of(self.first.get("time")), key=self.key("time"), step=300, **_KEPT
        )
        self.values["time"] = "" if found is None else f"{found:%H:%M}"

    def temperature(self) -> None:
        """In the degrees that the thermometer shows; kept in °C."""
        with st.container(horizontal=True, vertical_alignment="bottom"):
            found = st.number_input(
                words.LABELS["water_temp_c"], value=self._degrees(), step=0.1, format="%.1f",
                key=self.key("temperature"), **_KEPT,
            )  # fmt: skip
            degrees = st.segmented_control(
                words.LABELS["water_temp_c"], list(words.DEGREES), format_func=words.DEGREES.__getitem__, default="c",
                required=True, key="entry-degrees", label_visibility="collapsed", **_KEPT, wrap=True,
            )  # fmt: skip
        if found is not None:
            self.values["water_temp_c"] = f"{(found - 32) / 1.8 if degrees == 'f' else found:.1f}"

    def _degrees(self) -> float | None:
        """The first temperature, in the degrees of the field."""
        if "water_temp_c" not in self.first:
            return None
        celsius = float(self.first["water_temp_c"])
        return celsius * 1.8 + 32 if st.session_state.get("entry-degrees") == "f" else celsius

    @property
    def typed(self) -> bool:
        """Whether anything was typed that would be lost with the tab."""
        return any(v for k, v in self.values.items() if k not in ("date", "outlet", "searched", "observers"))


def _time_of(text: str | None) -> datetime.time | None:
    """A time of day as a table may write it; None where it is none that a field can show."""
    for layout in ("%H:%M", "%H:%M:%S"):
        with suppress(ValueError):
            return datetime.datetime.strptime(text or "", layout).time()
    return None
