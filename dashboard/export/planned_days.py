"""The days of a calendar: visits that were named or that the plan for returns asks for, and days on which an outlet may
stop or run again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from dashboard.answers.plan import plan
from dashboard.answers.plan_request import plan_request
from dashboard.answers.status import OutletStatus, status
from dashboard.export.calendar_file import DayEvent
from dashboard.wording import cautions
from dashboard.wording import export as words
from dashboard.workspace import Workspace
from ecology.return_watch import WatchPlan
from hydro.outlook_result import date_reached

#: Chances of having stopped, or run again, between which the calendar marks the days.
WINDOW = (0.1, 0.9)
#: More visits to one outlet are no plan that anybody keeps to; the rest is left to the next calendar.
MOST_VISITS = 40
_FOUND = "counted"
_SEARCHED = ("counted", "searched-uncounted")


@dataclass(frozen=True, kw_only=True)
class PlannedDays:
    """Events in the order of their days, and why what one may look for is not among them."""

    events: tuple[DayEvent, ...]
    notes: tuple[str, ...]


def planned_days(workspace: Workspace, named: Sequence[pd.Timestamp] = ()) -> PlannedDays:
    """All days worth a place in a calendar, as of the workspace's day.

    named   days of visits that a person has planned, to the whole place
    """
    caution = f"{cautions.WADING} {cautions.DISTURBANCE}"
    events = [
        DayEvent(
            id=f"visit-{day:%Y%m%d}", first=day, last=day, title=words.visit(workspace.settings.title), text=caution
        )
        for day in dict.fromkeys(named)
    ]
    notes: list[str] = []
    for o in status(workspace).outlets:
        if workspace.outlets[o.outlet].perennial:
            continue
        for found in (_stop(o, workspace.as_of), _restart(o, workspace.as_of)):
            if found is not None:
                events.append(found)
        visits, why = _visits(workspace, o, caution)
        events += visits
        notes += [why] if why is not None else []
        due = _due(workspace, o, caution)
        events += [due] if due is not None else []
    return PlannedDays(events=tuple(sorted(events, key=lambda e: (e.first, e.id))), notes=tuple(notes))


def _stop(o: OutletStatus, as_of: pd.Timestamp) -> DayEvent | None:
    return _window(o, o.ahead.stops_by, "stop", as_of)


def _restart(o: OutletStatus, as_of: pd.Timestamp) -> DayEvent | None:
    return _window(o, o.ahead.restarts_by, "restart", as_of)


def _window(o: OutletStatus, passages: pd.DataFrame | None, what: str, as_of: pd.Timestamp) -> DayEvent | None:
    """The days between a small and a large chance; None where even the small one lies beyond the outlook."""
    if o.ahead.why_none is not None or passages is None:
        return None
    first, last = (date_reached(passages, p) for p in WINDOW)
    if first is None:
        return None
    end = pd.Timestamp(passages["date"].iloc[-1]) if last is None else last
    title = words.may_stop(o.title) if what == "stop" else words.may_restart(o.title)
    # The next stop is another event than the last: it is named by the day since which the outlet has been as it is.
    since = "" if o.state.since is None else f"-{o.state.since:%Y%m%d}"
    text = words.window(what, o.title, first, last, as_of)
    return DayEvent(id=f"{what}-{o.outlet}{since}", first=first, last=end, title=title, text=text, tentative=True)


def _visits(workspace: Workspace, o: OutletStatus, caution: str) -> tuple[list[DayEvent], str | None]:
    """Visits that know a return soon: from the restart on while the watch lasts and nothing was found; where the outlet
    is dry, from the day by which it has as likely as not run again."""
    restart = _restarted(workspace, o.outlet)
    expected = None if o.ahead.restarts_by is None else date_reached(o.ahead.restarts_by, 0.5)
    start = restart if o.state.state == "running" else expected if o.state.state == "dry" else None
    if start is None:
        return [], words.no_start(o.title, o.state.state)
    if workspace.visits is None:
        return [], words.no_spacing(o.title, "the workspace names no visits")
    visits = workspace.visits.at(o.outlet)
    since = visits[(visits["date"] >= start) & visits["kind"].isin(_SEARCHED)]
    if (since.loc[since["kind"] == _FOUND, "count"] > 0).any():
        return [], words.found_again(o.title, start)
    answer = plan(workspace, plan_request("return"), outlets=[o.outlet])
    watch = answer.plan
    if not isinstance(watch, WatchPlan) or watch.every_days is None:
        return [], words.no_spacing(o.title, answer.why or "no spacing is close enough")
    every = pd.Timedelta(days=watch.every_days)
    day = max(start if since.empty else since["date"].max() + every, workspace.as_of)
    end = start + pd.Timedelta(days=watch.watch_days)
    text = words.watch_visit(o.title, watch.every_days, watch.within_days, watch.sure, start, o.state.state == "dry")
    found: list[DayEvent] = []
    while day <= end and len(found) < MOST_VISITS:
        found.append(
            DayEvent(
                id=f"watch-{o.outlet}-{start:%Y%m%d}-{len(since) + len(found) + 1}", first=day, last=day,
                title=words.visit(o.title), text=f"{text} {caution}", tentative=o.state.state == "dry",
            )
        )  # fmt: skip
        day += every
    return found, None if found else words.watch_over(o.title, end)


def _due(workspace: Workspace, o: OutletStatus, caution: str) -> DayEvent | None:
    """The day by which somebody is to have searched after a restart, as the alert rules say."""
    rules = workspace.settings.alerts.get(o.outlet)
    restart = _restarted(workspace, o.outlet)
    if rules is None or rules.visit_due_days is None or restart is None or o.state.state != "running":
        return None
    if workspace.visits is not None:
        visits = workspace.visits.at(o.outlet)
        if ((visits["date"] >= restart) & visits["kind"].isin(_SEARCHED)).any():
            return None
    day = max(restart + pd.Timedelta(days=rules.visit_due_days), workspace.as_of)
    text = f"{words.due(o.title, restart, rules.visit_due_days)} {caution}"
    return DayEvent(
        id=f"due-{o.outlet}-{restart:%Y%m%d}", first=day, last=day, title=words.visit_due(o.title), text=text
    )


def _restarted(workspace: Workspace, outlet: str) -> pd.Timestamp | None:
    """First running day after the last dry spell; None where none has ended for certain."""
    spells = workspace.dry_spells[outlet]
    if spells is None or spells.joined.empty or spells.joined["status"].iloc[-1] != "ended":
        return None
    return pd.Timestamp(spells.joined["last"].iloc[-1]) + pd.Timedelta(days=1)
