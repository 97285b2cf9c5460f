"""What the first page says beside the sentences of the status."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.wording.numbers import chance, long_date

if TYPE_CHECKING:
    from dashboard.answers.status import OutletStatus, StatusAnswer


def status_summary(answer: StatusAnswer, as_of: pd.Timestamp) -> str:
    """The first sentence of the first page: how many run, which do not, which are not known."""
    by_state: dict[str, list[str]] = {"running": [], "dry": [], "unknown": []}
    for o in answer.outlets:
        by_state[o.word].append(o.title)
    running, dry, unknown = by_state["running"], by_state["dry"], by_state["unknown"]
    parts = []
    if running:
        several = len(answer.outlets) > 1 and len(running) == len(answer.outlets)
        who = f"all {len(running)} outlets" if several else _listed(running)
        parts.append(f"{who} {'is' if len(running) == 1 else 'are'} running")
    if dry:
        parts.append(f"{_listed(dry)} {'is' if len(dry) == 1 else 'are'} dry")
    known = f"{'; '.join(parts)} on {long_date(as_of)}." if parts else ""
    known = known[:1].upper() + known[1:]
    if not unknown:
        return known
    verb = "runs" if len(unknown) == 1 else "run"
    return f"{known} Whether {_listed(unknown)} {verb} is not known.".strip()


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
