"""What the first page says, as plain texts and pictures, so that it can be kept and shown before anything is read."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from dashboard.figures.ready import ReadyFigure

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.answers.status import OutletStatus, StatusAnswer
    from dashboard.figures.drawing import Drawing
    from dashboard.workspace import Workspace


@dataclass(frozen=True, kw_only=True)
class OutletCheck:
    """One outlet on the page.

    label      the outlet's name among the choices of outlets, which links go by
    line       the state's word, and the rest of its line
    picture    the last days as JSON of a figure, with its sentence `alt`; None where discharge is never known
    fan_level  the level of the outlook's fan in the picture; None where there is no outlook
    """

    outlet: str
    title: str
    label: str
    line: tuple[str, str]
    perennial: bool
    picture: str | None
    alt: str
    fan_level: float | None
    reasons: tuple[str, ...]

    def figure(self) -> ReadyFigure:
        """Raises ValueError where there is no picture."""
        if self.picture is None:
            raise ValueError(f"{self.outlet} has no picture")
        return ReadyFigure.from_text(self.picture)


@dataclass(frozen=True, kw_only=True)
class TripCheck:
    """The whole page in one unit: its first sentence and its outlets."""

    unit: str
    answer: str
    outlets: tuple[OutletCheck, ...]

    def as_text(self) -> str:
        return json.dumps(asdict(self), ensure_ascii=False)

    @classmethod
    def from_text(cls, text: str) -> TripCheck:
        """Raises ValueError, KeyError or TypeError where the text is not what `as_text` wrote."""
        data: dict[str, Any] = json.loads(text)
        outlets = [
            OutletCheck(**{**o, "line": tuple(o["line"]), "reasons": tuple(o["reasons"])}) for o in data["outlets"]
        ]
        return cls(unit=data["unit"], answer=data["answer"], outlets=tuple(outlets))


def trip_check(
    workspace: Workspace, found: StatusAnswer, unit: str, drawing_of: Callable[[OutletStatus], Drawing]
) -> TripCheck:
    """The page of a status; `drawing_of` gives what `strip` draws."""
    from dashboard.wording import pages as words
    from dashboard.wording.status import line, reasons

    header, labels = replace(found.header, unit=unit), words.outlet_labels(workspace.outlets)
    outlets = []
    for o in found.outlets:
        # The trip has words of its own here, with the day of the week.
        state, *rest = line(replace(o, trip=None)).split("   ")
        if o.trip is not None:
            rest.append(words.trip_words(o))
        drawing = None if workspace.flow_of(o.outlet).empty else drawing_of(o)
        outlets.append(
            OutletCheck(
                outlet=o.outlet,
                title=o.title,
                label=labels[o.outlet],
                line=(f"{o.title}: {state}", " · ".join(rest)),
                perennial=workspace.outlets[o.outlet].perennial,
                picture=None if drawing is None else drawing.ready.as_text(),
                alt="" if drawing is None else drawing.alt,
                fan_level=None if o.ahead.why_none is not None else o.ahead.level,
                reasons=tuple(reasons(o, header)),
            )
        )
    return TripCheck(unit=unit, answer=words.status_summary(found, workspace.as_of), outlets=tuple(outlets))


def strip(workspace: Workspace, o: OutletStatus, unit: str) -> Drawing:
    """The last days of an outlet, and its outlook as a fan."""
    from dashboard.figures.recent_days import recent_days
    from dashboard.wording import pages as words

    outlet = workspace.outlets[o.outlet]
    return recent_days(
        id=o.outlet,
        title=o.title,
        flow=workspace.flow_of(o.outlet).frame,
        seen=_seen(workspace, o.outlet),
        today=workspace.as_of,
        unit=unit,
        stop_m3s=outlet.stop_m3s,
        restart_m3s=outlet.restart_m3s,
        source=words.level_source(outlet),
        ahead=_fan(o),
        trip=o.trip,
    )


def _seen(workspace: Workspace, outlet: str) -> pd.DataFrame:
    import pandas as pd

    if workspace.visits is None:
        return pd.DataFrame({"date": pd.DatetimeIndex([]), "surface": pd.Series([], dtype=str)})
    return workspace.visits.at(outlet)[["date", "surface"]]


def _fan(o: OutletStatus) -> pd.DataFrame | None:
    """The outlook as the strip takes it: low, median and high by day; None where there is none."""
    if o.ahead.why_none is not None:
        return None
    columns = {f"discharge_{c}_m3s": c for c in ("low", "median", "high")}
    return o.ahead.days.set_index("date")[list(columns)].rename(columns=columns)
