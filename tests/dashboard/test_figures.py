"""Pictures: what is drawn, what is left blank, and that no extreme and no hole is lost."""

from __future__ import annotations

import itertools
import re

import numpy as np
import pandas as pd
import plotly.graph_objects as go
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.figures.counts_and_flow import counts_over_flow, counts_over_time
from dashboard.figures.discharge_lines import alone, discharge_traces, line_pieces
from dashboard.figures.drawing import between, log_axis, one_two_five
from dashboard.figures.dry_years import dry_calendar, dry_years, month_table
from dashboard.figures.hydrograph import hydrograph
from dashboard.figures.marks import ANIMALS, EXPECTED, OTHERS, STOP, WATER
from dashboard.figures.recent_days import recent_days
from dashboard.figures.return_rows import horizon, lag_rows
from dashboard.figures.returned_by import returned_by
from dashboard.figures.strips import dry_bars, seen_traces, unknown_runs, visit_traces
from dashboard.figures.thinning import thinned
from dashboard.serving import APP
from ecology.interval_censored import npmle
from hydro.dry_spells import find_dry_spells
from hydro.dry_summary import summarise

FT3 = 0.3048**3  # m³ in a cubic foot: the international foot


def flow(values: list[float], *, provisional: tuple[int, ...] = (), bridged: tuple[int, ...] = ()) -> pd.DataFrame:
    """A flow's daily frame from 1 January 2020."""
    days = pd.date_range("2020-01-01", periods=len(values), freq="D", name="day")
    marks = np.arange(len(values))
    return pd.DataFrame(
        {
            "discharge_m3s": np.array(values, float),
            "provisional": np.isin(marks, provisional),
            "bridged": np.isin(marks, bridged),
        },
        index=days,
    )


def people(*rows: tuple[str, str, str, float]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["date", "surface", "kind", "count"])
    return frame.assign(date=pd.to_datetime(frame["date"]))


def drawn(traces: list[go.Scatter]) -> dict[str, list[tuple[str, float]]]:
    """Points by trace, holes as NaN."""
    return {t.name: list(zip(t.x, np.asarray(t.y, float).tolist(), strict=True)) for t in traces}


# ---- discharge ------------------------------------------------------------------------------------------------------


def test_nothing_is_drawn_over_a_gap():
    lines = drawn(discharge_traces(flow([1, 2, np.nan, np.nan, 5, 6]), "m3/s"))
    y = np.array([v for _, v in lines["measured"]])
    assert y[~np.isnan(y)].tolist() == [1, 2, 5, 6]
    assert np.isnan(y[2])


def test_a_day_without_neighbours_is_still_seen():
    lines = drawn(discharge_traces(flow([np.nan, 3, np.nan, 4, 5]), "m3/s"))
    assert lines["single days"] == [("2020-01-02", 3.0)]
    assert alone(flow([1, np.nan, 2, 3])).tolist() == [0]


def test_provisional_is_dashed_and_bridged_is_dotted_and_both_join_their_neighbours():
    frame = flow([1, 2, 3, 4, 5, 6], provisional=(4, 5), bridged=(2,))
    traces = {t.name: t for t in discharge_traces(frame, "m3/s")}
    assert [traces[k].line.dash for k in ("measured", "provisional", "bridged")] == ["solid", "dash", "dot"]
    lines = drawn(list(traces.values()))
    assert [x for x, _ in lines["measured"]] == ["2020-01-01", "2020-01-02"]
    assert [x for x, _ in lines["bridged"]] == ["2020-01-02", "2020-01-03", "2020-01-04"]
    assert [x for x, _ in lines["provisional"]] == ["2020-01-04", "2020-01-05", "2020-01-06"]


