"""What a workspace asks to be told, and through which channels: settings only, nothing is judged or sent here."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field

from hydro.units import Quantity

#: level: discharge at or below a level · chance: probability of stopping within some days · stopped, running-again:
#: the outlet's state changed · no-reading: a gauge is silent · revised: past states changed · visit-due: nobody has
#: searched since the water came back
LEVEL, CHANCE, STOPPED, RUNNING_AGAIN = "level", "chance", "stopped", "running-again"
NO_READING, REVISED, VISIT_DUE = "no-reading", "revised", "visit-due"
KINDS = (LEVEL, CHANCE, STOPPED, RUNNING_AGAIN, NO_READING, REVISED, VISIT_DUE)
#: Kinds that foretell a stop, so that they can turn out right or wrong.
WARNINGS = (LEVEL, CHANCE)
#: Without level_clears, discharge has to rise so much above the level before the level can be told again.
CLEARS_RATIO = 1.1
#: The chance of stopping has to fall to this share of the set one before it can be told again.
CHANCE_CLEARS = 0.75


@dataclass(frozen=True, kw_only=True)
class Promise:
    """What was promised when the rules were set; None = nothing was."""

    lead_days: int | None = None
    hit_rate: float | None = None
    false_alarm_ratio: float | None = None


@dataclass(frozen=True, kw_only=True)
class AlertRules:
    """What to tell of one outlet; None or False = not asked for.

    level             told when discharge is at or below it
    level_clears      it can be told again after discharge was at or above this one; None = CLEARS_RATIO times level
    chance            told when the chance of stopping within `chance_days` days reaches it
    stopped, running_again   told when the state changes
    no_reading_hours  told when a gauge has no reading for so long [hours]
    revised           told when the gauges' past values change so that a past day changes its state
    visit_due_days    told when nobody has searched so many days after the water came back [days]
    quiet_hours       the same kind is told again for the same outlet no sooner than this [hours]
    judged_days       a warning was right if the outlet stops within so many days [days]
    """

    outlet: str
    level: Quantity | None = None
    level_clears: Quantity | None = None
    chance: float | None = None
    chance_days: int = 30
    stopped: bool = False
    running_again: bool = False
    no_reading_hours: int | None = None
    revised: bool = False
    visit_due_days: int | None = None
    quiet_hours: int = 24
    judged_days: int = 90
    promised: Promise = field(default_factory=Promise)

    def asks(self, kind: str) -> bool:
        """Whether this kind is to be told."""
        return {
            LEVEL: self.level is not None,
            CHANCE: self.chance is not None,
            STOPPED: self.stopped,
            RUNNING_AGAIN: self.running_again,
            NO_READING: self.no_reading_hours is not None,
            REVISED: self.revised,
            VISIT_DUE: self.visit_due_days is not None,
        }[kind]

    @property
    def kinds(self) -> tuple[str, ...]:
        return tuple(k for k in KINDS if self.asks(k))

    @property
    def clears_m3s(self) -> float | None:
        """Discharge at which the level can be told again [m³/s]."""
        if self.level is None:
            return None
        return self.level.m3s * CLEARS_RATIO if self.level_clears is None else self.level_clears.m3s

    def digest(self, kind: str) -> str:
        """Names the rule of one kind: another digest is another rule, whose tally starts anew."""
        parts: dict[str, object] = {
            LEVEL: self.level and [self.level.m3s, self.clears_m3s],
            CHANCE: [self.chance, self.chance_days],
            NO_READING: self.no_reading_hours,
            VISIT_DUE: self.visit_due_days,
        }
        promise = [self.judged_days, asdict(self.promised)] if kind in WARNINGS else None
        return hashlib.sha256(json.dumps([kind, parts.get(kind), promise]).encode()).hexdigest()[:16]


@dataclass(frozen=True, kw_only=True)
class Channel:
    """One way to tell somebody.

    how    "message" (an address of the messaging library), "json" (a web address that takes JSON), "feed" (a file)
    named  the name under which the secret address is found; for a feed, the file
    """

    id: str
    how: str
    named: str


@dataclass(frozen=True, kw_only=True)
class WatchSettings:
    """The table [watch]: where the addresses are kept and who is told."""

    secrets_file: str | None = None
    send_limit_seconds: int = 20
    channels: Mapping[str, Channel] = field(default_factory=dict)
