"""Where does each outlet stop and restart, judging by what people saw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from dashboard.answers.answer import Header, Table, by_name, header, interval, iso, number, quantity
from dashboard.answers.sightings import sightings_of
from dashboard.workspace import Workspace
from hydro.level_estimate import Level, LevelEstimate
from hydro.outlet import Outlet
from hydro.threshold import estimate_level
from hydro.units import from_m3s

#: Resamples of whole episodes beside the profile interval, as a check of it.
DRAWS = 200


@dataclass(frozen=True, eq=False, kw_only=True)
class OutletLevel:
    """One outlet's levels; `estimate` is None where `why` says so. `sightings` are all rows with a surface."""

    outlet: Outlet
    flow_title: str
    sightings: pd.DataFrame
    estimate: LevelEstimate | None
    why: str | None = None


@dataclass(frozen=True, eq=False, kw_only=True)
class ThresholdAnswer:
    """The answer to `threshold`."""

    header: Header
    level: float
    seed: int
    outlets: tuple[OutletLevel, ...]

    def tables(self) -> list[Table]:
        found = []
        for o in self.outlets:
            id, title = o.outlet.id, o.outlet.title
            found.append(Table(name=f"sightings-{id}", title=f"Sightings at {title}", frame=o.sightings))
            if o.estimate is not None:
                frames = {
                    "contradictions": o.estimate.contradictions,
                    "level-curve": o.estimate.curve,
                    "sightings-left-out": o.estimate.left_out,
                }
                for name, frame in frames.items():
                    words = name.replace("-", " ").capitalize()
                    found.append(Table(name=f"{name}-{id}", title=f"{words} at {title}", frame=frame))
        return found

    def as_json(self) -> dict[str, object]:
        return self.header.as_json() | {"outlets": [self._outlet(o) for o in self.outlets]}

    def _outlet(self, o: OutletLevel) -> dict[str, object]:
        unit, e = self.header.unit, o.estimate
        out: dict[str, object] = {
            "outlet": o.outlet.id,
            "title": o.outlet.title,
            "set_level": None if o.outlet.stop_m3s is None else quantity(o.outlet.stop_m3s, unit),
            "set_restart_level": None if o.outlet.restart_m3s is None else quantity(o.outlet.restart_m3s, unit),
        }
        if e is None:
            return out | {"stop_level": None, "restart_level": None, "bracket": None, "why": o.why}
        contradictions = [
            {
                "date": iso(c["date"]),
                "surface": c["surface"],
                "discharge": quantity(c["discharge_m3s"], unit),
                "expected": c["expected"],
                "row": int(c["row"]),
                "against": c["against"],
                "probability": number(c["probability"]),
            }
            for c in e.contradictions.to_dict("records")
        ]
        return out | {
            "stop_level": self._level(e.stop_level),
            "restart_level": None if e.restart_level.value_m3s is None else self._level(e.restart_level),
            "why_no_restart_level": e.restart_level.why,
            "bracket": {
                "highest_dry": quantity(e.bracket.highest_dry_m3s, unit),
                "lowest_running": quantity(e.bracket.lowest_running_m3s, unit),
                "overlap": e.bracket.overlap,
            },
            "one_sided": e.one_sided,
            "n_running": e.n_running,
            "n_dry": e.n_dry,
            "n_pooled": e.n_pooled,
            "n_spells": e.n_spells,
            "n_left_out": len(e.left_out),
            "separated": e.separated,
            "contradictions": contradictions,
            "notes": list(e.notes),
        }

    def _level(self, level: Level) -> dict[str, object]:
        unit = self.header.unit

        def shown(value_m3s: float | None) -> float | None:
            return None if value_m3s is None else from_m3s(value_m3s, unit)

        found = [shown(v) for v in (level.value_m3s, level.low_m3s, level.high_m3s)]
        return interval(found[0], found[1], found[2], level.level, level.why) | {
            "unit": unit,
            "method": level.method,
            "resampled_low": shown(level.boot_low_m3s),
            "resampled_high": shown(level.boot_high_m3s),
            "variance_widened_by": level.inflation,
        }


def threshold(
    workspace: Workspace, *, outlets: Sequence[str] = (), level: float = 0.95, seed: int = 1, draws: int = DRAWS
) -> ThresholdAnswer:
    """Levels of each outlet from the sightings in the visits table."""
    found = [
        learn_level(workspace, id, level=level, seed=seed, draws=draws) for id in by_name(workspace.outlets, outlets)
    ]
    return ThresholdAnswer(header=header(workspace), level=level, seed=seed, outlets=tuple(found))


def learn_level(workspace: Workspace, id: str, *, level: float, seed: int, draws: int) -> OutletLevel:
    """The level of one outlet, from every visit that wrote down the surface."""
    outlet, flow = workspace.outlets[id], workspace.flow_of(id)
    why = None
    if workspace.visits is None:
        why = "the workspace names no visits"
    elif flow.empty:
        why = "its discharge is never known"
    sightings = sightings_of(workspace, id)
    if why is None and sightings.empty:
        why = "nobody has written down what the surface looked like"
    if why is not None:
        return OutletLevel(outlet=outlet, flow_title=flow.title, sightings=sightings, estimate=None, why=why)
    estimate = estimate_level(
        sightings,
        level=level,
        discharge_by_day=flow.values,
        set_level_m3s=outlet.stop_m3s,
        set_restart_m3s=outlet.restart_m3s,
        draws=draws,
        seed=seed,
    )
    return OutletLevel(outlet=outlet, flow_title=flow.title, sightings=sightings, estimate=estimate)
