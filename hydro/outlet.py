"""An outlet: which water it depends on, and the levels at which it stops and restarts."""

from __future__ import annotations

from dataclasses import dataclass

from hydro.units import Quantity


@dataclass(frozen=True, kw_only=True)
class Outlet:
    """One spring outlet.

    flow             id of the combined flow, or of the single gauge, that governs it
    stops_below      dry when discharge < this level (strictly); None = a perennial outlet
    restarts_above   running again when discharge >= this level; None = the stop level
    stop_days        consecutive days below before it counts as dry [days]
    restart_days     consecutive days at or above before it counts as running [days]
    learnt           the level that was taken over from what people saw; None = never done
    alert_at         discharge at or below which an alert is wanted; None = none set
    join_days        dry spells separated by at most this many running days are also listed as one [days]

    Raises ValueError where the restart level lies below the stop level or a number of days is out of range.
    """

    id: str
    title: str
    flow: str
    stops_below: Quantity | None = None
    restarts_above: Quantity | None = None
    stop_days: int = 1
    restart_days: int = 1
    join_days: int = 5
    learnt: Quantity | None = None
    alert_at: Quantity | None = None

    def __post_init__(self) -> None:
        if self.stop_days < 1 or self.restart_days < 1 or self.join_days < 0:
            raise ValueError("stop_days and restart_days are at least 1, join_days at least 0")
        if self.stops_below is None and self.restarts_above is not None:
            raise ValueError("restarts_above needs stops_below")
        if self.stop_m3s is not None and self.restart_m3s is not None and self.restart_m3s < self.stop_m3s:
            raise ValueError("restarts_above lies below stops_below")

    @property
    def perennial(self) -> bool:
        return self.stops_below is None

    @property
    def level_is_learnt(self) -> bool:
        """True while the stop level is the one taken over from what people saw."""
        return self.learnt is not None and self.learnt == self.stops_below

    @property
    def stop_m3s(self) -> float | None:
        """Stop level [m³/s]."""
        return None if self.stops_below is None else self.stops_below.m3s

    @property
    def restart_m3s(self) -> float | None:
        """Restart level [m³/s]; the stop level where none is set."""
        return self.stop_m3s if self.restarts_above is None else self.restarts_above.m3s
