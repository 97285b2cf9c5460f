"""What came after an alert, and how often warnings were right.

A warning is an alert of a level or of a chance. Its lead is counted from the day its condition began to the first dry
day, as the levels were judged when they were chosen; its notice from the day it was raised, which is what people had.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd
from scipy.special import betaincinv

from dashboard.watch.rules import Promise
from hydro.dry_spells import DrySpells

#: hit: it stopped, early enough and within the days · late: it stopped too soon after · same-day: it began on the day
#: of the stop, or the outlet was dry already · false: it was over, or the days had passed, before it stopped · open:
#: the days are not over · not-known: days without a known state stand between · stood-already: the condition began
#: before the rule was watched, so it says nothing about the rule
OUTCOMES = ("hit", "late", "same-day", "false", "open", "not-known", "stood-already")
#: Outcomes of warnings that a stop followed.
FOLLOWED = ("hit", "late")
#: Fewer stops than this tell nothing about a promise.
FEWEST = 5
#: A warning given again within so many days of the end of the one before is the same one [days].
EPISODE_DAYS = 14
LEVEL = 0.95
_DAY = pd.Timedelta(days=1)


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What came after one warning; `lead_days` from its beginning and `notice_days` from its raising to `stopped`."""

    word: str
    stopped: pd.Timestamp | None = None
    lead_days: int | None = None
    notice_days: int | None = None


def outcome_of(
    dry: DrySpells,
    since: pd.Timestamp,
    raised: pd.Timestamp,
    over: pd.Timestamp | None,
    *,
    needed_days: int,
    judged_days: int,
) -> Outcome:
    """The outcome of a warning that began on `since`, was raised on `raised` and over on `over` (civil days).

    over          None while it stands
    needed_days   least lead of a hit [days]; judged_days   it has to stop within so many days of `since` [days]
    """
    states, firsts = dry.states, dry.joined["first"]
    if states.get(since) == "dry":
        return Outcome(word="same-day", stopped=since, lead_days=0, notice_days=(since - raised).days)
    end = since + pd.Timedelta(days=judged_days)
    if over is not None:
        end = min(end, over)
    after = firsts[(firsts > since) & (firsts <= end)]
    until = end if after.empty else after.iloc[0]
    if states.index[0] > since or bool((states.loc[since:until] == "unknown").any()):
        return Outcome(word="not-known", stopped=None if after.empty else until)
    if after.empty:
        return Outcome(word="open" if states.index[-1] < end else "false")
    lead = (until - since).days
    word = "hit" if lead >= needed_days else "late"
    return Outcome(word=word, stopped=until, lead_days=lead, notice_days=(until - raised).days)


@dataclass(frozen=True, kw_only=True)
class Episode:
    """Warnings that are one: when the first began, and when the last was over (None while it stands)."""

    since: pd.Timestamp
    over: pd.Timestamp | None


@dataclass(frozen=True, kw_only=True)
class Stops:
    """Stops by how they were told: in time, late, not at all, too soon after the last for anything to, not known."""

    hits: int = 0
    late: int = 0
    missed: int = 0
    too_soon: int = 0
    not_known: int = 0


def stops_told(
    dry: DrySpells, episodes: Sequence[Episode], rule_since: pd.Timestamp, *, needed_days: int, judged_days: int
) -> Stops:
    """How the stops after `rule_since` were told (short interruptions joined).

    Where a warning still stands as the water comes back, and the outlet stops again before it was over, the lead
    counts from the first running day: no new message goes out, but whoever looks is warned.
    """
    found: Counter[str] = Counter()
    before: pd.Timestamp | None = None
    for spell in dry.joined.to_dict("records"):
        first, last = spell["first"], before
        before = spell["last"]
        if first <= rule_since:
            continue
        standing = [e.since for e in episodes if e.since <= first and (e.over is None or e.over > first)]
        begin = max([*standing[-1:], rule_since, *([] if last is None else [last + _DAY])])
        lead = (first - begin).days
        if not spell["start_certain"] or bool((dry.states.loc[begin:first] == "unknown").any()):
            found["not_known"] += 1
        elif last is not None and (first - last).days - 1 < needed_days:
            found["too_soon"] += 1
        elif not standing or lead < 1 or lead > judged_days:
            found["missed"] += 1
        else:
            found["hits" if lead >= needed_days else "late"] += 1
    return Stops(**found)


@dataclass(frozen=True, kw_only=True)
class Share:
    """A share with its exact binomial interval; all None where nothing has been counted."""

    hits: int
    n: int
    value: float | None
    low: float | None
    high: float | None


def share(hits: int, n: int, level: float = LEVEL) -> Share:
    """`hits` out of `n` (Clopper and Pearson 1934, Biometrika 26:404–413)."""
    if n == 0:
        return Share(hits=0, n=0, value=None, low=None, high=None)
    tail = (1.0 - level) / 2.0
    low = 0.0 if hits == 0 else float(betaincinv(hits, n - hits + 1, tail))
    high = 1.0 if hits == n else float(betaincinv(hits + 1, n - hits, 1.0 - tail))
    return Share(hits=hits, n=n, value=hits / n, low=low, high=high)


@dataclass(frozen=True, kw_only=True)
class Tally:
    """How one rule did since it was watched: the stops by how they were told, the warnings by what came after."""

    outlet: str
    kind: str
    since: str
    promised: Promise
    judged_days: int
    needed_days: int
    stops: Stops
    followed: int = 0
    false_alerts: int = 0
    open: int = 0
    not_known: int = 0

    @property
    def hit_rate(self) -> Share:
        """Stops that were told early enough, of all stops that could be."""
        return share(self.stops.hits, self.stops.hits + self.stops.late + self.stops.missed)

    @property
    def false_alarm_ratio(self) -> Share:
        """Warnings that no stop followed, of those and the ones that one did. Not the rate per day without a stop."""
        return share(self.false_alerts, self.followed + self.false_alerts)