@given(st.lists(st.tuples(st.booleans(), st.booleans(), st.booleans()), min_size=1, max_size=40))
def test_every_pair_of_neighbouring_known_days_is_drawn_once_and_no_other(days):
    known, provisional, bridged = (np.array(c) for c in zip(*days, strict=True))
    frame = flow(np.where(known, 1.0, np.nan).tolist()).assign(provisional=provisional, bridged=bridged)
    pairs = []
    for at in line_pieces(frame).values():
        pairs += [(a, b) for a, b in zip(at[:-1].tolist(), at[1:].tolist(), strict=True) if a >= 0 and b >= 0]
    expected = [(i, i + 1) for i in range(len(known) - 1) if known[i] and known[i + 1]]
    assert sorted(pairs) == expected


def test_a_zero_is_on_its_own_strip_and_not_on_the_logarithmic_line():
    frame = flow([2, 1, 0, 1, 2])
    d = find_dry_spells(frame["discharge_m3s"], 0.5)
    drawing = _hydrograph(frame, d)
    zero = [t for t in drawing.figure.data if t.name == "zero"]
    assert [list(t.x) for t in zero] == [["2020-01-03"]]
    assert zero[0].yaxis == "y4"
    lines = drawn([t for t in drawing.figure.data if t.name == "measured"])
    assert "2020-01-03" not in [x for x, v in lines["measured"] if not np.isnan(v)]


def test_a_discharge_is_drawn_in_the_unit_chosen():
    (trace,) = discharge_traces(flow([FT3 * 40, FT3 * 80]), "cfs")
    assert np.asarray(trace.y).tolist() == pytest.approx([40, 80])
    assert "ft³/s" in trace.hovertemplate


def _hydrograph(frame, dry, seen=None, unit="m3/s", first=None, last=None, stop=0.5, restart=None):
    seen = people(("2020-01-02", "running", "counted", 3)) if seen is None else seen
    return hydrograph(
        id="a", title="A", flow=frame, states=None if dry is None else dry.states,
        spells=None if dry is None else dry.spells, seen=seen, first=first or frame.index[0],
        last=last or frame.index[-1], unit=unit, stop_m3s=stop if dry is not None else None, restart_m3s=restart,
        source="set",
    )  # fmt: skip


def test_everything_over_time_shares_one_axis():
    frame = flow([2, 1, 0.4, 0.3, np.nan, 1, 0])
    figure = _hydrograph(frame, find_dry_spells(frame["discharge_m3s"], 0.5)).figure
    assert {t.xaxis for t in figure.data} == {None}
    assert [a for a in figure.layout if re.fullmatch(r"xaxis\d+", a)] == []


def test_a_level_is_a_line_with_its_value_and_source_below_it():
    frame = flow([2, 1, 0.4])
    figure = _hydrograph(frame, find_dry_spells(frame["discharge_m3s"], 0.5, 0.8), restart=0.8).figure
    heights = [(s.y0, s.y1, s.line.dash) for s in figure.layout.shapes]
    assert heights == [(0.5, 0.5, "solid"), (0.8, 0.8, "dash")]
    labels = [a for a in figure.layout.annotations if a.yref == "y"]
    assert [re.sub(r"\s", " ", a.text) for a in labels] == [
        "restarts at 0.800 m³/s, set",
        "stops below 0.500 m³/s, set",
    ]
    # On a logarithmic axis an annotation is placed by the logarithm, a shape by the value.
    assert [a.y for a in labels] == pytest.approx([np.log10(0.5)] * 2)
    assert [(a.yanchor, a.yshift) for a in labels] == [("top", 0), ("top", -16)]


@pytest.mark.parametrize(
    ("low_days", "side", "at"), [(range(100), "right", 1.0), (range(200, 300), "left", 0.0), (range(0), "right", 1.0)]
)
def test_labels_of_levels_stand_where_discharge_is_not_and_inside_the_picture(low_days, side, at):
    values = np.full(300, 2.0)
    values[list(low_days)] = 0.45
    frame = flow(values.tolist())
    figure = _hydrograph(frame, find_dry_spells(frame["discharge_m3s"], 0.5, 0.6), restart=0.6).figure
    labels = [a for a in figure.layout.annotations if a.yref == "y"]
    assert [(a.xanchor, a.x) for a in labels] == [(side, at)] * 2
    low, high = figure.layout.yaxis.range
    bottom, top = figure.layout.yaxis.domain
    inner = (figure.layout.height - figure.layout.margin.t - figure.layout.margin.b) * (top - bottom)
    assert (np.log10(0.5) - low) / (high - low) * inner >= 39  # room for two labels of 16 px and a little below


