"""What the shared controls above every page say: which outlet, which days, which unit."""

from __future__ import annotations

import datetime
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from dashboard import cache
from dashboard.loaded import About, Loaded
from dashboard.people import VIEWER, role_of
from dashboard.serving import WORKSPACE_VARIABLE
from dashboard.views.address import take_id
from dashboard.views.parts import plain
from dashboard.views.period import FROM, PERIOD, TO, days_shown, period_choice
from dashboard.wording import pages as words
from hydro.units import SYMBOLS

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.workspace import Workspace
    from hydro.outlet import Outlet

OUTLET, UNIT, TRIP = "outlet", "unit", "trip"
#: How far ahead a trip can be asked about [days].
FURTHEST_TRIP = 180
#: Units offered beside the workspace's own.
UNITS = ("m3/s", "l/s", "cfs")


@dataclass(frozen=True, eq=False, kw_only=True)
class Shown:
    """The choices behind a page. `first` and `last` are civil days, both inside; `revision` keys all answers."""

    workspace: Workspace
    revision: str
    outlet: Outlet
    unit: str
    first: pd.Timestamp
    last: pd.Timestamp


def served_folder() -> Path | None:
    """The folder that the dashboard was started on; None where none is named."""
    folder = os.environ.get(WORKSPACE_VARIABLE)
    return Path(folder) if folder else None


def load() -> Loaded | None:
    """The workspace that the environment names, or what is wrong with it; None where none is named."""
    folder = served_folder()
    return None if folder is None else cache.load(folder)


def shown() -> Shown:
    """The present choices. The entry page has found that the workspace can be read."""
    loaded, workspace = loaded_workspace()
    outlet = str(st.session_state.get(OUTLET))
    if outlet not in workspace.outlets:
        outlet = next(iter(workspace.outlets))
    first, last = days_shown(workspace, outlet)
    return Shown(
        workspace=workspace,
        revision=loaded.revision,
        outlet=workspace.outlets[outlet],
        unit=chosen_unit(workspace.unit),
        first=first,
        last=last,
    )


def loaded_workspace() -> tuple[Loaded, Workspace]:
    """The workspace and the state of its files; the entry page has found that it can be read."""
    loaded = load()
    if loaded is None or loaded.workspace is None:
        raise RuntimeError("a page was asked for and the workspace cannot be read")
    return loaded, loaded.workspace


def chosen_unit(usual: str) -> str:
    """The unit chosen, by its canonical name; the workspace's own where none is."""
    unit = st.session_state.get(UNIT)
    return unit if unit in SYMBOLS else usual


def role() -> str | None:
    """What whoever is at the page may do; None = nobody has signed in where that is asked for."""
    loaded = load()
    if loaded is None or loaded.workspace is None:
        return VIEWER
    people = loaded.workspace.settings.people
    return role_of(people, sign_in=asks_for_sign_in(), user=st.user.to_dict())


def asks_for_sign_in() -> bool:
    """Whether people sign in: where the server was given an [auth] part in its secrets."""
    return bool(st.secrets.get("auth")) if secrets_given() else False


def secrets_given() -> bool:
    """Whether there is a secrets file at all; asking for a secret without one is an error."""
    return any(Path(f).exists() for f in st.get_option("secrets.files"))


def follow_link() -> None:
    """On arrival at a page: what the link that led here says goes before what was chosen on the page before."""
    for key, labels in ((PERIOD, words.PERIODS), (UNIT, SYMBOLS)):
        asked = st.query_params.get(key)
        option = next((o for o, label in labels.items() if asked in (o, label)), None)
        if option is not None and key in st.session_state:
            st.session_state[key] = option
    for key in (FROM, TO):
        with suppress(ValueError):
            day = datetime.date.fromisoformat(st.query_params.get(key, ""))
            if key in st.session_state:
                st.session_state[key] = day


def controls(about: About, which: tuple[str, ...]) -> None:
    """The shared controls that a page uses, bound to the address and kept across pages.

    Without outlet and period among them nothing but the settings has to have been read.
    """
    if not which:
        return
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        if OUTLET in which:
            wrong = _outlet_choice(loaded_workspace()[1])
        if UNIT in which:
            _unit_choice(about.unit)
        if PERIOD in which:
            period_choice(loaded_workspace()[1])
        if TRIP in which:
            _trip_choice(about.as_of)
    if OUTLET in which and wrong is not None:
        st.markdown(wrong)


def _outlet_choice(workspace: Workspace) -> str | None:
    """The outlet; a sentence where the address names one that the workspace does not have."""
    labels = outlet_labels(workspace)
    take_id(OUTLET, labels)
    asked = st.query_params.get(OUTLET)
    known = asked is None or asked in labels or asked in labels.values()
    st.selectbox(
        words.OUTLET,
        list(labels),
        format_func=labels.__getitem__,
        key=OUTLET,
        bind="query-params",
        required=True,
        label_visibility="collapsed",
        width=190,
    )
    if known:
        return None
    return plain(words.no_such_outlet(str(asked), labels[st.session_state[OUTLET]]))


def outlet_labels(workspace: Workspace) -> dict[str, str]:
    """Outlet names by id, told apart by the id where two are the same."""
    return words.outlet_labels(workspace.outlets)


def _unit_choice(usual: str) -> None:
    units = list(dict.fromkeys((usual, *UNITS)))
    take_id(UNIT, {u: SYMBOLS[u] for u in units})
    st.selectbox(
        words.UNIT,
        units,
        format_func=SYMBOLS.__getitem__,
        key=UNIT,
        bind="query-params",
        required=True,
        label_visibility="collapsed",
        width=120,
    )


def trip_day() -> datetime.date | None:
    """The day of a trip, None where none is chosen."""
    day = st.session_state.get(TRIP)
    return day if isinstance(day, datetime.date) else None


def _trip_choice(today: datetime.date) -> None:
    st.date_input(
        words.TRIP,
        value=None,
        min_value=today,
        max_value=today + datetime.timedelta(days=FURTHEST_TRIP),
        key=TRIP,
        bind="query-params",
        format="YYYY-MM-DD",
        width=190,
        help=words.TRIP_HELP,
    )
