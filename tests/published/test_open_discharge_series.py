"""Dry spells, flow duration and yearly minima of open discharge series.

Sources of the series: `open_series.py`. The expected numbers were computed twice, with numpy, pandas and statsmodels
and with R 4.2.2 (rle, quantile, filter, acf), and agree; the pooled counts once, in Python. In them a spell is a
maximal run of days below the level that a missing day ends, and it is complete where neither end touches a missing day
or the end of the series.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from hydro.dry_spells import DrySpells, find_dry_spells
from hydro.dry_summary import summarise
from hydro.flow_duration import annual_minima, exceeded_discharge, percent_of_time_at_or_above

Karst = Callable[[str], pd.Series]


def at_or_below(level: float) -> float:
    """The level that makes "q < level" mean "q <= level"."""
    return float(np.nextafter(level, np.inf))


def check(
    dry: DrySpells, days: int, spells: int, complete: int, longest: int, at_least_five: int | None
) -> pd.DataFrame:
    table, summary = dry.spells, summarise(dry)
    assert summary.dry_days == days
    assert len(table) == summary.n_spells == spells
    assert (table["start_certain"] & table["end_certain"]).sum() == summary.n_whole == complete
    assert table["days"].max() == summary.longest_days == longest
    if at_least_five is not None:
        assert (table["days"] >= 5).sum() == at_least_five
    return table


@pytest.mark.parametrize(
    ("level", "days", "spells", "longest", "median", "mean", "at_least_five", "first", "last"),
    [
        (at_or_below(0), 2429, 36, 226, 46, 67.472222, 35, "1998-01-16", "1998-08-29"),
        (0.01, 2517, 36, 227, 48, 69.916667, 35, "1998-01-15", "1998-08-29"),
        (at_or_below(0.01), 2733, 38, 227, 50.5, 71.921053, 35, "1998-01-15", "1998-08-29"),
        (0.1, 3632, 56, 235, 45, 64.857143, 45, "1998-01-07", "1998-08-29"),
        (at_or_below(0.1), 3683, 57, 236, 45, 64.614035, 47, "1998-01-06", "1998-08-29"),
    ],
)
def test_the_spells_of_an_intermittent_river_are_those_that_others_find(
    intermittent_river: pd.Series, level: float, days: int, spells: int, longest: int, median: float, mean: float,
    at_least_five: int, first: str, last: str,
) -> None:  # fmt: skip
    dry = find_dry_spells(intermittent_river, level)
    table = check(dry, days, spells, spells, longest, at_least_five)
    assert table["days"].median() == summarise(dry).median_days == median
    assert table["days"].mean() == pytest.approx(mean, abs=1e-6)
    row = table.loc[table["days"].idxmax()]
    assert (row["first"], row["last"]) == (pd.Timestamp(first), pd.Timestamp(last))


def test_the_lengths_without_any_flow_come_in_order(intermittent_river: pd.Series) -> None:
    table = find_dry_spells(intermittent_river, at_or_below(0)).spells
    assert table["days"].tolist() == [
        60, 47, 25, 105, 46, 14, 46, 31, 146, 104, 34, 105, 21, 173, 86, 31, 6, 1, 49, 226, 132, 131, 131, 26, 125, 5,
        98, 20, 91, 18, 180, 30, 22, 44, 7, 13,
    ]  # fmt: skip
    ends = table[["first", "last"]].apply(lambda days: days.dt.strftime("%Y-%m-%d")).to_numpy().tolist()
    assert ends[:3] == [["1981-02-25", "1981-04-25"], ["1982-03-15", "1982-04-30"], ["1982-08-01", "1982-08-25"]]
    assert ends[-2:] == [["2009-08-26", "2009-09-01"], ["2010-03-31", "2010-04-12"]]
    assert table["minimum_m3s"].eq(0).all()


def test_the_days_without_flow_add_up_by_calendar_year_and_month(intermittent_river: pd.Series) -> None:
    dry = find_dry_spells(intermittent_river, at_or_below(0))
    by_year = summarise(dry).by_year["dry_days"]
    assert by_year.to_dict() == dict(
        zip(
            range(1981, 2011),
            [60, 72, 105, 0, 106, 31, 0, 0, 146, 104, 0, 0, 0, 0, 139, 194, 173, 226, 132, 131, 157, 125, 103, 20, 109,
             180, 30, 22, 51, 13],
            strict=True,
        )
    )  # fmt: skip
    is_dry = dry.states.eq("dry")
    by_month = is_dry.groupby(pd.DatetimeIndex(is_dry.index).month).mean().round(4)
    assert by_month.tolist() == [0.0301, 0.3223, 0.5043, 0.5644, 0.4882, 0.3378, 0.2075, 0.1828, 0.0333, 0, 0, 0]


@pytest.mark.parametrize(
    ("level", "expected"),
    [
        (at_or_below(0), {0: (36, 2429), 1: (35, 2430), 2: (35, 2430), 5: (32, 2442), 10: (31, 2448)}),
        (0.1, {0: (56, 3632), 1: (52, 3636), 2: (50, 3640), 5: (45, 3659), 10: (41, 3688)}),
    ],
)
def test_joined_spells_span_the_running_days_between(
    intermittent_river: pd.Series, level: float, expected: dict[int, tuple[int, int]]
) -> None:
    for join_days, (spells, days) in expected.items():
        joined = find_dry_spells(intermittent_river, level, join_days=join_days).joined
        assert (len(joined), joined["days"].sum()) == (spells, days)
        assert joined["dry_days"].sum() == find_dry_spells(intermittent_river, level).spells["days"].sum()


@pytest.mark.parametrize(
    ("level", "days", "spells", "longest", "median", "mean", "at_least_five", "first", "last"),
    [
        (0.05, 447, 75, 73, 2, 5.96, 24, "1979-07-26", "1979-10-06"),
        (at_or_below(0.05), 457, 77, 74, 3, None, None, None, None),
        (0.1, 1617, 138, 101, 4, 11.717391, 66, "1979-06-28", "1979-10-06"),
        (at_or_below(0.1), 1690, 141, 103, None, 11.985816, 65, None, None),
    ],
)
def test_the_spells_of_a_karst_river_with_years_missing(
    karst_river: Karst, level: float, days: int, spells: int, longest: int, median: float | None, mean: float | None,
    at_least_five: int | None, first: str | None, last: str | None,
) -> None:  # fmt: skip
    q = karst_river("Y3204010")
    assert (len(q), q.isna().sum()) == (22280, 6014)
    dry = find_dry_spells(q, level)
    table = check(dry, days, spells, spells, longest, at_least_five)
    assert summarise(dry).unknown_days == 6014
    if median is not None:
        assert table["days"].median() == median
    if mean is not None:
        assert table["days"].mean() == pytest.approx(mean, abs=1e-6)
    if first is not None:
        row = table.loc[table["days"].idxmax()]
        assert (row["first"], row["last"]) == (pd.Timestamp(first), pd.Timestamp(last))


def test_a_spell_that_touches_missing_days_is_not_complete(karst_river: Karst) -> None:
    q = karst_river("Y3204040")
    assert (q.isna().sum(), q.notna().sum()) == (18185, 4095)
    dry = find_dry_spells(q, 0.1)
    table = check(dry, 91, 28, 21, 13, None)
    row = table.loc[table["days"].idxmax()]
    assert (row["first"], row["last"]) == (pd.Timestamp("2008-04-01"), pd.Timestamp("2008-04-13"))
    touching = table[~(table["start_certain"] & table["end_certain"])]
    assert (touching["unknown_days"] > 0).all() and set(touching["status"]) <= {"starts-in-gap", "ends-in-gap"}


def test_hourly_spells_and_daily_rules_differ(hourly_river: pd.Series) -> None:
    assert (len(hourly_river), hourly_river.isna().sum()) == (114540, 704)
    dry = find_dry_spells(hourly_river, 0.02, step_seconds=3600)
    assert dry.states.eq("dry").sum() == 6858
    assert (len(dry.spells), dry.spells["days"].max(), dry.spells["days"].median()) == (92, 452, 33)
    by_day = hourly_river.groupby(hourly_river.index.floor("D"))
    whole = by_day.count() == 24
    mean, minimum = by_day.mean()[whole], by_day.min()[whole]
    assert (len(mean), (mean < 0.02).sum(), (minimum < 0.02).sum()) == (4741, 292, 339)
    assert mean.mean() == pytest.approx(0.316249244, abs=1e-9)
    assert (mean.idxmin(), mean.min()) == (pd.Timestamp("2009-07-30"), pytest.approx(0.00925, abs=1e-9))


def test_the_spells_of_a_large_river(fulda: pd.Series) -> None:
    table = check(find_dry_spells(fulda, 10.0), 179, 28, 28, 31, None)
    row = table.loc[table["days"].idxmax()]
    assert (row["first"], row["last"]) == (pd.Timestamp("1979-10-01"), pd.Timestamp("1979-10-31"))
    assert (table["days"].median(), table["days"].mean()) == (3, pytest.approx(6.392857, abs=1e-6))
    table = find_dry_spells(fulda, at_or_below(10.0)).spells
    assert (table["days"].sum(), len(table), table["days"].mean()) == (190, 32, 5.9375)


def test_the_spells_of_a_brook_whose_first_year_is_missing(hymod_river: pd.Series) -> None:
    assert hymod_river.isna().sum() == 366
    table = find_dry_spells(hymod_river, 0.001).spells
    assert (table["days"].sum(), len(table), table["days"].max()) == (314, 29, 41)
    row = table.loc[table["days"].idxmax()]
    assert (row["first"], row["last"]) == (pd.Timestamp("2015-08-29"), pd.Timestamp("2015-10-08"))
    assert (table["days"].median(), table["days"].mean()) == (8, pytest.approx(10.827586, abs=1e-6))
    table = find_dry_spells(hymod_river, 0.0001).spells
    assert (table["days"].sum(), len(table), table["days"].max()) == (12, 5, 5)


def test_a_spell_under_way_on_the_first_day_has_no_certain_start(nordic_river: pd.Series) -> None:
    assert len(nordic_river) == 1460
    table = check(find_dry_spells(nordic_river, 0.1), 223, 21, 20, 44, None)
    assert table["status"].iloc[0] == "starts-before-record"
    row = table.loc[table["days"].idxmax()]
    assert (row["first"], row["last"]) == (pd.Timestamp("2006-07-05"), pd.Timestamp("2006-08-17"))
    table = find_dry_spells(nordic_river, at_or_below(0.1)).spells
    assert (table["days"].sum(), len(table), table["days"].median()) == (225, 20, 6.5)


# ---- flow duration and yearly minima ----


def test_the_discharge_exceeded_95_percent_of_the_time_takes_the_weibull_position() -> None:
    # numpy.quantile of 1..10 by both methods, computed independently; the default catches a wrong method.
    flows = pd.Series(np.arange(1.0, 11.0))
    assert exceeded_discharge(flows, [95, 90]).tolist() == pytest.approx([1.0, 1.1])
    assert exceeded_discharge(flows, [95, 90], method="linear").tolist() == pytest.approx([1.45, 1.9])
    assert percent_of_time_at_or_above(flows, 3.0) == pytest.approx(80.0)


def test_flow_duration_of_the_open_series(
    intermittent_river: pd.Series, karst_river: Karst, fulda: pd.Series, hymod_river: pd.Series, nordic_river: pd.Series
) -> None:
    percent = [95, 90, 50, 10]
    assert exceeded_discharge(intermittent_river, percent).tolist() == pytest.approx([0, 0, 0.78, 10.1])
    assert exceeded_discharge(karst_river("Y3204010"), percent).tolist() == pytest.approx([0.066, 0.1, 0.6355, 4.54])
    assert exceeded_discharge(karst_river("Y3204040"), [95, 90]).tolist() == pytest.approx([0.163, 0.3006])
    linear = exceeded_discharge(karst_river("Y3204040"), [95, 90], method="linear")
    assert linear.tolist() == pytest.approx([0.1637, 0.301])
    assert exceeded_discharge(fulda, percent).tolist() == pytest.approx([10.0, 10.9, 21.3, 60.9])
    litres = hymod_river * 1000
    assert exceeded_discharge(litres, [95, 50]).tolist() == pytest.approx([0.3162389, 4.307747], abs=1e-6)
    assert exceeded_discharge(litres, [95], method="linear").iloc[0] == pytest.approx(0.317282, abs=1e-6)
    assert exceeded_discharge(nordic_river, [95, 50]).tolist() == pytest.approx([0.065647, 0.32413], abs=1e-6)
    assert exceeded_discharge(nordic_river, [95], method="linear").iloc[0] == pytest.approx(0.065953, abs=1e-6)


def test_means_and_day_to_day_correlations_of_the_open_series(
    intermittent_river: pd.Series, karst_river: Karst, fulda: pd.Series, hymod_river: pd.Series, nordic_river: pd.Series
) -> None:
    """Not of the package but of the reading: the series are the ones that the numbers were computed on."""
    lez = karst_river("Y3204010")
    assert intermittent_river.sum() == pytest.approx(43380.306, abs=1e-3)
    assert intermittent_river.max() == 207.07
    assert intermittent_river.autocorr(1) == pytest.approx(0.868636158, abs=1e-9)
    assert (lez.sum(), lez.min(), lez.max()) == (pytest.approx(34780.596, abs=1e-3), 0.008, 239)
    assert lez.autocorr(1) == pytest.approx(0.695606382, abs=1e-9)
    assert karst_river("Y3204040").mean() == pytest.approx(3.107661783, abs=1e-9)
    assert (fulda.mean(), fulda.autocorr(1)) == pytest.approx((31.327125650, 0.910486646), abs=1e-8)
    assert hymod_river.mean() * 1000 == pytest.approx(9.414799255, abs=1e-8)
    assert nordic_river.mean() == pytest.approx(0.502722753, abs=1e-8)


def test_seven_day_minima_of_the_years_known_in_full(
    intermittent_river: pd.Series, karst_river: Karst, fulda: pd.Series, nordic_river: pd.Series
) -> None:
    minima = annual_minima(intermittent_river)
    above_zero = {1984: 0.088571429, 1987: 0.01, 1988: 0.025714286, 1991: 0.04, 1992: 0.03, 1993: 0.042857143,
                  1994: 0.035714286}  # fmt: skip
    assert minima.index.tolist() == list(range(1981, 2011))
    assert minima[minima > 1e-9].to_dict() == pytest.approx(above_zero, abs=1e-9)
    minima = annual_minima(karst_river("Y3204010"))
    some = {1975: 0.088428571, 1978: 0.050428571, 1979: 0.012571429, 1980: 0.015714286, 1982: 0.012, 1989: 0.019714286,
            1995: 0.035714286, 2003: 0.081428571, 2015: 0.243, 2018: 0.100714286}  # fmt: skip
    assert len(minima) == 43 and 1981 not in minima.index and 2019 not in minima.index
    assert minima[list(some)].to_dict() == pytest.approx(some, abs=1e-9)
    minima = annual_minima(karst_river("Y3204040"))
    some = {2010: 0.207571429, 2013: 0.225, 2014: 0.078285714, 2015: 0.492428571, 2016: 0.722714286}
    assert minima[list(some)].to_dict() == pytest.approx(some, abs=1e-9)
    assert annual_minima(fulda).tolist() == pytest.approx(
        [8.764286, 11.842857, 15.528571, 9.182857, 9.43, 11.428571, 10.098571, 9.992857, 14.128571, 9.204286], abs=1e-6
    )
    assert annual_minima(nordic_river).to_dict() == pytest.approx(
        {2004: 0.081101429, 2005: 0.058531429, 2006: 0.0312}, abs=1e-9
    )


def test_a_series_without_any_value_has_no_duration_curve() -> None:
    nothing = pd.Series([np.nan, np.nan], index=pd.date_range("2001-01-01", periods=2))
    assert exceeded_discharge(nothing, [50]).isna().all()
    assert percent_of_time_at_or_above(nothing, 1.0) is None
    assert annual_minima(nothing).empty
    with pytest.raises(ValueError, match="between 0 and 100"):
        exceeded_discharge(nothing, [101])