def test_the_sentence_of_the_hydrograph_counts_what_is_inside_the_period():
    frame = flow([1, 0.4, 1, 1, 0.4, 0.4, 1])
    d = find_dry_spells(frame["discharge_m3s"], 0.5)
    assert "2 dry spells" in _hydrograph(frame, d).alt
    later = _hydrograph(frame, d, first=pd.Timestamp("2020-01-04"), last=pd.Timestamp("2020-01-07"))
    assert "1 dry spell in" in later.alt
    assert len(later.data) == 4


def test_an_outlet_that_never_stops_has_no_strip_for_dry_spells():
    figure = _hydrograph(flow([1, 2, 3]), None).figure
    assert "yaxis3" not in figure.to_dict()["layout"]


# ---- strips ---------------------------------------------------------------------------------------------------------


def test_a_dry_spell_is_a_hatched_bar_over_its_first_to_last_day_both_inside():
    spells = pd.DataFrame({"first": [pd.Timestamp("2020-01-02")], "last": [pd.Timestamp("2020-01-04")]})
    bar = dry_bars(spells)
    assert bar is not None
    middle, width = pd.Timestamp(bar.x[0]), pd.Timedelta(bar.width[0], "ms")
    assert (middle - width / 2, middle + width / 2) == (pd.Timestamp("2020-01-02"), pd.Timestamp("2020-01-05"))
    assert bar.marker.pattern.shape == "/"
    assert dry_bars(spells.iloc[:0]) is None


def test_unknown_days_are_empty_bars_with_a_question_mark():
    frame = flow([1.0] * 10 + [np.nan] * 5 + [1.0] * 10)
    d = find_dry_spells(frame["discharge_m3s"], 0.5)
    runs = unknown_runs(d.states)
    assert runs.to_numpy().tolist() == [[pd.Timestamp("2020-01-11"), pd.Timestamp("2020-01-15")]]
    figure = _hydrograph(frame, d).figure
    bar = next(t for t in figure.data if t.name == "unknown")
    assert bar.marker.color == "rgba(0,0,0,0)"
    assert [list(t.text) for t in figure.data if isinstance(t, go.Scatter) and t.mode == "text"] == [["?"]]


def test_a_dry_visit_is_neither_a_find_nor_a_search_without_one():
    seen = people(
        ("2020-01-01", "running", "counted", 4),
        ("2020-01-02", "running", "counted", 0),
        ("2020-01-03", "pooled", "not-searched", np.nan),
        ("2020-01-04", "dry", "dry", np.nan),
        ("2020-01-05", "running", "searched-uncounted", np.nan),
    )
    assert {t.name: list(t.x) for t in visit_traces(seen, 0.0)} == {
        "animals found": ["2020-01-01"],
        "searched, none found": ["2020-01-02"],
        "not searched": ["2020-01-03"],
        "searched, not counted": ["2020-01-05"],
    }
    marks = {t.name: t.marker.symbol for t in seen_traces(seen, 1.0)}
    assert marks == {"seen running": "triangle-up", "seen pooled": "square", "seen dry": "x-thin"}


# ---- axes and colours -----------------------------------------------------------------------------------------------


def test_a_logarithmic_axis_is_labelled_one_two_five():
    assert one_two_five(0.9, 60) == [1, 2, 5, 10, 20, 50]
    assert list(log_axis(20.0, 300.0)["tickvals"]) == [20, 50, 100, 200]


