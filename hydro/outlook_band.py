"""The band of discharge around an outlook."""

from __future__ import annotations

import numpy as np

from hydro.outlook_record import OutlookRecord
from hydro.state_runs import Floats, Ints

#: By this lead the discharge band takes climatology at its full weight; before, in proportion [days].
_CLIMATE_FULL = 30.0


def discharge_band(
    record: OutlookRecord, z: Floats, like: Ints, ahead: Ints, climate_weight: Floats, level: float
) -> Floats:
    """Low, median and high discharge [m³/s] by day: quantiles of members and of like days, weighed together."""
    after = np.concatenate((record.z, np.full(len(ahead), np.nan)))
    some = like[:: max(1, len(like) // 150)]
    both = np.concatenate((z, after[some + ahead[:, None]]), axis=1)
    known = ~np.isnan(both)
    is_climate = np.arange(both.shape[1]) >= z.shape[1]
    n_climate, n_members = known[:, is_climate].sum(axis=1), known[:, ~is_climate].sum(axis=1)
    ramped = climate_weight * np.minimum(1.0, ahead / _CLIMATE_FULL)
    share = np.where(n_members == 0, 1.0, np.where(n_climate == 0, 0.0, ramped))
    each = np.where(
        is_climate, (share / np.maximum(n_climate, 1))[:, None], ((1 - share) / np.maximum(n_members, 1))[:, None]
    )
    order = np.argsort(both, axis=1)
    sorted_z = np.take_along_axis(both, order, axis=1)
    reached = np.cumsum(np.take_along_axis(np.where(known, each, 0.0), order, axis=1), axis=1)
    out = np.full((3, len(ahead)), np.nan)
    has_any = known.any(axis=1)
    for k, q in enumerate(((1 - level) / 2, 0.5, (1 + level) / 2)):
        at = np.argmax(reached >= q - 1e-12, axis=1)
        out[k] = np.where(has_any, record.rule.discharge(sorted_z[np.arange(len(ahead)), at]), np.nan)
    return out
