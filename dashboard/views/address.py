"""Choices that the address names by their id, as the command line and the settings do.

A choice stands in the address by the words that are shown for it, and anything else is taken out of the address as
unknown. So an id is put into those words before the choice is drawn: the link then still reproduces the view.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st


def take_id(key: str, labels: Mapping[Any, str]) -> None:
    """Where the address names an option of the choice `key` by its id, have it name it by its label.

    labels   option -> the words shown for it
    """
    option = option_named(st.query_params.get(key), labels)
    if option is not None:
        put_in_words(key, option, labels[option])


def put_in_words(key: str, option: object, label: str) -> None:
    """Have the address name an option by its label; the page starts over, before the choice is drawn."""
    if key in st.session_state:  # drawn before in this session: what is set here reaches the address by itself
        st.session_state[key] = option
        return
    st.query_params[key] = label
    st.rerun()


def option_named(asked: str | None, labels: Mapping[Any, str]) -> object | None:
    """The option whose id this is; None where it is none, or where it is the label of one."""
    if asked is None or asked in labels.values():
        return None
    return next((option for option in labels if str(option) == asked), None)