def test_a_narrow_range_still_gets_round_labels():
    ticks = between(37.0, 53.0)
    assert ticks == [40, 45, 50]
    assert len(log_axis(38.0, 52.0)["tickvals"]) >= 3


def _luminance(colour: tuple[float, float, float]) -> float:
    """Relative luminance by the W3C's definition (WCAG 2.1)."""
    parts = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in colour]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def _rgb(text: str) -> tuple[float, float, float]:
    r, g, b = (int(text[i : i + 2], 16) / 255 for i in (1, 3, 5))
    return r, g, b


@pytest.mark.parametrize("colour", [WATER, STOP, ANIMALS, EXPECTED, OTHERS])
@pytest.mark.parametrize("page", ["#ffffff", "#171614"])
def test_every_line_colour_keeps_three_to_one_on_light_and_dark(colour, page):
    """WCAG 2.1 success criterion 1.4.11 asks 3:1 of graphics; #171614 is the dark page of the toolkit used."""
    light, dark = sorted((_luminance(_rgb(colour)), _luminance(_rgb(page))), reverse=True)
    assert (light + 0.05) / (dark + 0.05) >= 3.0


def test_no_text_in_a_picture_is_smaller_than_thirteen_pixels():
    frame = flow([2, 1, 0.4, np.nan, 0])
    d = find_dry_spells(frame["discharge_m3s"], 0.5)
    for drawing in (
        _hydrograph(frame, d),
        dry_years(summarise(d).by_year, id="a", title="A"),
        dry_calendar(d.states, id="a", title="A"),
    ):
        sizes = [int(n) for n in re.findall(r"'size': (\d+)", str(drawing.figure.layout.to_plotly_json()))]
        assert sizes
        assert min(sizes) >= 13


def test_pictures_are_made_without_the_screen_and_without_the_quick_wrapper():
    for path in (APP.parent / "figures").glob("*.py"):
        text = path.read_text(encoding="utf-8")
        assert "streamlit" not in text.replace("Streamlit", ""), path
        assert "plotly.express" not in text, path


# ---- thinning -------------------------------------------------------------------------------------------------------


def test_a_short_line_is_drawn_as_it_is():
    assert thinned(np.arange(15_000.0)).tolist() == list(range(15_000))


@given(
    st.lists(st.one_of(st.just(np.nan), st.floats(-1e6, 1e6)), min_size=1, max_size=400),
    st.integers(4, 60),
)
def test_thinning_keeps_every_extreme_and_every_hole(values, drawn_points):
    y = np.array(values, float)
    at = thinned(y, as_is=3, drawn=drawn_points)
    assert (np.diff(at) > 0).all()
    assert at[0] == 0
    assert at[-1] == len(y) - 1
    known = ~np.isnan(y)
    if known.any():
        assert np.nanmin(y[at]) == np.nanmin(y)
        assert np.nanmax(y[at]) == np.nanmax(y)
    # Two kept neighbours with a hole between them in the data have a hole between them in the picture.
    for a, b in itertools.pairwise(at.tolist()):
        if known[a] and known[b]:
            assert known[a : b + 1].all()


def test_a_million_points_become_a_few_thousand():
    rng = np.random.default_rng(3)
    y = rng.lognormal(size=1_000_000)
    y[123_456], y[777_777] = 1e-9, 1e9
    y[500_000:500_100] = np.nan
    at = thinned(y)
    assert len(at) < 5_000
    assert {123_456, 777_777} <= set(at.tolist())
    assert np.isnan(y[at]).any()


# ---- years and months -----------------------------------------------------------------------------------------------


