"""What every answer carries: who asked, as of when, warnings, the method version, and where its numbers came from."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from dashboard.workspace import Workspace
from hydro.units import from_m3s

#: Changed whenever an answer to the same data would change, so that a changed answer can be traced to its method.
METHOD_VERSION = "2026.11.4"


@dataclass(frozen=True, eq=False, kw_only=True)
class Table:
    """A table that can be shown and downloaded: a file-name-safe `name`, a `title`, the full-precision `frame`."""

    name: str
    title: str
    frame: pd.DataFrame


@dataclass(frozen=True, kw_only=True)
class Header:
    """The part that all answers share."""

    workspace: str
    title: str
    as_of: str
    unit: str
    warnings: tuple[str, ...]
    method_version: str = METHOD_VERSION

    def as_json(self) -> dict[str, object]:
        return {
            "workspace": self.workspace,
            "as_of": self.as_of,
            "warnings": list(self.warnings),
            "method_version": self.method_version,
        }


def header(workspace: Workspace, warnings: Sequence[str] = ()) -> Header:
    """The header of an answer about `workspace`, its warnings first."""
    return Header(
        workspace=str(workspace.folder),
        title=workspace.settings.title,
        as_of=f"{workspace.as_of:%Y-%m-%d}",
        unit=workspace.unit,
        warnings=(*workspace.warnings, *warnings),
    )


def iso(day: object) -> str | None:
    """ISO date of a civil day, None where there is none."""
    return None if day is None or pd.isna(day) else f"{pd.Timestamp(day):%Y-%m-%d}"


def number(value: object) -> float | None:
    """A plain number for JSON: None where it is missing or not finite."""
    if value is None or pd.isna(value):
        return None
    value = float(value)  # type: ignore[arg-type]
    return value if math.isfinite(value) else None


def quantity(value_m3s: object, unit: str) -> dict[str, object]:
    """A discharge in the display unit."""
    value = number(value_m3s)
    return {"value": None if value is None else from_m3s(value, unit), "unit": unit}


def interval(value: object, low: object, high: object, level: float, why: str | None = None) -> dict[str, object]:
    """An estimate with its interval; what cannot be estimated is null beside the reason."""
    out: dict[str, object] = {"value": number(value), "low": number(low), "high": number(high), "level": level}
    return out if why is None else out | {"why": why}


def by_name(items: Mapping[str, object], wanted: Sequence[str]) -> list[str]:
    """The ids asked for, in the workspace's order; all where none are."""
    return [k for k in items if not wanted or k in wanted]
