"""What the facts of an outlet rest on, named without reading it: where nothing of it changed, they are as they were."""

from __future__ import annotations

import glob
import hashlib
import json
from pathlib import Path

from dashboard.answers.answer import METHOD_VERSION
from dashboard.workspace_file import FILE_NAME
from dashboard.workspace_settings import GaugeSettings, WorkspaceFile
from hydro.services.kept import VALUES, folder_of


def past_settings(settings: WorkspaceFile, outlet: str) -> str:
    """Names the settings that states of past days depend on: levels, days, gauges, bridging and the clock."""
    o = settings.outlets[outlet]
    bridge = settings.flows[o.flow].bridge_gaps_days if o.flow in settings.flows else 0
    parts = [o.stop_m3s, o.restart_m3s, o.stop_days, o.restart_days, bridge, settings.time_zone]
    gauges = [[g, settings.gauges[g].station or settings.gauges[g].file] for g in settings.gauges_of(o.flow)]
    return hashlib.sha256(json.dumps([parts, gauges]).encode()).hexdigest()[:16]


def inputs_of(folder: Path, settings: WorkspaceFile, as_of: str) -> dict[str, str]:
    """By outlet a digest of day, method, settings, and names, times of change and sizes of its files.

    Of a gauge from a service the file is the kept table of values: a fetch that brings nothing new does not touch it.
    """
    shared = [as_of, METHOD_VERSION, _file(folder / FILE_NAME)]
    surveys = settings.surveys
    shared += [_file(folder / f) for f in (surveys.visits, surveys.captures) if f is not None]
    gauges = {id: _files(folder, g) for id, g in settings.gauges.items()}
    found = {}
    for id, outlet in settings.outlets.items():
        parts = json.dumps([id, shared, [gauges[m] for m in settings.gauges_of(outlet.flow)]])
        found[id] = hashlib.sha256(parts.encode()).hexdigest()
    return found


def _files(folder: Path, gauge: GaugeSettings) -> list[object]:
    if gauge.file is None:
        return [_file(folder_of(folder, str(gauge.service), str(gauge.station)) / VALUES)]
    path = folder / gauge.file
    if path.exists():
        return [_file(path)]
    return [_file(Path(p)) for p in sorted(glob.glob(str(path)))]  # noqa: PTH207 - patterns may climb out of the folder


def _file(path: Path) -> object:
    try:
        found = path.stat()
    except OSError:
        return [str(path), None]
    return [str(path), found.st_mtime_ns, found.st_size]
