"""How long after each dry spell animals were seen again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from dashboard.answers.answer import Header, Table, by_name, header, interval, number
from dashboard.answers.return_json import ELAPSED, corrected_json, fit_json, lag_json
from dashboard.workspace import Workspace
from ecology.interval_censored import Npmle, npmle
from ecology.interval_fits import IntervalFit, fit_intervals
from ecology.interval_likelihood import Distribution
from ecology.missed_animals import MissedAnimalsFit, fit_missed_animals
from ecology.not_estimable import NotEstimable
from ecology.npmle_bootstrap import BootstrapBands, bootstrap_npmle
from ecology.return_lag import FEWEST_SPELLS, ReturnLags, return_lags
from ecology.returned_by import returned_by_interval

DAYS = (7, 14, 30, 60, 90, 180)
DRAWS = 500
#: Shapes fitted to the intervals at face value.
SHAPES: tuple[Distribution, ...] = ("weibull", "lognormal", "loglogistic")
FACE_VALUE = "curve, returned_by, median_days and fits take first finds at face value"


@dataclass(frozen=True, eq=False, kw_only=True)
class OutletReturns:
    """One outlet's lags.

    `lags` is None where `why` says so, `curve` and `bands` where `why_no_curve` does, `corrected` (allowing for missed
    animals) where `why_not_corrected` does. `fits` has a fit or the reason for its absence by shape.
    """

    outlet: str
    title: str
    lags: ReturnLags | None
    curve: Npmle | None
    bands: BootstrapBands | None
    returned_low: np.ndarray
    returned_high: np.ndarray
    fits: dict[str, IntervalFit | str]
    corrected: MissedAnimalsFit | None
    why: str | None = None
    why_not_corrected: str | None = None
    why_no_curve: str | None = None

    @property
    def n_informative(self) -> int:
        return 0 if self.lags is None else int(self.lags.lags["informative"].sum())


@dataclass(frozen=True, eq=False, kw_only=True)
class ReturnsAnswer:
    """The answer to `returns`."""

    header: Header
    level: float
    seed: int
    outlets: tuple[OutletReturns, ...]

    def tables(self) -> list[Table]:
        found = []
        for o in self.outlets:
            if o.lags is not None:
                found.append(
                    Table(name=f"return-lags-{o.outlet}", title=f"Return lags at {o.title}", frame=o.lags.lags)
                )
                title = f"Searches behind the lags at {o.title}"
                found.append(Table(name=f"searches-{o.outlet}", title=title, frame=o.lags.searches))
            if o.curve is not None:
                mass = pd.DataFrame({"low_days": o.curve.low, "high_days": o.curve.high, "mass": o.curve.mass})
                found.append(
                    Table(name=f"return-curve-{o.outlet}", title=f"Returned-by curve at {o.title}", frame=mass)
                )
        return found

    def as_json(self) -> dict[str, object]:
        return self.header.as_json() | {"note": FACE_VALUE, "outlets": [self._outlet(o) for o in self.outlets]}

    def _outlet(self, o: OutletReturns) -> dict[str, object]:
        out: dict[str, object] = {"outlet": o.outlet, "title": o.title}
        if o.lags is None:
            return out | {"lags": None, "why": o.why}
        return out | {
            "lags": [lag_json(row) for row in o.lags.lags.to_dict("records")],
            "still_dry": o.lags.still_dry,
            "ended_unseen": o.lags.unseen,
            "n_informative": o.n_informative,
            "curve": self._curve(o),
            "returned_by": self._returned_by(o),
            "median_days": self._median(o),
            "why_no_curve": o.why_no_curve,
            "fits": {name: fit_json(fit) for name, fit in o.fits.items()},
            "fits_count": ELAPSED,
            "allowing_for_missed_animals": corrected_json(o.corrected, o.why_not_corrected),
        }

    def _curve(self, o: OutletReturns) -> list[dict[str, object]] | None:
        if o.curve is None:
            return None
        steps = zip(o.curve.low, o.curve.high, o.curve.mass, strict=True)
        return [{"low_days": max(number(a) or 0.0, 0.0), "high_days": number(b), "mass": float(m)} for a, b, m in steps]

    def _returned_by(self, o: OutletReturns) -> list[dict[str, object]] | None:
        b = o.bands
        if b is None:
            return None
        found = []
        for i, day in enumerate(b.days.tolist()):
            least, most = float(b.by_low[i]), float(b.by_high[i])
            exact = most - least < 1e-9
            entry: dict[str, object] = {
                "days": int(day),
                "value": most if exact else None,
                "least": least,
                "most": most,
            }
            entry |= {"low": float(o.returned_low[i]), "high": float(o.returned_high[i]), "level": b.level}
            if not exact:
                entry["why"] = "between visits the curve is not defined; it lies between least and most"
            found.append(entry)
        return found

    def _median(self, o: OutletReturns) -> dict[str, object]:
        b = o.bands
        if b is None:
            return interval(None, None, None, self.level, o.why_no_curve)
        low, high = b.quantile_bounds
        why = None if np.isfinite(high) else "fewer than half of the spells are known to have seen animals again"
        out = interval(high, max(b.quantile_low, 0.0), b.quantile_high, self.level, why)
        return out | {"between": [max(low, 0.0), number(high)]}


def returns(
    workspace: Workspace, *, outlets: Sequence[str] = (), level: float = 0.95, seed: int = 1, draws: int = DRAWS
) -> ReturnsAnswer:
    """Lags of each outlet that can stop, with the returned-by curve where at least `FEWEST_SPELLS` spells tell."""
    found = [_outlet(workspace, id, level, seed, draws) for id in by_name(workspace.outlets, outlets)]
    return ReturnsAnswer(header=header(workspace), level=level, seed=seed, outlets=tuple(found))


def _outlet(workspace: Workspace, id: str, level: float, seed: int, draws: int) -> OutletReturns:
    title, dry = workspace.outlets[id].title, workspace.dry_spells[id]
    why = None
    if workspace.outlets[id].perennial:
        why = "no stop level is set, so there is no dry spell to return from"
    elif dry is None:
        why = "its discharge is never known"
    elif workspace.visits is None:
        why = "the workspace names no visits"
    none = np.zeros(0)
    if why is not None or dry is None or workspace.visits is None:
        return OutletReturns(
            outlet=id, title=title, lags=None, curve=None, bands=None, returned_low=none, returned_high=none, fits={},
            corrected=None, why=why, why_not_corrected=why,
        )  # fmt: skip
    lags = return_lags(dry, workspace.visits.at(id), workspace.as_of)
    low, high = lags.intervals()
    if len(low) < FEWEST_SPELLS:
        few = f"{len(low)} spells with searches after them; a curve needs at least {FEWEST_SPELLS}"
        return OutletReturns(
            outlet=id, title=title, lags=lags, curve=None, bands=None, returned_low=none, returned_high=none,
            fits=dict.fromkeys(SHAPES, few), corrected=None, why_no_curve=few, why_not_corrected=few,
        )  # fmt: skip
    bands = bootstrap_npmle(low, high, draws=draws, seed=seed, days=np.array(DAYS, float), level=level)
    returned_low, returned_high = returned_by_interval(low, high, bands)
    corrected, why_not = None, None
    try:
        corrected = fit_missed_animals(lags.histories(), distribution="lowest-aic", level=level)
    except NotEstimable as error:
        why_not = error.reason
    return OutletReturns(
        outlet=id,
        title=title,
        lags=lags,
        curve=npmle(low, high),
        bands=bands,
        returned_low=returned_low,
        returned_high=returned_high,
        fits={shape: _shape(low, high, shape, level) for shape in SHAPES},
        corrected=corrected,
        why_not_corrected=why_not,
    )


def _shape(low: np.ndarray, high: np.ndarray, shape: Distribution, level: float) -> IntervalFit | str:
    """A fit to whole days, day d being the time (d, d + 1]; or why there is none."""
    try:
        return fit_intervals(np.maximum(low, -1.0) + 1.0, high + 1.0, shape, level=level)
    except NotEstimable as error:
        return error.reason