def test_the_calendar_counts_every_day_once():
    frame = flow([1.0] * 20 + [0.4] * 30 + [np.nan] * 15 + [1.0] * 60)
    d = find_dry_spells(frame["discharge_m3s"], 0.5)
    months = month_table(d.states)
    assert months["record_days"].sum() == len(frame)
    assert months["dry_days"].tolist() == [11, 19, 0, 0, 0]
    assert months["unknown_days"].tolist() == [0, 10, 5, 0, 0]
    drawing = dry_calendar(d.states, id="a", title="A")
    (text,) = (t for t in drawing.figure.data if isinstance(t, go.Scatter))
    assert list(text.text) == ["11", "19?", "?", "·", "·"]
    bars = drawing.figure.data[0]
    assert list(bars.marker.pattern.shape) == ["", "\\", "\\", "", ""]


def test_unknown_days_stand_on_top_of_dry_days_by_year_and_are_not_dry():
    frame = flow([0.4] * 30 + [np.nan] * 15 + [1.0] * 400)
    summary = summarise(find_dry_spells(frame["discharge_m3s"], 0.5))
    drawing = dry_years(summary.by_year, id="a", title="A")
    dry, unknown = drawing.figure.data
    assert dict(zip(dry.x, dry.y, strict=True)) == {2020: 30}  # nothing drawn for 2021, which has no dry day
    assert list(unknown.base) == [30]
    assert list(unknown.y) == [15]
    assert dry.marker.pattern.shape == "/"
    assert not unknown.marker.pattern.shape
    assert drawing.alt == "Dry days by year at A: most in 2020, 30 days (4 weeks)."


# ---- returns --------------------------------------------------------------------------------------------------------


def _lags() -> tuple[pd.DataFrame, pd.DataFrame]:
    day = pd.Timestamp
    lags = pd.DataFrame(
        {
            "restart": [day("2019-01-01"), day("2020-01-01"), day("2021-01-01")],
            "low_days": [10, 5, 0],
            "high_days": [20.0, np.nan, np.nan],
            "informative": [True, True, False],
        }
    )
    searches = pd.DataFrame(
        {
            "date": [day("2019-01-11"), day("2019-01-21"), day("2020-01-06")],
            "count": [0, 3, 0],
            "spell": [0, 0, 1],
            "days": [10, 20, 5],
        }
    )
    return lags, searches


def test_a_return_that_was_seen_is_a_bar_and_one_that_was_not_is_an_arrow():
    lags, searches = _lags()
    drawing = lag_rows(lags, searches, id="a", title="A")
    traces = {(t.name, t.mode): t for t in drawing.figure.data}
    assert np.asarray(traces["return lies in", "lines"].x)[:2].tolist() == [10, 20]
    assert np.asarray(traces["not found yet", "lines"].y)[:2].tolist() == [1, 1]
    assert traces["not found yet", "markers"].marker.symbol == "triangle-right"
    assert list(traces["no search that tells of a return", "markers"].y) == [2]
    assert list(traces["animals found", "markers"].x) == [20]
    assert list(traces["searched, none found", "markers"].x) == [10, 5]
    assert drawing.alt == "Searches after 3 dry spells at A: animals were found again after 1 of them."


def test_the_returned_by_curve_is_not_drawn_inside_the_intervals_in_which_it_is_not_defined():
    """The estimate of Turnbull 1976 has no value inside its innermost intervals: only bounds, drawn as boxes."""
    fit = npmle(np.array([0.0, 4.0, 8.0]), np.array([2.0, 6.0, np.inf]))
    drawing = returned_by(
        id="a", title="A", low=fit.low, high=fit.high, mass=fit.mass, days=(3.0,), band_low=np.array([0.1]),
        band_high=np.array([0.6]), median=(4.0, 6.0), end=30.0, alt="sentence",
    )  # fmt: skip
    boxes, level = drawing.figure.data[:2]
    x, y = np.asarray(level.x, float), np.asarray(level.y, float)
    for low, high in zip(fit.low, np.where(np.isinf(fit.high), 30.0, fit.high), strict=True):
        assert not ((x > low) & (x < high)).any()
    assert y[~np.isnan(y)].max() < 1  # the last third was never seen again: the level stays below all
    corners = np.asarray(boxes.y, float)
    assert corners[~np.isnan(corners)].max() == pytest.approx(1.0)
    assert [a.text for a in drawing.figure.layout.annotations] == ["┆ half by 6 days,<br>┆ at face value"]


