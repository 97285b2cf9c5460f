"""An outlet's answers into its pictures of water, the same on the pages and in the report."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from dashboard.figures.days_ahead import discharge_ahead
from dashboard.figures.drawing import Drawing
from dashboard.figures.hydrograph import hydrograph
from dashboard.figures.recent_days import recent_days
from dashboard.figures.still import still_picture
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as words

if TYPE_CHECKING:
    from dashboard.answers.outlook import OutletOutlook
    from dashboard.answers.spells import OutletSpells
    from dashboard.answers.status import OutletStatus
    from dashboard.workspace import Workspace


def last_days(workspace: Workspace, o: OutletStatus, unit: str) -> Drawing:
    """The last days of an outlet with what people saw, the outlook as a fan and the day of a trip as far as known."""
    outlet = workspace.outlets[o.outlet]
    seen = pd.DataFrame({"date": pd.DatetimeIndex([]), "surface": pd.Series([], dtype=str)})
    if workspace.visits is not None:
        seen = workspace.visits.at(o.outlet)[["date", "surface"]]
    return recent_days(
        id=o.outlet,
        title=o.title,
        flow=workspace.flow_of(o.outlet).frame,
        seen=seen,
        today=workspace.as_of,
        unit=unit,
        stop_m3s=outlet.stop_m3s,
        restart_m3s=outlet.restart_m3s,
        source=words.level_source(outlet),
        ahead=_fan(o),
        trip=o.trip,
    )


def last_days_still(workspace: Workspace, o: OutletStatus, unit: str) -> str:
    """The same as HTML around an SVG."""
    drawing = last_days(workspace, o, unit)
    return still_picture(drawing.figure, drawing.alt)


def last_days_key(o: OutletStatus) -> str:
    """The key to the marks of that picture."""
    if o.ahead.why_none is not None:
        return figure_words.RECENT_KEY
    return f"{figure_words.RECENT_KEY} {figure_words.recent_fan_key(o.ahead.level)}"


def _fan(o: OutletStatus) -> pd.DataFrame | None:
    """The outlook as the picture takes it: low, median and high by day; None where there is none."""
    if o.ahead.why_none is not None:
        return None
    columns = {f"discharge_{c}_m3s": c for c in ("low", "median", "high")}
    return o.ahead.days.set_index("date")[list(columns)].rename(columns=columns)


def spells_over_time(o: OutletSpells, first: pd.Timestamp, last: pd.Timestamp, unit: str) -> Drawing:
    """The hydrograph from `first` to `last` (both inside) with what people saw above and dry spells below."""
    return hydrograph(
        id=o.outlet.id,
        title=o.outlet.title,
        flow=o.flow.frame,
        states=None if o.dry is None else o.dry.states,
        spells=None if o.dry is None else o.spells,
        seen=o.seen,
        first=first,
        last=last,
        unit=unit,
        stop_m3s=o.outlet.stop_m3s,
        restart_m3s=o.outlet.restart_m3s,
        source=words.level_source(o.outlet),
    )


def fan_ahead(o: OutletOutlook, now: OutletStatus, unit: str) -> Drawing:
    """Discharge expected day by day with the stop level; ValueError without a forecast, a reading or a level."""
    reading, stop = now.state.reading, o.outlet.stop_m3s
    if reading is None or stop is None:
        raise ValueError("an outlook rests on a reading and a stop level")
    return discharge_ahead(
        now.ahead,
        o.no_recharge,
        id=o.outlet.id,
        title=o.outlet.title,
        reading_m3s=reading.discharge_m3s,
        stop_m3s=stop,
        restart_m3s=o.outlet.restart_m3s,
        stop_range=None if now.level is None else now.level.around(stop),
        source=words.level_source(o.outlet),
        unit=unit,
        trip=now.trip,
    )
