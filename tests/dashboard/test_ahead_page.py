"""The page “What is ahead?”: chances, discharge and the record, and what is not known said at the same size."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from dashboard import cache
from dashboard.answers.outlook import outlook
from dashboard.answers.status import status
from dashboard.figures.days_ahead import chance_ahead, discharge_ahead, no_recharge_path
from dashboard.figures.forecasts_and_outcomes import forecasts_and_outcomes
from dashboard.figures.recent_days import recent_days
from dashboard.wording import outlook as outlook_words
from dashboard.workspace import load_workspace
from hydro.outlook_result import no_outlook
from hydro.skill import LEADS
from tests.dashboard.conftest import DEMO
from tests.dashboard.tables_shown import tables_of
from tests.dashboard.test_pages import app, first_sentence, rewrite, said

VIEW = "views/days_ahead.py"
FT3 = 0.3048**3  # m³ in a cubic foot: the international foot


@pytest.fixture(scope="module")
def ledge():
    found = outlook(load_workspace(DEMO), outlets=("ledge",))
    return found.outlets[0], found.header


def fan(o, **other):
    given = {
        "id": "a", "title": "A", "reading_m3s": 42.5 * FT3, "stop_m3s": 38 * FT3, "restart_m3s": None,
        "stop_range": (37 * FT3, 39 * FT3), "source": "set", "unit": "cfs", "trip": None,
    }  # fmt: skip
    return discharge_ahead(o.ahead, o.no_recharge, **{**given, **other})


def traces(figure):
    return {t.name: t for t in figure.data}


# ---- pictures -----------------------------------------------------------------------------------------------------


def test_both_pictures_share_one_axis_of_time(ledge):
    o, _ = ledge
    one = chance_ahead(o.ahead, id="a", title="A", trip=None, alt="An answer.").figure.layout
    two = fan(o).figure.layout
    assert one.xaxis.range == two.xaxis.range
    assert (one.margin.l, one.margin.r) == (two.margin.l, two.margin.r)
    assert one.xaxis.range == ("2025-10-19", "2026-04-18")  # the day of issue and 180 days more, the last one inside


def test_the_line_of_chance_is_the_answer_with_a_mark_at_every_judged_lead(ledge):
    o, _ = ledge
    drawing = chance_ahead(o.ahead, id="a", title="A", trip=None, alt="An answer.")
    found = traces(drawing.figure)
    assert np.asarray(found["runs that day"].y, float).tolist() == o.ahead.days["probability_running"].tolist()
    assert tuple(found["leads"].customdata) == LEADS
    assert np.asarray(found["has stopped by then"].y, float).tolist() == o.ahead.stops_by["probability"].tolist()
    assert np.diff(drawing.data["passed_by"]).min() >= 0


def test_the_day_of_the_trip_is_a_line_and_one_outside_is_not_drawn(ledge):
    o, _ = ledge
    inside, outside = pd.Timestamp("2025-11-10"), pd.Timestamp("2027-01-01")
    drawing = chance_ahead(o.ahead, id="a", title="A", trip=inside, alt="An answer.")
    assert [s.x0 for s in drawing.figure.layout.shapes] == ["2025-11-10"]
    assert "trip 10 Nov 2025" in [a.text for a in drawing.figure.layout.annotations]
    assert not chance_ahead(o.ahead, id="a", title="A", trip=outside, alt="An answer.").figure.layout.shapes


def test_the_fan_is_drawn_in_the_unit_chosen_over_the_stop_level_and_its_band(ledge):
    o, _ = ledge
    drawing = fan(o)
    median = np.asarray(traces(drawing.figure)["median"].y, float)
    assert median == pytest.approx(o.ahead.days["discharge_median_m3s"].to_numpy() / FT3)
    (band,) = [s for s in drawing.figure.layout.shapes if s.type == "rect"]
    assert (band.y0, band.y1) == pytest.approx((37, 39))
    assert not [s for s in fan(o, stop_range=None).figure.layout.shapes if s.type == "rect"]
    assert drawing.data["discharge_low_m3s"].tolist() == o.ahead.days["discharge_low_m3s"].tolist()


def test_the_path_without_recharge_begins_at_the_reading_and_ends_at_the_level_on_the_day_told(ledge):
    o, _ = ledge
    path = no_recharge_path(o.no_recharge, o.ahead.reading_day, 42.5 * FT3, 38 * FT3)
    assert path["time"].iloc[0] == o.ahead.reading_day
    assert path["discharge_m3s"].iloc[[0, -1]].tolist() == pytest.approx([42.5 * FT3, 38 * FT3])
    assert path["discharge_m3s"].is_monotonic_decreasing
    # The first whole day below the level is the day told, or the one before where the last bit of a day counts.
    assert abs((o.no_recharge.stop_date - path["time"].iloc[-1]) / pd.Timedelta(days=1)) <= 1.5
    assert list(traces(fan(o).figure)["stop without recharge"].x) == [f"{o.no_recharge.stop_date:%Y-%m-%d}"]


def test_a_day_without_recharge_that_has_passed_gets_no_mark(ledge):
    o, _ = ledge
    gone = replace(o, no_recharge=replace(o.no_recharge, stop_date=o.ahead.issued - pd.Timedelta(days=3)))
    assert "stop without recharge" not in traces(fan(gone).figure)


def test_a_band_that_reaches_zero_leaves_the_logarithmic_picture_at_its_edge(ledge):
    o, _ = ledge
    days = o.ahead.days.assign(discharge_low_m3s=o.ahead.days["discharge_low_m3s"].where(o.ahead.days["lead"] < 5, 0.0))
    figure = fan(replace(o, ahead=replace(o.ahead, days=days))).figure
    low = np.asarray(traces(figure)["low"].y, float)
    assert np.isfinite(low).all()
    assert (low > 0).all()
    assert (low[5:] < 10 ** figure.layout.yaxis.range[0]).all()


def test_no_outlook_is_not_drawn():
    nothing = no_outlook(pd.Timestamp("2025-01-01"), None, 0.95, "no reading")
    with pytest.raises(ValueError, match="no reading"):
        chance_ahead(nothing, id="a", title="A", trip=None, alt="An answer.")


def test_each_group_of_forecasts_is_a_mark_a_bar_and_a_number(ledge):
    o, _ = ledge
    bins = o.skill.reliability[o.skill.reliability["lead"] == 30]
    drawing = forecasts_and_outcomes(bins, id="a", title="A", lead=30, level=0.95)
    (marks,) = [t for t in drawing.figure.data if t.name == "observed"]
    assert np.asarray(marks.x, float).tolist() == bins["forecast"].tolist()
    bars = [tuple(t.y) for t in drawing.figure.data if t.name == "bar"]
    assert bars == list(zip(bins["bar_low"], bins["bar_high"], strict=True))
    numbers = [a.text for a in drawing.figure.layout.annotations][: len(bins)]
    assert numbers == [str(int(n)) for n in bins["n"]]


# ---- page ---------------------------------------------------------------------------------------------------------


def test_the_first_sentence_is_the_answer_of_the_command_line_and_all_else_is_on_the_page(monkeypatch, ledge):
    at = app(monkeypatch, DEMO, VIEW)
    assert first_sentence(at) == outlook_words.answer(ledge[0])
    text = said(at)
    for sentence in outlook_words.details(*ledge):
        assert text.count(sentence) == 1, sentence
    assert "not an official warning" in text


def test_another_lead_shows_its_own_record(monkeypatch, ledge):
    at = app(monkeypatch, DEMO, VIEW)
    at.segmented_control(key="lead").select(7).run()
    text = said(at)
    assert outlook_words.reliability_sentences(ledge[0].skill, 7)[0] in text
    assert "Forecasts 30 days ahead in groups" not in text
    assert "forecasts 30 days ahead between" not in text


@pytest.mark.parametrize("lead", [1, 30, 90])
def test_groups_that_ran_more_or_less_often_than_chance_allows_are_named(ledge, lead):
    skill = ledge[0].skill
    bins = skill.reliability[skill.reliability["lead"] == lead]
    # An outcome on the end of its bar is allowed, whatever the last digit of a share.
    fewer, more = (bins["observed"] < bins["bar_low"] - 1e-9).sum(), (bins["observed"] > bins["bar_high"] + 1e-9).sum()
    kept, *named = outlook_words.reliability_sentences(skill, lead)
    assert f"{lead} day{'s' if lead > 1 else ''} ahead" in kept
    assert f"in {len(bins) - fewer - more} of {len(bins)} as" in kept or (
        f"in all {len(bins)} as" in kept and not named
    )
    assert sum("fewer than chance" in s for s in named) == fewer
    assert sum("more than chance" in s for s in named) == more
    assert len(named) == fewer + more


def test_scores_stand_beside_three_simpler_guesses(monkeypatch, ledge):
    scores, shown = ledge[0].skill.table, tables_of(app(monkeypatch, DEMO, VIEW))[0]
    assert shown["Days ahead"].tolist() == list(LEADS)
    for label, name in (("than season alone by", "climatology"), ("than “stays as it is” by", "persistence")):
        expected = 1 - scores["brier"] / scores[f"brier_{name}"]
        assert shown[label].to_numpy() == pytest.approx(expected.to_numpy(), rel=5e-3)
    assert "No score because" not in shown


def test_with_fewer_than_five_dry_spells_no_score_is_shown_and_the_reason_is(monkeypatch):
    shown = tables_of(app(monkeypatch, DEMO, VIEW, outlet="trough"))[0]
    for label in ("Better than season and state by", "than season alone by", "than “stays as it is” by", "From", "To"):
        assert shown[label].isna().all(), label
    assert set(shown["No score because"]) == {"fewer than 5 dry spells"}


def test_an_outlet_without_a_level_has_no_outlook_and_says_why(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW, outlet="grotto")
    assert first_sentence(at) == (
        "There is no outlook for Grotto: no stop level is set, so there is nothing to look out for."
    )
    assert len(at.get("plotly_chart")) == 0


def test_weak_outlooks_say_so_and_a_level_taken_as_exact_is_said(monkeypatch, folder):
    at = app(monkeypatch, folder, VIEW)
    assert "The outlook is a rough guide: short record" in said(at)
    rewrite(folder / "workspace.toml", '[surveys]\nvisits = "visits.csv"\n', "")
    assert "it is taken as exact" in said(app(monkeypatch, folder, VIEW))


# ---- the trip, on both pages --------------------------------------------------------------------------------------


def test_the_trip_is_kept_from_the_first_page_to_this_one(monkeypatch):
    at = app(monkeypatch, DEMO)
    at.date_input(key="trip").set_value(datetime.date(2025, 11, 10)).run()
    row = next(line for line in said(at).splitlines() if line.startswith("Ledge outlet: running"))
    at.switch_page(VIEW).run()
    chance = status(load_workspace(DEMO), trip=pd.Timestamp("2025-11-10")).outlets[0].trip_chance
    assert row.endswith(f" · on Mon 10 November 2025: {round(100 * chance)} in 100 that it runs")
    assert row.count("10 Nov") == 1
    assert f"On Mon 10 November 2025: {round(100 * chance)} in 100 that it runs." in said(at)


@pytest.mark.parametrize("day", ["2025-10-19", "2025-10-20", "2026-04-17", "2026-06-01"])
def test_a_trip_read_off_the_outlook_is_the_answer_of_the_command_line(day):
    workspace = load_workspace(DEMO)
    quick = cache.status_of(workspace, f"trip-{day}", datetime.date.fromisoformat(day))
    assert quick.as_json() == status(workspace, trip=pd.Timestamp(day)).as_json()


def test_another_trip_issues_no_other_outlook(monkeypatch):
    calls = []
    monkeypatch.setattr("dashboard.answers.status.status", lambda workspace: calls.append(1) or status(workspace))
    workspace = load_workspace(DEMO)
    for day in (None, datetime.date(2025, 11, 1), datetime.date(2025, 12, 1)):
        cache.status_of(workspace, "another-trip", day)
    assert len(calls) == 1


def test_the_strip_of_the_first_page_goes_on_as_a_fan_for_thirty_days(monkeypatch):
    at = app(monkeypatch, DEMO)
    at.session_state["outlet-grotto"] = True
    pictures = [m.value for m in at.run().markdown if "<svg" in m.value]
    days = [re.findall(r"<title>\w+ (\d+ \w+ \d+)&#10;(?:[^<]*&#10;)?about ", p) for p in pictures]
    assert days[0][-1] == "18 November 2025"  # 30 days after 19 October 2025
    assert "<polygon" in pictures[0]
    assert "<polygon" not in pictures[1]  # the Grotto has no level and so no outlook
    assert not days[1]


def test_the_numbers_of_the_strip_hold_its_fan():
    days = pd.date_range("2020-01-01", periods=5, name="day")
    flow = pd.DataFrame({"discharge_m3s": 2.0, "provisional": False, "bridged": False}, index=days)
    ahead = pd.DataFrame({"low": 1.0, "median": 2.0, "high": 3.0}, index=pd.date_range("2020-01-05", periods=3))
    drawing = recent_days(
        id="a", title="A", flow=flow, seen=pd.DataFrame({"date": pd.DatetimeIndex([]), "surface": []}),
        today=days[-1], unit="m3/s", stop_m3s=1.5, restart_m3s=None, source="set", ahead=ahead,
    )  # fmt: skip
    assert drawing.data["discharge_m3s"].dropna().tolist() == [2.0] * 5
    assert drawing.data["expected_high_m3s"].dropna().tolist() == [3.0] * 3
    assert drawing.data["day"].tolist() == [*days, *ahead.index]


def test_the_record_on_the_first_page_is_worked_out_only_when_asked_for(monkeypatch, ledge):
    at = app(monkeypatch, DEMO)
    sentence = outlook_words.record_sentence(ledge[0].skill)
    assert sentence not in said(at)
    at.session_state["record-status"] = True
    at.run()
    assert sentence in said(at)


@pytest.mark.parametrize("days", [1, 180])
def test_a_record_of_a_day_or_of_months_says_how_far_it_reaches(monkeypatch, folder, days: int):
    """What lies beyond the record is said to be not known: in the text, on the page, and as no number in the JSON."""
    lines = (folder / "north.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (folder / "north.csv").write_text("".join(lines[: days + 1]), encoding="utf-8")
    (folder / "visits.csv").write_text("date,outlet,surface\n", encoding="utf-8")
    last = lines[days].split(",")[0]
    rewrite(folder / "workspace.toml", 'as_of = "2020-12-31"', f'as_of = "{last}"')
    found = outlook(load_workspace(folder), outlets=("ledge",))
    text = outlook_words.as_text(found)
    told = found.as_json()["outlets"][0]["days"]
    if days == 1:
        assert "There is no outlook for Ledge: the record is too short." in text and told is None
    else:
        assert "not known            discharge not known" in text and "beyond the next" in text
        assert told[100]["probability_running"] is None and told[10]["probability_running"] is not None
    assert "nan" not in said(app(monkeypatch, folder, VIEW)).lower().split()