def _half_way(face, corrected, end):
    fit = npmle(np.array([0.0, 4.0, 8.0]), np.array([2.0, 6.0, 12.0]))
    figure = returned_by(
        id="a", title="A", low=fit.low, high=fit.high, mass=fit.mass, days=(3.0,), band_low=np.array([0.1]),
        band_high=np.array([0.6]), median=(4.0, face), corrected=corrected, end=end, alt="sentence",
    ).figure  # fmt: skip
    return figure.layout.shapes, figure.layout.annotations


def test_both_half_way_times_stand_as_labelled_lines_on_the_curve():
    shapes, labels = _half_way(6.0, (4.0, 2.0, np.inf), 30.0)
    across, solid, dashed = shapes
    assert (across.x0, across.x1, across.y0) == (2.0, 30.0, 0.5)
    assert (solid.x0, solid.line.dash, dashed.x0, dashed.line.dash) == (4.0, "solid", 6.0, "dash")
    assert [label.text for label in labels] == [
        "│ half by 4 days,<br>│ corrected",
        "┆ half by 6 days,<br>┆ at face value",
    ]
    # Right of the later line and below one half, where the curve is not; one above the other.
    assert {(label.x, label.xanchor) for label in labels} == {(6.0, "left")}
    assert 0.5 > labels[0].y > labels[1].y


def test_labels_near_the_end_of_the_axis_stand_left_above_the_curve():
    _, labels = _half_way(6.0, (8.0, 2.0, 9.0), 9.0)
    assert {(label.x, label.xanchor) for label in labels} == {(6.0, "right")}
    assert all(label.y > 0.5 for label in labels)


def test_where_half_are_not_known_to_be_back_no_face_value_line_is_drawn():
    shapes, labels = _half_way(np.inf, None, 30.0)
    assert not shapes and not labels


def test_each_mark_of_the_rows_carries_its_spell():
    lags, searches = _lags()
    for trace in lag_rows(lags, searches, id="a", title="A").figure.data:
        if trace.name in ("animals found", "searched, none found"):
            spells = searches[(searches["count"] > 0) == (trace.name == "animals found")]["spell"].tolist()
            assert [mark[1] for mark in trace.customdata] == spells


def test_rows_of_half_recovery_say_what_their_marks_mean():
    lags, searches = _lags()
    drawing = lag_rows(lags, searches, id="a", title="A", of_half=True)
    assert {"half or more of what is expected", "less than half"} <= {t.name for t in drawing.figure.data}
    assert drawing.alt == "Counts after 3 dry spells at A: half of what is expected was reached after 1 of them."
    assert drawing.name == "half-rows-a"


def test_the_time_axis_of_returns_ends_beyond_the_last_bound():
    lags, _ = _lags()
    assert horizon(lags) == 30.0
    assert horizon(lags.assign(high_days=[100.0, np.nan, np.nan])) == pytest.approx(112.0)
    assert horizon(lags.iloc[:0]) == 30.0


# ---- counts ---------------------------------------------------------------------------------------------------------


def _rows() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "outlet": ["a", "a", "b"],
            "date": pd.to_datetime(["2020-01-01", "2020-02-01", "2020-01-01"]),
            "count": [4.0, 0.0, 2.0],
            "effort": [30.0, 60.0, 60.0],
            "log_discharge": np.log([1.0, 2.0, 1.0]),
        }
    )


def _curve(level: float) -> pd.DataFrame:
    x = np.array([1.0, 2.0])
    return pd.DataFrame({"discharge_m3s": x, "expected": level * x, "low": 0.5 * level * x, "high": 2 * level * x})


