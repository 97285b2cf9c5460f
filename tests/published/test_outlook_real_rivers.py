"""The outlook on open discharge series: skill out of sample, reliability, and the width of its band.

The bounds are this project's own, set before the method was fixed: mean Brier skill over four series against
climatology conditional on the present state, each year judged by a record that leaves it out. A plain ensemble of
neighbours' changes reaches +0.17, +0.16, +0.10 and +0.01 at 7, 14, 30 and 60 days.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from hydro.hindcast import hindcast
from hydro.outlook import outlook
from hydro.outlook_record import OutlookRecord, StateRule, make_record
from hydro.skill import LEADS, Skill, outlook_skill
from tests.published.literal_climatology import literal_climatology, skill_against

Karst = Callable[[str], pd.Series]
GAIN = "skill_vs_conditional_climatology"


def scored(q: pd.Series, level: float) -> Skill:
    return outlook_skill(q, stop_level_m3s=level, resamples=200)


@pytest.fixture(scope="module")
def four(intermittent_river: pd.Series, karst_river: Karst) -> dict[str, Skill]:
    lez = karst_river("Y3204010")
    return {
        "intermittent 0.05": scored(intermittent_river, 0.05),
        "intermittent 0.5": scored(intermittent_river, 0.5),
        "karst 0.1": scored(lez, 0.1),
        "karst 0.3": scored(lez, 0.3),
    }


def test_the_outlook_beats_climatology_of_season_and_state_up_to_two_months_ahead(four: dict[str, Skill]) -> None:
    mean = pd.DataFrame({name: s.table.set_index("lead")[GAIN] for name, s in four.items()}).mean(axis=1)
    assert mean[7] >= 0.16 and mean[14] >= 0.15 and mean[30] >= 0.11 and mean[60] >= 0.035
    assert all((s.table[GAIN] > -0.01).all() for s in four.values())


def test_whole_series_do_not_fall_below_climatology_by_its_plain_wording_either(
    four: dict[str, Skill], intermittent_river: pd.Series, karst_river: Karst, fulda: pd.Series
) -> None:
    """The share among days of other calendar years, which sees across New Year what no forecast can."""
    lez = karst_river("Y3204010")
    casts = {name: s.hindcast for name, s in four.items()}
    rivers = {"intermittent": intermittent_river, "karst": lez}
    gains = []
    for name, cast in casts.items():
        river, level = name.split()
        gains.append(skill_against(literal_climatology(_record(rivers[river], float(level)), cast), cast))
    mean = dict(zip(LEADS, np.mean(gains, axis=0), strict=True))
    assert mean[7] >= 0.16 and mean[14] >= 0.15 and mean[30] >= 0.11 and mean[60] >= 0.035
    for q, level in ((fulda, 10.0), (lez["1976":"1985"], 0.1)):
        record = _record(q, level)
        cast = hindcast(record, np.array(LEADS))
        gains.append(skill_against(literal_climatology(record, cast), cast))
    assert (np.array(gains) > -0.01).all()


def _record(q: pd.Series, level: float) -> OutlookRecord:
    return make_record(
        q.loc[q.first_valid_index() : q.last_valid_index()], StateRule(stop_m3s=level, restart_m3s=level)
    )


def test_the_blend_does_better_than_half_analogues_half_climatology(four: dict[str, Skill]) -> None:
    gains = []
    for s in four.values():
        cast = s.hindcast
        half = 0.5 * cast.analogues + 0.5 * cast.conditional
        judged = ~np.isnan(cast.outcome + half + cast.forecast)
        score = [np.where(judged, (p - cast.outcome) ** 2, 0.0).sum(axis=0) for p in (cast.forecast, half)]
        gains.append(1 - score[0] / score[1])
    mean = dict(zip(LEADS, np.mean(gains, axis=0), strict=True))
    assert mean[7] > 0.02 and mean[14] > 0.02 and mean[30] > 0.01
    assert all(gain > 0 for gain in mean.values())


def test_the_skill_a_week_and_a_month_ahead_is_more_than_chance_between_years(four: dict[str, Skill]) -> None:
    for name, s in four.items():
        table = s.table.set_index("lead")
        assert table.loc[[7, 14, 30], "low"].gt(0).all(), name
        assert (table["low"] <= table[GAIN]).all() and (table[GAIN] <= table["high"]).all()


def test_chances_are_reliable_within_their_consistency_bars(four: dict[str, Skill]) -> None:
    bins = pd.concat([s.reliability for s in four.values()])
    bins = bins[bins["lead"] <= 60]
    inside = bins["observed"].between(bins["bar_low"] - 1e-9, bins["bar_high"] + 1e-9)
    # 95 % bars: of about 230 bins that hang together some lie outside.
    assert inside.mean() > 0.88
    for s in four.values():
        table = s.table[s.table["lead"] <= 60]
        assert (table["brier_reliability"] < 0.05 * table["brier_uncertainty"]).all()


@pytest.mark.parametrize(
    ("first", "last", "level"),
    [(1981, 1985, 0.05), (1981, 1985, 0.5), (1991, 1995, 0.5), (1995, 2000, 0.5), (1995, 2004, 0.05),
     (2006, 2010, 0.05), (2001, 2010, 0.5)],
)  # fmt: skip
def test_a_short_record_of_an_intermittent_river_does_not_fall_below_climatology(
    intermittent_river: pd.Series, first: int, last: int, level: float
) -> None:
    table = scored(intermittent_river[str(first) : str(last)], level).table
    assert (table[GAIN] > -0.01).all()


@pytest.mark.parametrize(
    ("first", "last", "level"),
    [(1975, 1979, 0.3), (1976, 1983, 0.1), (1977, 1986, 0.3), (1988, 1992, 0.1), (2000, 2004, 0.1), (2014, 2018, 0.3)],
)
def test_a_short_record_of_a_karst_river_does_not_fall_below_climatology(
    karst_river: Karst, first: int, last: int, level: float
) -> None:
    table = scored(karst_river("Y3204010")[str(first) : str(last)], level).table
    assert (table[GAIN] > -0.01).all()


def test_rivers_of_other_kinds_do_not_fall_below_climatology(
    fulda: pd.Series, karst_river: Karst, nordic_river: pd.Series
) -> None:
    cases = {
        "fulda": (fulda, 10.0),
        "fulda, higher": (fulda, 13.0),
        "second station": (karst_river("Y3204030"), 0.5),
        "third station, mostly missing": (karst_river("Y3204040"), 0.3),
        "nordic, four years": (nordic_river, 0.1),
    }
    for name, (q, level) in cases.items():
        assert (scored(q, level).table[GAIN] > -0.01).all(), name


def test_four_fifths_of_the_outcomes_lie_in_the_eighty_percent_band(intermittent_river: pd.Series) -> None:
    inside: dict[int, list[bool]] = {7: [], 30: [], 60: []}
    median_above = []
    for issued in pd.date_range("1995-01-15", "2010-06-15", freq="46D"):
        ahead = outlook(intermittent_river, issued, stop_level_m3s=0.5, horizon=60, level=0.8).days.set_index("lead")
        for lead, hits in inside.items():
            truth = intermittent_river[issued + pd.Timedelta(days=lead)]
            hits.append(ahead["discharge_low_m3s"][lead] - 0.005 <= truth <= ahead["discharge_high_m3s"][lead] + 0.005)
        median_above.append(ahead["discharge_median_m3s"][30] > intermittent_river[issued + pd.Timedelta(days=30)])
    # 124 issue dates: two standard errors are 0.07.
    for lead, hits in inside.items():
        assert 0.70 < np.mean(hits) < 0.92, lead
    assert 0.35 < np.mean(median_above) < 0.65
