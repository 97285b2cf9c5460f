"""A stop level to try: a slider under the picture, and what the level would mean beside the set and the learnt one."""

from __future__ import annotations

import streamlit as st

from dashboard.answers.threshold import OutletLevel
from dashboard.answers.tried_level import TriedLevel, level_choices, tried_frame, try_level
from dashboard.figures.level_curve import near_range
from dashboard.views.parts import say, table
from dashboard.views.shown import Shown
from dashboard.wording import tables
from dashboard.wording import threshold as level_words
from hydro.level_estimate import LevelEstimate
from hydro.units import SYMBOLS, from_m3s, to_m3s


def tried_m3s(s: Shown, o: OutletLevel) -> float | None:
    """The level on the slider [m³/s]; None where it stands where it started, or has not been shown yet."""
    label, start = st.session_state.get(_key(s, o)), _start_m3s(o)
    if label is None or start is None or label == _label(from_m3s(start, s.unit), s.unit):
        return None
    return to_m3s(float(str(label).split(" ", 1)[0]), s.unit)


def level_slider(s: Shown, o: OutletLevel, e: LevelEstimate) -> None:
    """The slider, and what its level would mean in a sentence; nothing where there is no level to start from."""
    start = _start_m3s(o)
    if start is None:
        return
    choices = level_choices(*near_range(o.sightings, e), [v for v in _known(o).values() if v is not None], s.unit)
    st.select_slider(
        level_words.TRY_LEVEL,
        [_label(v, s.unit) for v in choices],
        value=_label(from_m3s(start, s.unit), s.unit),
        key=_key(s, o),
        help=level_words.TRY_LEVEL_HELP,
    )
    say(level_words.tried(o, _levels(s, o)[-1], s.unit))


def levels_compared(s: Shown, o: OutletLevel) -> None:
    """A table of the levels set, learnt and tried, each held against sightings and record."""
    if levels := _levels(s, o):
        table(tried_frame(levels), tables.TRIED_LEVELS, s.unit, alt=level_words.TRY_LEVEL, key="tried-levels")


def _known(o: OutletLevel) -> dict[str, float | None]:
    """Levels there are without anybody trying one [m³/s]: the learnt one, and the one in use."""
    return {"learnt": None if o.estimate is None else o.estimate.stop_level.value_m3s, "set": o.outlet.stop_m3s}


def _levels(s: Shown, o: OutletLevel) -> list[TriedLevel]:
    """Learnt, set and tried level, as far as there are; the last is the one that the slider stands at."""
    return [
        try_level(s.workspace, o.outlet.id, value, name=name)
        for name, value in {**_known(o), "tried": tried_m3s(s, o)}.items()
        if value is not None
    ]


def _start_m3s(o: OutletLevel) -> float | None:
    """Where the slider starts: the level in use, else the learnt one."""
    known = _known(o)
    return known["learnt"] if known["set"] is None else known["set"]


def _label(level: float, unit: str) -> str:
    """A level in `unit` as the slider has it: the figures that would be written."""
    return f"{float(f'{level:.3g}'):g} {SYMBOLS[unit]}"


def _key(s: Shown, o: OutletLevel) -> str:
    # Another unit or a level that was written is another slider; what was chosen in the one before does not carry over.
    return f"try-level-{o.outlet.id}-{s.unit}-{o.outlet.stops_below}"
