"""What came after an alert, and how often warnings were right.

A warning is an alert of a level or of a chance. Its lead is counted from the day its condition began to the first dry
day, as the levels were judged when they were chosen; its notice from the day it was raised, which is what people had.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd
from scipy.special import betaincinv

from dashboard.watch.rules import Promise
from hydro.dry_spells import DrySpells

#: hit: it stopped, early enough and within the days · late: it stopped too soon after, or was dry already · false: it
#: did not stop within the days · open: the days are not over · not-known: days without a known state stand between
#: stood-already: the condition began before the rule was watched, so it says nothing about the rule
OUTCOMES = ("hit", "late", "false", "open", "not-known", "stood-already")
#: Fewer stops than this tell nothing about a promise.
FEWEST = 5
LEVEL = 0.95


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What came after one warning; `lead_days` from its beginning and `notice_days` from its raising to `stopped`."""

    word: str
    stopped: pd.Timestamp | None = None
    lead_days: int | None = None
    notice_days: int | None = None


def outcome_of(
    dry: DrySpells, since: pd.Timestamp, raised: pd.Timestamp, *, needed_days: int, judged_days: int
) -> Outcome:
    """The outcome of a warning that began on `since` and was raised on `raised` (civil days).

    needed_days   least lead of a hit [days]; judged_days   it has to stop within so many days of `since` [days]
    """
    end = since + pd.Timedelta(days=judged_days)
    states = dry.states
    before = states.loc[:since]
    if len(before) and before.iloc[-1] == "dry" and before.index[-1] == since:
        return Outcome(word="late", stopped=since, lead_days=0, notice_days=(since - raised).days)
    spells = dry.spells
    after = spells[(spells["first"] > since) & (spells["first"] <= end)]
    watched = states.loc[since : min(end, states.index[-1])]
    if after.empty:
        if bool((watched == "unknown").any()) or states.index[0] > since:
            return Outcome(word="not-known")
        return Outcome(word="open" if states.index[-1] < end else "false")
    first = after["first"].iloc[0]
    if bool((states.loc[since:first] == "unknown").any()):
        return Outcome(word="not-known", stopped=first)
    lead = (first - since).days
    word = "hit" if lead >= needed_days else "late"
    return Outcome(word=word, stopped=first, lead_days=lead, notice_days=(first - raised).days)


def missed(dry: DrySpells, warned: Sequence[pd.Timestamp], rule_since: pd.Timestamp, judged_days: int) -> int:
    """Stops since the rule was watched that no warning came before (short interruptions joined)."""
    firsts = dry.joined["first"]
    firsts = firsts[(firsts > rule_since) & dry.joined["start_certain"].to_numpy(bool)]
    span = pd.Timedelta(days=judged_days)
    return sum(not any(since <= first <= since + span for since in warned) for first in firsts)


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
    """How the warnings of one rule did since it was watched."""

    outlet: str
    kind: str
    since: str
    promised: Promise
    judged_days: int
    needed_days: int
    hits: int = 0
    late: int = 0
    missed: int = 0
    false_alerts: int = 0
    open: int = 0
    not_known: int = 0

    @property
    def hit_rate(self) -> Share:
        """Stops that were told early enough, of all stops."""
        return share(self.hits, self.hits + self.late + self.missed)

    @property
    def false_alarm_ratio(self) -> Share:
        """Warnings that no stop followed, of all warnings whose time is over. Not the rate per day without a stop."""
        return share(self.false_alerts, self.hits + self.late + self.false_alerts)
