"""What a new workspace may hold beyond the essentials: a restart level for an outlet, and a permit."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace

from dashboard.start.plan import NewOutlet
from dashboard.wording import new_workspace as words
from dashboard.workspace_settings import PermitSettings
from hydro.problems import InputError, Problem
from hydro.units import Quantity


def with_restarts(outlets: Sequence[NewOutlet], restarts: dict[str, Quantity]) -> tuple[NewOutlet, ...]:
    """The outlets with the levels at which they run again. Raises InputError for one that makes no sense."""
    problems = []
    stops = {o.id: o.stops_below for o in outlets}
    for id, level in restarts.items():
        stop = stops.get(id)
        if stop is None:
            problems.append(Problem(row="--restarts-above", value=id, expected=words.EXPECTED_STOPPING))
        elif level.m3s < stop.m3s:
            expected = words.expected_not_below(str(stop))
            problems.append(Problem(row="--restarts-above", value=f"{id}={level}", expected=expected))
    if problems:
        raise InputError(problems)
    return tuple(replace(o, restarts_above=restarts.get(o.id)) for o in outlets)


def permit_of(
    number: str | None,
    holder: str | None = None,
    first: datetime.date | None = None,
    last: datetime.date | None = None,
    holding_minutes: int | None = None,
) -> PermitSettings:
    """A permit as far as it is said. Raises InputError where it ends before it begins."""
    if first is not None and last is not None and last < first:
        expected = words.expected_not_before(f"{first:%Y-%m-%d}")
        raise InputError([Problem(row="--permit-last", value=f"{last:%Y-%m-%d}", expected=expected)])
    return PermitSettings(
        number=(number or "").strip() or None, holder=(holder or "").strip() or None, first=first, last=last,
        holding_minutes=holding_minutes or None,
    )  # fmt: skip
