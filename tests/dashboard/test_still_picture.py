"""The first page's small pictures without a drawing library: the same marks at the same places as in the figure."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np
import pandas as pd
import plotly.graph_objects as go
import pytest

from dashboard.figures.recent_days import recent_days
from dashboard.figures.still import still_picture

TODAY = pd.Timestamp("2024-06-30")
SVG = "{http://www.w3.org/2000/svg}"


def figure_of(values: list[float], *, title: str = "Ledge outlet", **more: object) -> go.Figure:
    days = pd.date_range(end=TODAY, periods=len(values), name="date")
    flow = pd.DataFrame({"discharge_m3s": values, "provisional": False, "bridged": False}, index=days)
    seen = pd.DataFrame({"date": [days[2], days[-1]], "surface": ["running", "dry"]})
    options = {"id": "ledge", "title": title, "flow": flow, "seen": seen, "today": TODAY, "unit": "m3/s",
               "stop_m3s": 1.0, "restart_m3s": 1.5, "source": "set", **more}  # fmt: skip
    return recent_days(**options).figure  # type: ignore[arg-type]


def parsed(text: str) -> ET.Element:
    """As XML; a browser gives the SVG its name space by itself."""
    return ET.fromstring(text.replace("<svg role", '<svg xmlns="http://www.w3.org/2000/svg" role', 1))


def test_each_day_lies_where_time_and_logarithm_put_it():
    values = [4.0, 3.6, 3.3, 3.0, 2.0, 1.4, 1.2, 1.1]
    figure = figure_of(values)
    picture = parsed(still_picture(figure, "falling discharge"))
    line = next(p for p in picture.iter(f"{SVG}path") if p.get("stroke-width") == "1.8")
    points = np.array(re.findall(r"([\d.]+),([\d.]+)", line.get("d")), dtype=float)
    assert len(points) == len(values)
    # 31 days are shown, the last of them whole: the first of these days is the 24th.
    assert points[:, 0] / 10_000 == pytest.approx((23 + np.arange(8)) / 31, abs=1e-4)
    low, high = figure.layout.yaxis.range
    inner = figure.layout.height - figure.layout.margin.t - figure.layout.margin.b
    share = figure.layout.yaxis.domain[1]
    expected = inner * (1.0 - share * (np.log10(values) - low) / (high - low))
    assert points[:, 1] == pytest.approx(expected, abs=0.06)


def test_a_missing_day_breaks_the_line_and_levels_lie_at_their_values():
    picture = parsed(still_picture(figure_of([2.0, 2.0, np.nan, 1.0, 1.0]), "a gap"))
    line = next(p for p in picture.iter(f"{SVG}path") if p.get("stroke-width") == "1.8")
    assert line.get("d").count("M") == 2
    at_one = float(line.get("d").rsplit(",", 1)[1])
    levels = {e.get("stroke-dasharray"): e for e in picture.iter(f"{SVG}line") if e.get("stroke-width") == "1.6"}
    stop = levels[""]
    assert float(stop.get("y1")) == pytest.approx(at_one, abs=0.06)  # the stop level is 1.0 too
    words = ["".join(t.itertext()) for t in picture.iter(f"{SVG}text")]
    assert any(w.startswith("stops below 1") for w in words)
    assert any(w.startswith("restarts at 1.5") for w in words)


def test_a_pointer_on_a_day_is_told_what_the_figure_says():
    picture = parsed(still_picture(figure_of([4.0, 3.6, 3.3, 3.0, 2.0, 1.4]), "falling discharge"))
    said = ["".join(t.itertext()).split("\n") for t in picture.iter(f"{SVG}title")]
    assert ["Sun 30 June 2024", "1.4 m³/s", "seen dry"] in said
    assert len(said) == 6


def test_a_day_says_itself_whether_it_is_provisional_and_not_the_stretch_it_ends():
    figure = figure_of([4.0, 3.6, 3.3, 3.0])
    flow = pd.DataFrame({"discharge_m3s": [4.0, 3.6, 3.3, 3.0], "provisional": [False, False, True, True],
                         "bridged": False}, index=pd.date_range(end=TODAY, periods=4, name="date"))  # fmt: skip
    picture = parsed(still_picture(figure_of([4.0, 3.6, 3.3, 3.0], flow=flow), "falling discharge"))
    said = ["".join(t.itertext()).split("\n")[1] for t in picture.iter(f"{SVG}title")]
    assert said == ["4 m³/s", "3.6 m³/s", "3.3 m³/s, provisional", "3 m³/s, provisional"]
    assert "".join(parsed(still_picture(figure, "")).itertext()).count("provisional") == 0


def test_names_from_files_are_never_taken_for_markup():
    text = still_picture(figure_of([2.0] * 9), '"><script>alert(1)</script>')
    assert "<script" not in text
    assert parsed(text).find(f"{SVG}svg").get("aria-label") == '"><script>alert(1)</script>'


def test_the_fan_is_a_closed_band_between_low_and_high():
    ahead = pd.DataFrame({"low": [1.0, 0.9], "median": [1.2, 1.1], "high": [1.6, 1.7]},
                         index=pd.date_range("2024-07-01", periods=2))  # fmt: skip
    picture = parsed(still_picture(figure_of([1.5] * 10, ahead=ahead, trip=pd.Timestamp("2024-07-02")), "a fan"))
    band = next(picture.iter(f"{SVG}polygon"))
    points = np.array([p.split(",") for p in band.get("points").split()], dtype=float)
    assert len(points) == 4
    assert points[0, 1] > points[3, 1]  # low lies lower on the screen than high on the same day
    assert points[0, 0] == points[3, 0]
    trip = [e for e in picture.iter(f"{SVG}line") if e.get("stroke-dasharray") == "1.5 3.5"]
    assert len(trip) == 1
    assert trip[0].get("x1") == trip[0].get("x2")


@pytest.mark.parametrize(
    "trace",
    [
        go.Bar(x=["2024-06-29"], y=[1]),
        go.Scatter(x=["2024-06-29"], y=[1], mode="text"),
        go.Scatter(x=["2024-06-29"], y=[1], mode="markers", marker={"symbol": "star"}),
        go.Scatter(x=["2024-06-29"], y=[1], mode="lines", line={"dash": "longdash"}),
    ],
)
def test_what_it_cannot_draw_is_refused_and_never_left_out(trace):
    with pytest.raises(ValueError, match="no still picture"):
        still_picture(figure_of([2.0] * 9).add_trace(trace), "more")
