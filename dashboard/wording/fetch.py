"""Sentences about values that come from services: what was fetched, what is kept, how old it is, what changed."""

from __future__ import annotations

import datetime
import zoneinfo
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.wording import cautions
from dashboard.wording.numbers import count_of, long_date, short_date

if TYPE_CHECKING:
    from dashboard.answers.fetch import FetchAnswer, GaugeFetched
    from hydro.services.kept import Copy

BRING_UP_TO_DATE = "Bring the gauges up to date"
FROM_SERVICES = "Gauges from services"
ONLY_RECORDERS = "Recorders and keepers can bring these gauges up to date here."
ASKING = "Asking the services …"
NOTHING_TO_FETCH = (
    "No gauge of this workspace names a service: its files are read as they are, and nothing was fetched."
)
#: Changes of so many days back are still told with every answer [days].
REVISION_TOLD_DAYS = 31


def as_text(result: FetchAnswer) -> str:
    """The whole answer for a terminal."""
    if not result.gauges:
        return NOTHING_TO_FETCH
    lines = [result.header.title, "", headline(result), ""]
    for g in result.gauges:
        lines.append(f"{g.settings.title}   {sentence(g, result.time_zone)}")
        lines += [f"  {line}" for line in changed_lines(g)]
    return "\n".join([*lines, "", cautions.PROVISIONAL])


def headline(result: FetchAnswer) -> str:
    """How many gauges are as their services have them."""
    total = len(result.gauges)
    current = sum(g.fetched.why is None for g in result.gauges)
    if total == 1:
        return "The gauge is up to date." if current else "The gauge could not be brought up to date."
    if current == total:
        return f"All {total} gauges are up to date."
    return f"{current or 'None'} of {total} gauges could be brought up to date."


def sentence(g: GaugeFetched, zone: str) -> str:
    """One gauge: what came, what is kept, what went wrong."""
    f = g.fetched
    what = f"{g.settings.service} {g.settings.station}"
    if f.outcome == "failed":
        wait = (
            "" if f.copy.not_before is None else f" It wishes not to be asked before {moment(f.copy.not_before, zone)}."
        )
        return f"Nothing is kept of {what}, and nothing came: {f.why}.{wait}"
    parts = []
    if f.outcome == "stale":
        age = "an earlier day" if f.copy.retrieved is None else moment(f.copy.retrieved, zone)
        parts.append(f"{what} could not be brought up to date: {f.why}. The copy of {age} stands")
    elif f.outcome == "incomplete":
        parts.append(f"The newest days of {what} came, but not everything: {f.why}. What came is kept")
    elif f.outcome == "unchanged":
        parts.append(f"Nothing new at {what}")
    else:
        parts.append(f"{what} was brought up to date")
    facts = []
    if f.n_new:
        facts.append(f"{count_of(f.n_new, 'new value')}")
    if len(f.changes):
        facts.append(changed(len(f.changes), f.copy, zone))
    if f.n_judged:
        facts.append(f"{count_of(f.n_judged, 'value')} with another approval or mark")
    if f.n_withdrawn:
        facts.append(f"{count_of(f.n_withdrawn, 'value')} no longer given by the service, kept and marked “withdrawn”")
    if f.n_restored:
        facts.append(f"{count_of(f.n_restored, 'value')} given again")
    if f.n_twice:
        facts.append(f"{count_of(f.n_twice, 'value')} given twice with different numbers, marked “duplicate”")
    told = f": {'; '.join(facts)}" if facts else ""
    if f.copy.not_before is not None:
        told += f". The service wishes not to be asked before {moment(f.copy.not_before, zone)}"
    return f"{parts[0]}{told}. Kept: {count_of(f.n_kept, 'value')}, {f.first} to {f.last}."


def changed(n: int, copy: Copy, zone: str) -> str:
    """“12 values changed since Tue 3 November 2026 (days 2026-10-01 to 2026-10-12)”."""
    revised = copy.revised
    since, days = "", ""
    if revised is not None:
        since = "" if revised.before is None else f" since {moment(revised.before, zone, with_time=False)}"
        days = f" (of {revised.first})" if revised.first == revised.last else f" (of {revised.first} to {revised.last})"
    return f"{count_of(n, 'value')} changed{since}{days}"


def changed_lines(g: GaugeFetched, most: int = 12) -> list[str]:
    """Each value that changed, old and new as the service writes them."""
    changes = g.fetched.changes
    lines = [f"{c[1]}: was {c[2] or 'empty'}, is {c[3] or 'empty'}" for c in changes.head(most).itertuples(index=False)]
    return lines + ([f"… and {len(changes) - most} more"] if len(changes) > most else [])


def moment(at: datetime.datetime, zone: str, *, with_time: bool = True) -> str:
    """“Tue 3 November 2026, 14:05” in the workspace's zone."""
    local = at.astimezone(zoneinfo.ZoneInfo(zone))
    return long_date(pd.Timestamp(local.date())) + (f", {local:%H:%M}" if with_time else "")


def no_copy(gauge: str, service: str, station: str, folder: str, failure: str | None) -> str:
    """A gauge without any values."""
    tried = "" if failure is None else f" (the last try failed: {failure})"
    return (
        f"gauge “{gauge}” names the service {service}, station {station}, of which no copy is kept here{tried}; "
        f"“resurgence fetch {folder}” brings it"
    )


def kept(gauge: str, copy: Copy, day: pd.Timestamp, zone: str) -> str:
    """When the values of a gauge came, and why they are not newer."""
    what = f"{gauge} rests on values of {copy.service} {copy.station}"
    if copy.retrieved is None:
        came = f"{what}, which came on a day that is not known"
    else:
        came = f"{what}, retrieved {moment(copy.retrieved, zone)} ({_age(copy, day, zone)})"
    if copy.failure is None:
        return f"{came}."
    tried = "" if copy.tried is None else f" on {moment(copy.tried, zone)}"
    return f"{came}. That is a kept copy and may be out of date: the last try{tried} failed: {copy.failure}."


def stale_in_a_word(copy: Copy, zone: str) -> str:
    """For a line in which there is room for a few words."""
    of = "" if copy.retrieved is None else f" of {short_date(_day(copy.retrieved, zone))}"
    return f"kept copy{of}, the service failed since"


def doubts(gauge: str, copy: Copy, day: pd.Timestamp, zone: str) -> list[str]:
    """What every answer warns of: a copy that is out of date, values that changed lately."""
    found = []
    if copy.stale:
        found.append(kept(gauge, copy, day, zone))
    revised = copy.revised
    if revised is not None and (day - _day(revised.noticed, zone)).days <= REVISION_TOLD_DAYS:
        noticed = short_date(_day(revised.noticed, zone))
        found.append(
            f"{gauge}: {changed(revised.count, copy, zone)}, noticed {noticed}; what they were is kept in revisions.csv."
        )
    return found


def _age(copy: Copy, day: pd.Timestamp, zone: str) -> str:
    if copy.retrieved is None:
        return "of unknown age"
    days = (day - _day(copy.retrieved, zone)).days
    return "today" if days == 0 else f"{count_of(days, 'day')} old" if days > 0 else "after the day asked"


def _day(at: datetime.datetime, zone: str) -> pd.Timestamp:
    return pd.Timestamp(at.astimezone(zoneinfo.ZoneInfo(zone)).date())
