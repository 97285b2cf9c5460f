"""What a picture over days says of the day that somebody points at, as plain data for whatever shows it."""

from __future__ import annotations

import datetime
import json
from functools import lru_cache
from typing import Any

import numpy as np
import plotly.graph_objects as go

from dashboard.figures.drawing import DAY_MS
from dashboard.figures.still import drawn
from dashboard.wording import hover
from dashboard.wording.numbers import figures

#: What stands for a value in the text of a figure under the pointer: the height itself, and a text of its own.
_HEIGHT, _OWN = "%{y:.3g}", "%{customdata}"


def pointed_picture(figure: go.Figure, alt: str, id: str) -> bytes:
    """A figure over days as JSON text: its SVG, and what is known of each day.

    id      a name of its own on the page
    svg     as in `drawn`; margin [px] at left, right, top and bottom
    first   its first day as days since 1970-01-01; days: how many it shows
    lines   a value a day: days (each as the distance from the one before, the first from `first`), said, after; notes
            (position -> text) follow that
    marks   what was done or seen on a day: days, said (one text for all)
    spans   stretches of days: from, to (both inside, counted from `first`), said
    words   names of weekdays and months, the name of the control, and what stands where no value is known
    """
    start, end = (np.datetime64(d, "D").astype(int) for d in figure.layout.xaxis.range)
    found: dict[str, Any] = {"lines": [], "marks": [], "spans": []}
    for trace in figure.data:
        if trace.hoverinfo != "skip" and trace.hovertemplate:
            kind, said = _said(trace, int(start))
            found[kind].append(said)
    m = figure.layout.margin
    data = {
        "svg": drawn(figure, alt, id=id),
        "margin": [m.l, m.r, m.t, m.b],
        "first": int(start),
        "days": int(end - start),
        **found,
        "words": _words(),
    }
    return json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode()


def _said(trace: go.Scatter | go.Bar, start: int) -> tuple[str, dict[str, Any]]:
    """What one trace says, by its kind."""
    if isinstance(trace, go.Bar):
        half = np.asarray(trace.width, dtype=np.float64) / DAY_MS / 2.0
        middle = np.asarray(trace.x).astype("M8[m]").astype(np.int64) / 1440.0 - start
        first, last = np.rint(middle - half).astype(int), np.rint(middle + half).astype(int) - 1
        texts = [str(t).replace("<br>", ": ") for t in trace.hovertext]
        return "spans", {"from": first.tolist(), "to": last.tolist(), "said": texts}
    text = trace.hovertemplate.replace("<extra></extra>", "").split("<br>", 1)[1]
    y = np.asarray(trace.y, dtype=np.float64)
    known = np.isfinite(y)
    days = np.asarray(trace.x).astype("M8[D]").astype(np.int64)[known]
    steps = np.diff(days, prepend=start).tolist()
    own = np.asarray(trace.customdata)[known].tolist() if _OWN in text else []
    if _HEIGHT in text:
        before, after = text.removesuffix(_OWN).split(_HEIGHT)
        notes = {str(k): note for k, note in enumerate(own) if note}
        said = [before + figures(v) for v in y[known].tolist()]
        return "lines", {"days": steps, "said": said, "after": after, "notes": notes}
    if own:
        before, after = text.split(_OWN)
        return "lines", {"days": steps, "said": [f"{before}{v}" for v in own], "after": after, "notes": {}}
    return "marks", {"days": steps, "said": text}


@lru_cache
def _words() -> dict[str, Any]:
    """Names as dates are written elsewhere, from any year's months and any week's days."""
    return {
        "weekdays": [f"{datetime.date(2001, 1, day):%a}" for day in range(1, 8)],
        "months": [f"{datetime.date(2001, month, 1):%B}" for month in range(1, 13)],
        "control": hover.DAY_READ,
        "unknown": hover.NO_VALUE,
    }
