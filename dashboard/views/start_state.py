"""What the page “Start” keeps between runs and pages: files in a staging folder, answers under keys of their own."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pandas as pd
import streamlit as st

from dashboard.start.staging import Staged, Staging
from dashboard.views.parts import plain, say, table
from dashboard.wording import pages as page_words
from dashboard.wording import source_tables
from dashboard.wording import start as words
from hydro.problems import Problem

KEPT = "start-files"
_REFUSED = "start-refused"


def staging() -> Staging:
    """The files of this session."""
    if KEPT not in st.session_state:
        st.session_state[KEPT] = Staging()
    found: Staging = st.session_state[KEPT]
    return found


def forget() -> None:
    """After saving: files and answers have done their work."""
    staging().clear()
    for key in [k for k in st.session_state if str(k).startswith("start-")]:
        del st.session_state[key]


def drop_field(label: str, kinds: Sequence[str], megabytes: int, take: Callable[[str, bytes], str | None], name: str,
               *, several: bool) -> None:  # fmt: skip
    """A field that files are dropped into. It is emptied at once: what was dropped is in the staging folder, so that
    neither a change of page nor the browser's forgetting of the field loses it."""
    field = f"start-drop-{name}-{staging().taken}"

    def taken() -> None:
        dropped = st.session_state.get(field)
        refused = []
        for file in dropped if isinstance(dropped, list) else [dropped] if dropped else []:
            data = file.getvalue()
            # The browser checks the size too, but what it says is not proof.
            said = words.too_big(file.name, megabytes) if len(data) > megabytes * 1_000_000 else take(file.name, data)
            if said is not None:
                refused.append(said)
        st.session_state[_REFUSED] = refused

    st.file_uploader(
        f"{label}. {words.limit(megabytes)}", type=list(kinds), accept_multiple_files=several, key=field,
        on_change=taken, max_upload_size=megabytes,
    )  # fmt: skip
    for sentence in st.session_state.pop(_REFUSED, []):
        st.error(plain(sentence))


def leave_out(file: Staged) -> None:
    """A button that leaves a file out."""
    st.button(
        words.TAKE_AWAY, key=f"start-leave-{file.path.parent.name}", on_click=staging().drop, args=(file,),
        help=file.path.name,
    )  # fmt: skip


def problem_table(problems: Sequence[Problem], key: str) -> None:
    """Problems of the whole in sentences, those of single rows in a table."""
    for line in page_words.problem_lines([p for p in problems if p.row is None]) if problems else []:
        say(words.without_keys(line))
    rows = [p.as_json() for p in problems if p.row is not None]
    if rows:
        frame = pd.DataFrame(rows)
        frame["row"] = frame["row"].astype(str)
        frame["expected"] = frame["expected"].map(words.without_keys)
        table(
            frame, source_tables.PROBLEMS, "m3/s", alt=words.PROBLEM_ROWS, key=key, first=source_tables.PROBLEMS_FIRST
        )
