"""What the first page says beside the sentences of the status."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.wording.numbers import chance, long_date, short_date

if TYPE_CHECKING:
    from dashboard.answers.status import OutletStatus, StatusAnswer


def status_summary(answer: StatusAnswer, as_of: pd.Timestamp) -> str:
    """The first sentence of the first page: how many run, which do not, how sure, on what; then which are not known."""
    by_state: dict[str, list[str]] = {"running": [], "dry": [], "unknown": [], "always": []}
    for o in answer.outlets:
        by_state["always" if _without_any_reading(o) else o.word].append(o.title)
    running, dry, unknown, always = (by_state[s] for s in ("running", "dry", "unknown", "always"))
    parts = []
    if running:
        several = len(answer.outlets) > 1 and len(running) == len(answer.outlets)
        all_of_them = "Both outlets" if len(running) == 2 else f"All {len(running)} outlets"
        parts.append(f"{all_of_them if several else _listed(running)} {'is' if len(running) == 1 else 'are'} running")
    if dry:
        parts.append(f"{_listed(dry)} {'is' if len(dry) == 1 else 'are'} dry")
    sentences = [f"{'; '.join(parts)} on {long_date(as_of)}{_how_sure(answer)}{_by_readings(answer)}."] if parts else []
    if unknown:
        sentences.append(f"Whether {_listed(unknown)} {'runs' if len(unknown) == 1 else 'run'} is not known.")
    if always:
        counts = "counts" if len(always) == 1 else "count"
        sentences.append(f"{_listed(always)} {counts} as always running, without any reading.")
    return " ".join(sentences)


def _without_any_reading(o: OutletStatus) -> bool:
    """Whether an outlet is taken to run only because no level is set."""
    return o.word == "running" and o.state.why_no_probability == "perennial" and o.state.reading is None


def _how_sure(answer: StatusAnswer) -> str:
    """The outlet whose state is the least sure."""
    sure = [
        (o.chance if o.word == "running" else 1.0 - o.chance, o.title)
        for o in answer.outlets
        if o.word != "unknown" and o.chance is not None
    ]
    if not sure:
        return ""
    p, title = min(sure)
    return f" ({chance(p)})" if len(answer.outlets) == 1 else f" (least sure: {title}, {chance(p)})"


def _by_readings(answer: StatusAnswer) -> str:
    """The day of the newest reading."""
    days = [o.state.reading.day for o in answer.outlets if o.state.reading is not None]
    return f", by readings up to {short_date(max(days))}" if days else ""


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def trip_words(o: OutletStatus) -> str:
    """What the row says of the day of the trip."""
    if o.trip is None:
        return ""
    if o.state.why_no_probability == "perennial":
        return f"on {long_date(o.trip)}: counts as running"
    return (
        f"on {long_date(o.trip)}: {'not known' if o.trip_chance is None else f'{chance(o.trip_chance)} that it runs'}"
    )
