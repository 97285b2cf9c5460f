"""The words of an alert: its title, its message, and lines about it."""

from __future__ import annotations

import datetime
import zoneinfo
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.wording import cautions
from dashboard.wording.numbers import chance, count_of, days_only, discharge, long_date
from hydro.flow_state import FRESH_DAYS

if TYPE_CHECKING:
    from dashboard.watch.alert import Alert

TEST_TITLE = "Test of the alerts"
TEST_TEXT = "This is a test. Nothing has happened: somebody tried whether messages arrive."
REPEATED = "This may reach you twice: an earlier attempt to send it was cut off."
KIND_WORDS = {
    "level": "at or below the alert level",
    "chance": "a stop became likely enough to tell",
    "stopped": "stopped",
    "running-again": "running again",
    "no-reading": "no reading from a gauge",
    "revised": "past days revised",
    "visit-due": "a visit is due",
}


def headline(alert: Alert, unit: str) -> str:
    """A few words for a subject line: the outlet and what happened."""
    level = "" if alert.level_m3s is None else discharge(alert.level_m3s, unit)
    what = {
        "level": f"discharge at or below {level}",
        "chance": f"{_chance(alert)} that it stops within {alert.within_days} days",
        "stopped": "has stopped, by its discharge",
        "running-again": "is running again, by its discharge",
        "no-reading": f"no reading from {alert.gauge} for {alert.hours} hours",
        "revised": f"the record of {count_of(alert.days or 0, 'past day')} changed",
        "visit-due": "nobody has searched since the water came back",
    }[alert.kind]
    return f"{alert.title}: {what}"


def message(alert: Alert, unit: str, zone: str) -> str:
    """The whole message: what happened, how sure, what it rests on, and the cautions."""
    lines = [what_happened(alert, unit, zone)]
    if alert.kind not in ("no-reading", "revised"):
        lines += rests_on(alert, unit)
    if alert.kind == "visit-due":
        lines.append(cautions.DISTURBANCE)
    elif alert.kind not in ("no-reading", "revised"):
        lines.append(cautions.NOT_A_WARNING)
    lines += [cautions.PROVISIONAL, f"Alert {alert.id}, raised {instant(alert.raised_at, zone)}."]
    return "\n\n".join(lines)


def what_happened(alert: Alert, unit: str, zone: str) -> str:
    """The first sentence."""
    name = alert.title
    level = "" if alert.level_m3s is None else discharge(alert.level_m3s, unit)
    if alert.kind == "no-reading":
        return (
            f"{alert.gauge}, on which {name} depends, has given no reading since {instant(alert.since, zone)}, "
            f"{alert.hours} hours ago. What the outlet does since then is not measured."
        )
    day = _day(alert.since)
    if alert.kind == "level":
        return (
            f"The discharge of {name} reached the alert level of {level} on {day} and has not been clear of it since."
        )
    if alert.kind == "chance":
        return (
            f"The chance that {name} stops within {alert.within_days} days is {_chance(alert)} by the outlook from the "
            f"reading of {day}."
        )
    if alert.kind == "stopped":
        return f"{name} has been dry since {day}, by discharge below {level}."
    if alert.kind == "running-again":
        return f"{name} has been running again since {day}, by discharge at or above {level}."
    if alert.kind == "visit-due":
        return f"{name} has been running again since {day}, {days_only(alert.days or 0)} ago, and nobody has searched it since."
    parts = [
        f"{n} now {word}"
        for n, word in ((alert.now_dry, "dry"), (alert.now_running, "running"), (alert.now_unknown, "not known"))
        if n
    ]
    n, one = alert.days or 0, alert.first_changed == alert.last_changed
    when = f"on {day}" if one else f"between {day} and {_day(alert.last_changed or '')}"
    return (
        f"The gauges' past values for {name} were changed: {count_of(n, 'day')} {when} {'has' if n == 1 else 'have'} "
        f"another state than known before ({', '.join(parts)}). Dry spells, lags and levels worked out earlier may "
        "have changed with them."
    )


def rests_on(alert: Alert, unit: str) -> list[str]:
    """How sure, and on which reading."""
    lines = []
    if alert.discharge_m3s is not None and alert.reading_day is not None:
        marked = ", provisional" if alert.provisional else ""
        error = "" if alert.error_percent is None else f" (error up to {alert.error_percent:.2g} % in 95 of 100 cases)"
        lines.append(
            f"Last reading: {discharge(alert.discharge_m3s, unit)} on {_day(alert.reading_day)}{marked}{error}."
        )
        age = (pd.Timestamp(alert.raised_day) - pd.Timestamp(alert.reading_day)).days
        if age > FRESH_DAYS:
            lines.append(f"That reading is {days_only(age)} old: what holds now may be something else.")
    if alert.probability_running is not None:
        lines.append(f"Everything weighed, it is running now with a chance of {chance(alert.probability_running)}.")
    if alert.kind == "level" and alert.probability_stopping is not None and alert.within_days is not None:
        lines.append(f"Chance that it stops within {alert.within_days} days: {_chance(alert)}.")
    if alert.probability_stopping is not None and alert.weak_because is not None:
        lines.append(f"The outlook behind that chance is a rough guide: {alert.weak_because}.")
    return lines


def late(alert: Alert, now: datetime.datetime, zone: str) -> str | None:
    """A line for a message that goes out more than a day after it was raised."""
    age = now - datetime.datetime.fromisoformat(alert.raised_at)
    if age < datetime.timedelta(days=1):
        return None
    return f"This message is late: it was raised {instant(alert.raised_at, zone)} and could not be sent before."


def instant(text: str, zone: str) -> str:
    """“Tue 4 March 2025, 14:05” on the workspace's clock."""
    at = datetime.datetime.fromisoformat(text).astimezone(zoneinfo.ZoneInfo(zone))
    return f"{long_date(pd.Timestamp(at.date()))}, {at:%H:%M}"


def _day(iso: str) -> str:
    return long_date(pd.Timestamp(iso)) if iso else "an unknown day"


def _chance(alert: Alert) -> str:
    return "not known" if alert.probability_stopping is None else chance(alert.probability_stopping)
