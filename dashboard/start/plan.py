"""What a new workspace will hold, and the text of its settings. Nothing is written here."""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from dashboard.start.dropped import safe_name
from dashboard.start.gauge_draft import GaugeDraft
from dashboard.start.outlet_level import FLOW
from dashboard.workspace_settings import PermitSettings
from hydro.problems import InputError, Problem
from hydro.sources.gauge_file import ReadChoices
from hydro.units import Quantity

NO_CHOICES = ReadChoices()
NO_PERMIT = PermitSettings()
#: Said behind the answers in the settings, so that nobody takes them for what the file says.
_ANSWERED = {
    "unit": "the file does not say",
    "time_zone": "the file does not say",
    "day_first": "the file leaves it open",
}


@dataclass(frozen=True, kw_only=True)
class NewGauge:
    """A gauge and the files that hold parts of its record, in the order of preference."""

    id: str
    files: tuple[Path, ...]
    choices: ReadChoices = NO_CHOICES
    title: str | None = None


@dataclass(frozen=True, kw_only=True)
class NewOutlet:
    """An outlet: `stops_below` None = it always runs; `learnt` = the level was learnt from sightings; `restarts_above`
    None = it runs again where it stops."""

    id: str
    title: str | None = None
    stops_below: Quantity | None = None
    learnt: bool = False
    restarts_above: Quantity | None = None


@dataclass(frozen=True, kw_only=True)
class NewWorkspace:
    """The whole plan. `columns` and `capture_columns` map our names to the tables' where they differ; `display_unit` is
    canonical."""

    title: str
    time_zone: str
    display_unit: str
    gauges: tuple[NewGauge, ...]
    outlets: tuple[NewOutlet, ...]
    visits: Path | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    day_first: bool | None = None
    effort_unit: str | None = None
    keep_outside_record: bool = False
    captures: Path | None = None
    capture_columns: Mapping[str, str] = field(default_factory=dict)
    capture_day_first: bool | None = None
    permit: PermitSettings = NO_PERMIT

    @property
    def captures_name(self) -> str | None:
        return None if self.captures is None else f"captures{self.captures.suffix.lower()}"

    @property
    def visits_name(self) -> str | None:
        return None if self.visits is None else f"visits{self.visits.suffix.lower()}"

    @property
    def copies(self) -> dict[str, Path]:
        """Name in the workspace -> the file that is copied there."""
        found: dict[str, Path] = {}
        for gauge in self.gauges:
            folder = "discharge" if len(gauge.files) == 1 else f"discharge/{gauge.id}"
            for path in gauge.files:
                taken = [n.rsplit("/", 1)[1] for n in found if n.rsplit("/", 1)[0] == folder]
                # A folder of a gauge with several files and a file without ending could be of one name.
                taken += [g.id for g in self.gauges] if folder == "discharge" else []
                found[f"{folder}/{safe_name(path.name, taken, otherwise=gauge.id)}"] = path
        if self.visits is not None and self.visits_name is not None:
            found[self.visits_name] = self.visits
        if self.captures is not None and self.captures_name is not None:
            found[self.captures_name] = self.captures
        return found


def gauge_id(path: Path, taken: Collection[str]) -> str:
    """A short id from the name of a file, none of `taken`."""
    # By the safe name, which is the one that a page has: both then come to the same id.
    stem = re.sub(r"[^a-z0-9_-]+", "-", Path(safe_name(path.name)).stem.lower()).strip("-_") or "gauge"
    found, number = stem, 2
    while found in taken or found == FLOW:
        found, number = f"{stem}-{number}", number + 1
    return found


def gauges_of(groups: Sequence[Sequence[GaugeDraft]], titles: Sequence[str | None] = ()) -> tuple[NewGauge, ...]:
    """One gauge for each group of files. Raises InputError where the files of one gauge need different answers."""
    made: list[NewGauge] = []
    problems: list[Problem] = []
    for number, group in enumerate(groups):
        id = gauge_id(group[0].path, [g.id for g in made])
        said: dict[str, Any] = {}
        for draft in group:
            for key, value in _said(draft.choices).items():
                if said.setdefault(key, value) != value:
                    expected = f"one {key} for all files of one gauge, or a gauge of its own for this file"
                    problems.append(Problem(file=draft.file.file, value=str(value), expected=expected))
        made.append(
            NewGauge(
                id=id,
                files=tuple(d.path for d in group),
                choices=ReadChoices(**said),
                title=titles[number] if number < len(titles) else None,
            )
        )
    if problems:
        raise InputError(problems)
    return tuple(made)


