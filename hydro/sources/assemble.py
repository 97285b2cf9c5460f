"""Readable rows of one series -> a checked `Discharge`: sorted, repeats settled, step found, doubts noted."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from hydro.discharge import DAILY, Discharge, Origin, make_frame
from hydro.sources.row_flags import RowFlags, approval_categorical
from hydro.sources.time_steps import IRREGULAR, commonest_steps, find_step, usual_step
from hydro.suspicious import sentences, suspicious_runs

_DAY = 86_400_000_000  # [µs]
_MOST_SHOWN = 3


@dataclass(frozen=True, eq=False, kw_only=True)
class SeriesRows:
    """The readable rows of one series in file order: numbers only, so that the texts they were read from can go.

    `stamps` are datetime64[us] without NaT: civil days, or UTC instants. `values_m3s` [m³/s] with NaN for missing,
    `approval` positions in APPROVALS, `raw` texts by position.
    """

    stamps: np.ndarray
    daily: bool
    values_m3s: np.ndarray
    flags: RowFlags
    approval: np.ndarray
    rows: np.ndarray
    raw: dict[int, str]
    origin: Origin


def assemble(given: SeriesRows) -> Discharge:
    """Build a series. Rows with the same stamp and value are dropped; where values differ the first that is a number
    is kept and flagged “duplicate”."""
    stamps, values_m3s, flags = given.stamps, given.values_m3s, given.flags
    approval, rows, raw, daily, origin = given.approval, given.rows, given.raw, given.daily, given.origin
    said: list[str] = []
    order, sorting = _order(stamps)
    if sorting:
        said.append(sorting)
    if order is not None:
        inverse = np.empty_like(order)
        inverse[order] = np.arange(len(order))
        raw = {int(inverse[p]): text for p, text in raw.items()}
        stamps, values_m3s, approval, rows = stamps[order], values_m3s[order], approval[order], rows[order]
        flags = flags.take(order)
    keep, contradicted, repeats = _settle_repeats(stamps, values_m3s)
    if keep is not None:
        said.extend(repeats)
        flags = flags.merged(RowFlags.where(contradicted, "duplicate"))
        position = np.cumsum(keep) - 1
        raw = {int(position[p]): text for p, text in raw.items() if keep[p]}
        stamps, values_m3s, approval, rows = stamps[keep], values_m3s[keep], approval[keep], rows[keep]
        flags = flags.take(np.flatnonzero(keep))
    if daily:
        step = DAILY
        said.extend(_day_spacing(stamps))
    else:
        step = find_step(stamps)
        if step == IRREGULAR and len(stamps) > 1:
            said.append(f"The stamps have no regular step ({commonest_steps(stamps)}), so that gaps cannot be named.")
    said.extend(_doubts(stamps, values_m3s, origin.unit, daily))

    index = pd.DatetimeIndex(stamps)
    if not daily:
        index = index.tz_localize("UTC")
    frame = make_frame(
        index,
        values_m3s,
        approval=approval_categorical(approval),
        flags=flags.categorical(),
        row=np.asarray(rows, dtype=np.int64),
    )
    places = sorted(raw)
    texts = pd.Series([raw[p] for p in places], index=index[places], dtype=object)
    return Discharge(frame=frame, step=step, origins=(replace(origin),), raw=texts, notes=tuple(said))


def value_doubts(series: Discharge) -> tuple[str, ...]:
    """What the values of a series leave doubtful, as `assemble` notes it."""
    stamps = series.frame.index.tz_localize(None) if series.frame.index.tz is not None else series.frame.index
    ticks = stamps.to_numpy().astype("M8[us]")
    return tuple(_doubts(ticks, series.values.to_numpy(), series.origins[0].unit, series.daily))


def usable_rows(
    usable: np.ndarray,
    *,
    stamps: np.ndarray,
    daily: bool,
    values_m3s: np.ndarray,
    flags: RowFlags,
    approval: np.ndarray,
    rows: np.ndarray,
    raw: dict[int, str],
    origin: Origin,
) -> SeriesRows | None:
    """The rows where `usable`; None where there are none. Arrays cover the whole table."""
    if usable.all():
        chosen: np.ndarray | slice = slice(None)
    else:
        chosen = np.flatnonzero(usable)
        place = {p: i for i, p in enumerate(chosen.tolist())} if raw else {}
        raw = {place[p]: text for p, text in raw.items() if p in place}
        flags = flags.take(chosen)
    if not usable.any():
        return None
    return SeriesRows(
        stamps=stamps[chosen],
        daily=daily,
        values_m3s=values_m3s[chosen],
        flags=flags,
        approval=approval[chosen],
        rows=rows[chosen],
        raw=raw,
        origin=origin,
    )


def _order(stamps: np.ndarray) -> tuple[np.ndarray | None, str]:
    ticks = stamps.view(np.int64)
    backwards = ticks[1:] < ticks[:-1]
    if not backwards.any():
        return None, ""
    order = np.argsort(stamps, kind="stable")
    if not (ticks[1:] > ticks[:-1]).any():
        return order, "The rows ran backwards in time and were sorted."
    count = int(backwards.sum())
    return order, f"{count} row{'s were' if count > 1 else ' was'} out of order in time; all were sorted."


def _settle_repeats(stamps: np.ndarray, values: np.ndarray) -> tuple[np.ndarray | None, np.ndarray, list[str]]:
    """(rows to keep or None for all, kept rows that another row contradicts, notes)."""
    same = stamps[1:] == stamps[:-1]
    n = len(stamps)
    contradicted = np.zeros(n, bool)
    if not same.any():
        return None, contradicted, []
    keep = np.ones(n, bool)
    equal = different = 0
    starts = np.flatnonzero(np.append(True, ~same) & np.append(same, False))
    examples = []
    for start in starts.tolist():
        end = start + 1
        while end < n and same[end - 1]:
            end += 1
        group = values[start:end]
        known = np.flatnonzero(~np.isnan(group))
        chosen = start + (int(known[0]) if known.size else 0)
        keep[start:end] = False
        keep[chosen] = True
        others = np.delete(group, chosen - start)
        if known.size and not (others == values[chosen]).all():
            contradicted[chosen] = True
            different += len(others)
            examples.append(str(stamps[start].astype("datetime64[m]")))
        else:
            equal += len(others)
    notes = []
    if equal:
        notes.append(f"{equal} repeated row{'s' if equal > 1 else ''} with the same stamp and value dropped.")
    if different:
        shown = ", ".join(examples[:_MOST_SHOWN]) + (" …" if len(examples) > _MOST_SHOWN else "")
        notes.append(
            f"{len(examples)} stamp{'s' if len(examples) > 1 else ''} with more than one value ({shown}): the first is "
            "kept and flagged “duplicate”."
        )
    return keep, contradicted, notes


def _day_spacing(days: np.ndarray) -> list[str]:
    step = usual_step(days)
    if step is not None and step > _DAY:
        return [f"The dates lie {step // _DAY} days apart, so most days have no value."]
    if step is None and len(days) > 3:
        middle = int(np.median(np.diff(days.view(np.int64)))) // _DAY
        if middle >= 28:
            return [f"The dates lie about {middle} days apart: monthly values are no daily discharge."]
    return []


def _doubts(stamps: np.ndarray, values: np.ndarray, unit: str, daily: bool) -> list[str]:
    """Negative discharge, and stretches that look like stuck sensors, fillers or mistakes."""
    notes = []
    negative = int((values < 0).sum())
    if negative:
        notes.append(f"{negative} negative value{'s' if negative > 1 else ''} kept: backflow, or a doubtful rating.")
    return [*notes, *sentences(suspicious_runs(stamps, values, unit, daily=daily), stamps)]
