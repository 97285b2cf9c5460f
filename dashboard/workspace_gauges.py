"""The gauges of a workspace: their files, or the copies kept of services, read into daily records."""

from __future__ import annotations

import glob
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from dashboard.wording import fetch as fetch_words
from dashboard.workspace_file import FILE_NAME
from dashboard.workspace_settings import GaugeSettings
from hydro.discharge import Discharge
from hydro.gauge_record import daily_record
from hydro.problems import InputError, Problem, SourceError
from hydro.services.kept import Copy, read_copy
from hydro.sources.assemble import value_doubts
from hydro.sources.recognise import read_gauge_file


@dataclass(frozen=True, eq=False, kw_only=True)
class Gauge:
    """One gauge: its settings, its parts as read and its daily record; of a service's gauge, how its copy came."""

    settings: GaugeSettings
    parts: tuple[Discharge, ...]
    daily: Discharge
    copy: Copy | None = None


def read_gauge(folder: Path, settings: GaugeSettings, zone: str, day: pd.Timestamp, warnings: list[str]) -> Gauge:
    """Read a gauge's files; the record ends on the civil day asked."""
    copy = None
    if settings.file is None:
        copy = _kept_copy(folder, settings)
        warnings.extend(fetch_words.doubts(settings.title, copy, day, zone))
    files = [copy.file] if copy is not None else _files(folder, settings.file or "")
    if not files:
        key = f"gauges.{settings.id}.file"
        raise InputError(
            [Problem(file=FILE_NAME, row=key, value=settings.file, expected="a file; none of this name exists")]
        )
    problems: list[Problem] = []
    parts: list[Discharge] = []
    cut: list[Discharge] = []
    end = (day + pd.Timedelta(days=1)).tz_localize(zone).tz_convert("UTC") - pd.Timedelta(1, "ns")
    choices = settings.choices
    if choices.time_zone is None:
        choices = replace(choices, time_zone=zone)
    for path in files:
        shown = str(path.relative_to(folder)) if path.is_relative_to(folder) else str(path)
        read = read_gauge_file(path, choices, shown_as=shown)
        try:
            parts.append(_with_retrieval(read.only_series(choices), copy))
        except InputError as error:
            problems.extend(error.problems)
            continue
        cut.append(parts[-1].until(day if parts[-1].daily else end))
        notes = read.notes
        if len(cut[-1].frame) < len(parts[-1].frame):
            # How a file was read is told of all of it; what its values leave doubtful, of those up to the day asked.
            later = value_doubts(parts[-1])
            notes = (*(n for n in notes if not n.endswith(later)), *value_doubts(cut[-1]))
        warnings.extend(f"{shown}: {note}" for note in notes)
    if problems:
        raise InputError(problems)
    return Gauge(settings=settings, parts=tuple(parts), daily=daily_record(cut, zone), copy=copy)


def _kept_copy(folder: Path, settings: GaugeSettings) -> Copy:
    """What was fetched of a gauge's station. Raises SourceError where nothing is kept."""
    service, station = str(settings.service), str(settings.station)
    copy = read_copy(folder, service, station)
    if not copy.has_values:
        raise SourceError(fetch_words.no_copy(settings.id, service, station, str(folder), copy.failure))
    return copy


def _with_retrieval(part: Discharge, copy: Copy | None) -> Discharge:
    """A series of a copy knows when the copy came."""
    if copy is None or copy.retrieved is None:
        return part
    stamp = copy.retrieved.isoformat(timespec="seconds")
    return replace(part, origins=tuple(replace(o, retrieved=stamp) for o in part.origins))


def reaches_beyond(part: Discharge, day: pd.Timestamp) -> bool:
    """Whether a part holds anything that the day asked may have cut off (a day's grace for zones)."""
    if part.frame.empty:
        return False
    last = part.frame.index[-1]
    return bool((last if part.daily else last.tz_localize(None)) > day + pd.Timedelta(days=1))


def uncut(gauge: Gauge, zone: str) -> Gauge:
    """The gauge with its whole record, to tell a visit outside the record from one after the day asked."""
    return Gauge(settings=gauge.settings, parts=gauge.parts, daily=daily_record(gauge.parts, zone))


def _files(folder: Path, pattern: str) -> list[Path]:
    path = folder / pattern
    if path.exists():
        return [path]
    # Patterns may be absolute or climb out of the folder, which Path.glob does not take.
    return sorted(Path(p) for p in glob.glob(str(path)) if Path(p).is_file())  # noqa: PTH207