def _said(choices: ReadChoices) -> dict[str, str | bool]:
    found = {f.name: getattr(choices, f.name) for f in fields(choices)}
    return {name: value for name, value in found.items() if value is not None}


def settings_text(plan: NewWorkspace) -> str:
    """The text of workspace.toml."""
    lines = [
        f"title = {quoted(plan.title)}",
        f"time_zone = {quoted(plan.time_zone)}  # dates are local days of this zone",
        f"display_unit = {quoted(plan.display_unit)}",
    ]
    copies = plan.copies
    for gauge in plan.gauges:
        lines += ["", f"[gauges.{gauge.id}]"]
        if gauge.title:
            lines.append(f"title = {quoted(gauge.title)}")
        one = next(name for name, path in copies.items() if path == gauge.files[0])
        lines.append(f"file = {quoted(one if len(gauge.files) == 1 else f'discharge/{gauge.id}/*')}")
        for key, value in _said(gauge.choices).items():
            text = str(value).lower() if isinstance(value, bool) else quoted(value)
            lines.append(f"{key} = {text}" + (f"  # {_ANSWERED[key]}" if key in _ANSWERED else ""))
    lines += ["", f"[flows.{FLOW}]", f"gauges = [{', '.join(quoted(g.id) for g in plan.gauges)}]"]
    for outlet in plan.outlets:
        lines += ["", f"[outlets.{_key(outlet.id)}]"]
        if outlet.title and outlet.title != outlet.id:
            lines.append(f"title = {quoted(outlet.title)}")
        lines.append(f"flow = {quoted(FLOW)}")
        if outlet.stops_below is not None:
            lines.append(f"stops_below = {quoted(str(outlet.stops_below))}")
            if outlet.learnt:
                lines.append(f"stops_below_learnt = {quoted(str(outlet.stops_below))}  # from what people saw")
            if outlet.restarts_above is not None and outlet.restarts_above != outlet.stops_below:
                lines.append(f"restarts_above = {quoted(str(outlet.restarts_above))}  # running again at or above")
        else:
            lines.append(f'# stops_below = "… {plan.display_unit}"   # without a level it counts as always running')
    return "\n".join([*lines, *_survey_lines(plan), *_permit_lines(plan.permit)]) + "\n"


def _survey_lines(plan: NewWorkspace) -> list[str]:
    lines = []
    if plan.visits_name is not None or plan.captures_name is not None:
        lines += ["", "[surveys]"]
    if plan.visits_name is not None:
        lines.append(f"visits = {quoted(plan.visits_name)}")
        if plan.columns:
            lines.append(f"columns = {_pairs(plan.columns)}")
        if plan.day_first is not None:
            lines.append(f"day_first = {str(plan.day_first).lower()}")
        if plan.effort_unit:
            lines.append(f"effort_unit = {quoted(plan.effort_unit)}")
        if plan.keep_outside_record:
            lines.append('outside_record = "keep"')
    if plan.captures_name is not None:
        lines.append(f"captures = {quoted(plan.captures_name)}")
        if plan.capture_columns:
            lines.append(f"capture_columns = {_pairs(plan.capture_columns)}")
        if plan.capture_day_first is not None:
            lines.append(f"capture_day_first = {str(plan.capture_day_first).lower()}")
    return lines


def _pairs(columns: Mapping[str, str]) -> str:
    return f"{{ {', '.join(f'{ours} = {quoted(theirs)}' for ours, theirs in columns.items())} }}"


def _permit_lines(permit: PermitSettings) -> list[str]:
    if permit == NO_PERMIT:
        return []
    said = {"number": permit.number, "holder": permit.holder}
    lines = [f"{key} = {quoted(text)}" for key, text in said.items() if text]
    days = {"first": permit.first, "last": permit.last}
    lines += [f"{key} = {day:%Y-%m-%d}" for key, day in days.items() if day is not None]
    if permit.holding_minutes is not None:
        lines.append(f"holding_minutes = {permit.holding_minutes}")
    return ["", "[permit]", *lines]


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else quoted(name)


def quoted(text: str) -> str:
    """A TOML basic string: its escapes are those of JSON, and the one control sign that JSON lets pass."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