def test_counts_are_for_equal_effort_and_a_zero_is_an_open_mark():
    drawing = counts_over_flow(
        _rows(), {"a": _curve(3.0), "b": _curve(1.0)}, outlet="a", titles={"a": "A", "b": "B"}, window=30, unit="cfs",
        effort_unit="person-min", ratio=1.5,
    )  # fmt: skip
    traces = {t.name: t for t in drawing.figure.data}
    assert list(traces["animals found"].y) == [8.0]  # 4 animals in half an hour
    assert np.asarray(traces["searched, none found"].x).tolist() == pytest.approx([2 / FT3])
    assert traces["searched, none found"].marker.symbol == "diamond-open"
    assert traces["fitted mean"].line.color == EXPECTED
    assert [a.text for a in drawing.figure.layout.annotations if a.xanchor == "left" and a.text == "B"] == ["B"]
    assert "animals per 60 person-min" in [a.text for a in drawing.figure.layout.annotations]
    assert drawing.data["count_for_effort"].tolist() == [8.0, 0.0]


def test_counts_without_a_fit_are_drawn_without_a_curve():
    empty = _curve(1.0).iloc[:0]
    drawing = counts_over_flow(
        _rows(), {"a": empty, "b": empty}, outlet="a", titles={"a": "A", "b": "B"}, window=30, unit="m3/s",
        effort_unit="trap-night", ratio=None,
    )  # fmt: skip
    assert "fitted mean" not in {t.name for t in drawing.figure.data}
    assert "no curve could be fitted" in drawing.alt


def test_a_visit_to_a_dry_outlet_is_a_cross_and_not_a_count():
    spells = pd.DataFrame({"first": [pd.Timestamp("2020-01-10")], "last": [pd.Timestamp("2020-01-20")]})
    drawing = counts_over_time(
        _rows(), people(("2020-01-15", "dry", "dry", np.nan)), spells, outlet="a", title="A",
        first=pd.Timestamp("2020-01-01"), last=pd.Timestamp("2020-03-01"), effort_unit="person-min",
    )  # fmt: skip
    traces = {t.name: t for t in drawing.figure.data}
    assert list(traces["seen dry"].x) == ["2020-01-15"]
    assert traces["seen dry"].marker.symbol == "x-thin"
    assert list(traces["searched, none found"].x) == ["2020-02-01"]
    assert traces["dry"].marker.pattern.shape == "/"
    assert len(drawing.data) == 2


# ---- the last days --------------------------------------------------------------------------------------------------


def test_the_last_days_end_today_where_no_outlook_is_known():
    frame = flow([2.0] * 60)
    drawing = recent_days(
        id="a", title="A", flow=frame, seen=people(("2020-02-20", "running", "counted", 1)),
        today=frame.index[-1], unit="m3/s", stop_m3s=1.0, restart_m3s=None, source="set",
    )  # fmt: skip
    assert list(drawing.figure.layout.xaxis.range) == ["2020-01-30", "2020-03-01"]
    assert len(drawing.data) == 31


def test_an_outlook_is_a_fan_of_low_middle_and_high():
    frame = flow([2.0] * 60)
    days = pd.date_range(frame.index[-1] + pd.Timedelta(days=1), periods=40, freq="D")
    ahead = pd.DataFrame({"low": 1.0, "median": 1.5, "high": 2.0}, index=days)
    drawing = recent_days(
        id="a", title="A", flow=frame, seen=people(), today=frame.index[-1], unit="m3/s", stop_m3s=1.2,
        restart_m3s=None, source="set", ahead=ahead, trip=days[3],
    )  # fmt: skip
    traces = {t.name: t for t in drawing.figure.data}
    assert np.asarray(traces["median"].y).tolist() == [1.5] * 30
    assert traces["high"].fill == "tonexty"
    assert list(drawing.figure.layout.xaxis.range) == ["2020-01-30", "2020-03-31"]


def test_a_drawing_keeps_its_numbers_in_full():
    frame = flow([1 / 3, 2 / 3])
    drawing = _hydrograph(frame, None)
    assert drawing.data["discharge_m3s"].tolist() == [1 / 3, 2 / 3]
