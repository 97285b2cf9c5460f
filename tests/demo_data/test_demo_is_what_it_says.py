"""The invented demo: same seed, same bytes; its files hold what TRUTH.json says and can be analysed back to it.

The demo is the only invented data of the project; these tests hold it against its own stated truth, against the
calendar rules of the IANA zone CST6CDT, and against the count models of the reference library statsmodels.
"""

from __future__ import annotations

import csv
import hashlib
import json
import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from demo_data.make_demo import TRUTH, WORKSPACE, invent, make, truth_text
from demo_data.water import invent_water

CFS_TO_M3S = 0.3048**3  # definition of the international foot
DISCHARGE = WORKSPACE / "discharge"


def digests(folder: Path) -> dict[str, str]:
    files = sorted(path for path in folder.rglob("*") if path.is_file() and ".resurgence" not in path.parts)
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def rdb(name: str) -> pd.DataFrame:
    """Data rows of tab-delimited text as strings; comments and the definition row dropped."""
    lines = [line for line in (DISCHARGE / name).read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = [line.split("\t") for line in lines]
    table = pd.DataFrame(rows[2:], columns=rows[0])
    return table.rename(columns={rows[0][-2]: "value", rows[0][-1]: "code"})


def daily_cfs(name: str) -> pd.Series:
    table = rdb(name)
    return pd.Series(pd.to_numeric(table["value"], errors="coerce").to_numpy(), index=pd.to_datetime(table["datetime"]))


def lower_cfs() -> pd.Series:
    table = pd.read_csv(DISCHARGE / "lower_daily.csv", sep=";", decimal=",", skiprows=3)
    days = pd.to_datetime(table["Day"], format="%d/%m/%Y")
    return pd.Series(table["Discharge (L/s)"].to_numpy() / 1000 / CFS_TO_M3S, index=days)


@pytest.fixture(scope="module")
def truth() -> dict:
    return json.loads(TRUTH.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def true_system(truth: dict) -> pd.Series:
    """True combined discharge [ft³/s] by day."""
    return invent_water(truth["seed"]).true_system


@pytest.fixture(scope="module")
def published() -> pd.DataFrame:
    gauges = {"north": daily_cfs("north_daily.txt"), "mill": daily_cfs("mill_daily.txt"), "lower": lower_cfs()}
    return pd.DataFrame(gauges).asfreq("D")


@pytest.fixture(scope="module")
def visits() -> pd.DataFrame:
    return pd.read_csv(WORKSPACE / "visits.csv", parse_dates=["date"])


@pytest.fixture(scope="module")
def captures() -> pd.DataFrame:
    return pd.read_csv(WORKSPACE / "captures.csv", parse_dates=["date"])


def test_the_same_seed_gives_the_same_bytes(tmp_path: Path) -> None:
    make(tmp_path)
    assert digests(tmp_path) == digests(WORKSPACE)
    assert truth_text(invent()) == TRUTH.read_text(encoding="utf-8")


def test_the_folder_is_small_enough_to_ship() -> None:
    assert sum(path.stat().st_size for path in WORKSPACE.rglob("*") if path.is_file()) < 6_000_000


def test_the_workspace_names_files_that_exist_and_levels_near_the_true_ones(truth: dict) -> None:
    settings = tomllib.loads((WORKSPACE / "workspace.toml").read_text(encoding="utf-8"))
    assert list(settings["gauges"]) == ["north", "mill", "lower"]
    assert list(settings["outlets"]) == ["ledge", "trough", "grotto", "headpool"]
    assert settings["as_of"] == truth["last_day"] == "2025-10-19"
    counts = {name: len(list(WORKSPACE.glob(gauge["file"]))) for name, gauge in settings["gauges"].items()}
    assert counts == {"north": 2, "mill": 1, "lower": 1}
    for name, levels in truth["levels"].items():
        outlet = settings["outlets"][name]
        assert outlet["stops_below"] == f"{levels['set_stop']['cfs']:g} cfs"
        assert outlet["restarts_above"] == f"{levels['set_restart']['cfs']:g} cfs"
        assert levels["set_stop"]["cfs"] == pytest.approx(levels["true_stop"]["cfs"], rel=0.05)
        assert levels["true_stop"]["m3s"] == pytest.approx(levels["true_stop"]["cfs"] * CFS_TO_M3S, abs=1e-6)


def test_the_daily_files_cover_twenty_years_with_the_stated_holes(published: pd.DataFrame, truth: dict) -> None:
    assert str(published.index[0].date()) == truth["first_day"]
    for gauge, last in {"north": "2025-10-16", "mill": "2025-10-18", "lower": "2025-10-18"}.items():
        record = published.loc[:last, gauge]
        stated = pd.DatetimeIndex([])
        for hole in truth["gauges"]["holes"]:
            if hole["gauge"] == gauge:
                stated = stated.union(pd.date_range(hole["first"], hole["last"]))
        assert list(record.index[record.isna()]) == list(stated)
        assert record.index[-1] == pd.Timestamp(last)
        assert published.loc[pd.Timestamp(last) + pd.Timedelta(days=1) :, gauge].isna().all()
    outage = published["mill"].loc["2019-09-20":"2019-12-03"]
    assert len(outage) == 75


def test_codes_stand_where_numbers_are_missing_and_recent_values_are_provisional() -> None:
    north, mill = rdb("north_daily.txt"), rdb("mill_daily.txt")
    assert len(north) == 7321 - 4  # 2005-10-01 … 2025-10-16, four days without a row
    assert len(mill) == 7323 - 76
    assert north["value"].value_counts()[["Ice", "Eqp"]].to_dict() == {"Ice": 9, "Eqp": 2}
    assert mill["value"].value_counts()[["Ice", "Eqp"]].to_dict() == {"Ice": 4, "Eqp": 4}
    for table in (north, mill):
        assert set(table["code"]) == {"A", "A:e", "P", "P:e"} or set(table["code"]) == {"A", "A:e", "P"}
        recent = table["datetime"] >= "2025-05-15"
        assert table.loc[recent, "code"].str.startswith("P").all()
        assert table.loc[~recent, "code"].str.startswith("A").all()
        assert 20 < table["code"].str.endswith("e").sum() < 150


def test_the_quarter_hours_change_clocks_twice_a_year_and_repeat_one_hour_each_autumn() -> None:
    table = rdb("north_15min.txt")
    assert 69_000 < len(table) < 70_400
    offset = table["tz_cd"].map({"CST": 6, "CDT": 5})
    instant = pd.to_datetime(table["datetime"]) + pd.to_timedelta(offset, unit="h")
    assert instant.is_monotonic_increasing and instant.is_unique
    # The zone rule: second Sunday of March and first Sunday of November at 2 o'clock (IANA tz database, rule US).
    changes = table["tz_cd"] != table["tz_cd"].shift()
    first_after = table.loc[changes, ["datetime", "tz_cd"]].iloc[1:]
    assert first_after.to_numpy().tolist() == [
        ["2023-11-05 01:00", "CST"],
        ["2024-03-10 03:00", "CDT"],
        ["2024-11-03 01:00", "CST"],
        ["2025-03-09 03:00", "CDT"],
    ]
    assert table["datetime"].duplicated().sum() == 8  # four quarter hours in each of two autumns
    assert (table["value"] == "Eqp").sum() == 8 + 6
    assert table["datetime"].iloc[-1] == "2025-10-19 06:45"


def test_the_means_of_the_quarter_hours_are_the_daily_values(published: pd.DataFrame) -> None:
    table = rdb("north_15min.txt")
    values = pd.to_numeric(table["value"], errors="coerce")
    by_day = values.groupby(pd.to_datetime(table["datetime"]).dt.normalize())
    whole = by_day.mean()[by_day.count() >= 92]
    both = pd.DataFrame({"mean": whole, "daily": published["north"]}).dropna()
    assert len(both) > 710
    assert np.abs(np.log(both["mean"] / both["daily"])).max() < 0.005


def test_the_published_sum_lies_within_the_stated_error_of_the_truth(
    published: pd.DataFrame, true_system: pd.Series, truth: dict
) -> None:
    system = published.sum(axis=1, skipna=False).dropna()
    error = np.log(system / true_system[system.index])
    assert len(system) > 7100
    assert (np.abs(error) < 0.10).mean() > 0.95
    assert error.std() == pytest.approx(truth["gauges"]["rating_error"]["combined_sd_of_log_realised"], abs=0.002)


def test_the_dry_spells_are_those_of_the_true_levels(true_system: pd.Series, truth: dict) -> None:
    ledge, trough = truth["dry_spells"]["ledge"], truth["dry_spells"]["trough"]
    assert 18 <= len(ledge) <= 26 and sum(spell["days"] <= 5 for spell in ledge) >= 2
    assert max(spell["days"] for spell in ledge) > 150
    assert 2 <= len({spell["first"][:4] for spell in trough}) <= 4
    for name, spells in truth["dry_spells"].items():
        stop, restart = (truth["levels"][name][key]["cfs"] for key in ("true_stop", "true_restart"))
        for spell in spells:
            days = true_system[spell["first"] : spell["last"]]
            assert days.iloc[0] < stop and days.max() < restart
            assert true_system[pd.Timestamp(spell["first"]) - pd.Timedelta(days=1)] >= stop
            assert true_system[spell["restart"]] >= restart
            assert len(days) == spell["days"]


def test_the_record_ends_with_the_ledge_running_and_receding_towards_its_level(published: pd.DataFrame) -> None:
    last = published[["mill", "lower"]].loc["2025-10-18"].sum()
    table = rdb("north_15min.txt")
    north = pd.to_numeric(table.loc[table["datetime"].str.startswith("2025-10-18"), "value"])
    assert len(north) == 96
    assert 1.05 < (last + north.mean()) / 38.0 < 1.15
    system = published.sum(axis=1, skipna=False).loc["2025-09-19":"2025-10-16"]
    assert system.iloc[-1] < 0.85 * system.iloc[0]


def test_visits_are_what_the_contract_of_a_visit_asks(visits: pd.DataFrame) -> None:
    assert 1400 <= len(visits) <= 1600
    assert set(visits["outlet"]) == {"ledge", "trough", "grotto", "headpool"}
    assert not visits.duplicated(["date", "outlet"]).any()
    assert set(visits["surface"].dropna()) == {"running", "pooled", "dry"}
    assert 0.07 < visits["surface"].isna().mean() < 0.13
    dry = visits[visits["surface"] == "dry"]
    assert len(dry) > 60 and dry["count"].isna().all() and (dry["searched"] == "no").all()
    assert visits.loc[visits["searched"] == "no", ["count", "effort"]].isna().all(axis=None)
    searched = visits[visits["searched"] == "yes"]
    assert 0.015 < searched["effort"].isna().mean() < 0.05
    assert searched["count"].isna().sum() > 5 and (searched["count"] == 0).sum() > 100
    split = searched.dropna(subset=["adults", "juveniles", "gravid", "count"])
    assert (split["adults"] + split["juveniles"] == split["count"]).all() and (split["gravid"] <= split["adults"]).all()
    means = searched.groupby("outlet")["count"].mean()
    assert means.between(3, 12).all()
    assert (visits["observers"].str.count(";") + 1 >= visits["people_in_water"] + 1).all()  # one stays on the bank
    assert visits["date"].max() >= pd.Timestamp("2025-10-15")


def test_awkward_cells_survive_a_round_trip_through_csv() -> None:
    with (WORKSPACE / "visits.csv").open(encoding="utf-8", newline="") as file:
        notes = [row["note"] for row in csv.DictReader(file)]
    assert 'Lip dry, a "dead" leaf mat over the gravel; photographed' in notes
    assert any("señal de sequía" in note for note in notes)


def test_captures_never_exceed_what_was_counted(visits: pd.DataFrame, captures: pd.DataFrame, truth: dict) -> None:
    assert (
        captures["individual"].nunique() == truth["captures"]["individuals"]
        and 800 <= captures["individual"].nunique() <= 1000
    )
    assert len(captures) == truth["captures"]["captures"] and 2100 <= len(captures) <= 2500
    assert not captures.duplicated(["date", "individual"]).any()
    handled = captures.groupby(["date", "outlet"]).agg(
        n=("individual", "size"), eggs=("gravid", lambda cells: int((cells == "yes").sum()))
    )
    both = handled.join(visits.set_index(["date", "outlet"])[["count", "gravid"]])
    assert len(both) == len(handled)
    assert (both["n"] <= both["count"]).where(both["count"].notna(), True).all()
    assert (both["eggs"] <= both["gravid"]).where(both["gravid"].notna(), True).all()
    assert (captures.groupby("individual")["outlet"].nunique() > 1).sum() >= 10
    assert captures.loc[captures["stage"] == "juvenile", "gravid"].isna().all()


def test_some_animals_are_met_before_and_after_a_dry_spell(captures: pd.DataFrame, truth: dict) -> None:
    ledge = captures[captures["outlet"] == "ledge"]
    both = 0
    for spell in truth["dry_spells"]["ledge"]:
        before = set(ledge.loc[ledge["date"] < spell["first"], "individual"])
        both += len(before & set(ledge.loc[ledge["date"] > spell["last"], "individual"]))
        assert ledge["date"].between(spell["first"], spell["last"]).sum() == 0
    assert both >= 20


def test_no_animal_is_counted_before_its_true_return(visits: pd.DataFrame, truth: dict) -> None:
    for name, spells in truth["dry_spells"].items():
        counts = visits[visits["outlet"] == name].set_index("date")["count"]
        ends = [spell["first"] for spell in spells[1:]] + ["2025-10-20"]
        for spell, until in zip(spells, ends, strict=True):
            back = pd.Timestamp(spell["returned"] or until)
            away = counts[(counts.index >= spell["first"]) & (counts.index < back)]
            assert away.fillna(0).max() == 0 if len(away) else True


def test_the_naive_median_of_first_finds_is_near_the_true_lag(visits: pd.DataFrame, truth: dict) -> None:
    # The first find comes on a visit after the return, so it is late by some days; spells without return drop out.
    ledge = visits[visits["outlet"] == "ledge"].set_index("date")["count"]
    lags = []
    for spell in truth["dry_spells"]["ledge"]:
        if spell["returned"]:
            found = ledge[(ledge.index >= spell["returned"]) & (ledge > 0)].index[0]
            lags.append((found - pd.Timestamp(spell["restart"])).days)
    assert len(lags) >= 12
    assert 0.7 < np.median(lags) / truth["return_lag"]["median_days"] < 1.5


@pytest.fixture(scope="module")
def regression(visits: pd.DataFrame, published: pd.DataFrame, truth: dict) -> pd.DataFrame:
    """Searched visits to the two outlets that never stop, before the unexplained drop, with the model's terms."""
    flow = np.log(published.interpolate(limit_area="inside").sum(axis=1, skipna=False) * CFS_TO_M3S)
    before = flow.rolling(30).mean().shift(1)
    table = visits[visits["outlet"].isin(["grotto", "headpool"])].dropna(subset=["count", "effort"])
    table = table[table["date"] < truth["counts"]["unexplained_drop"]["from"]]
    angle = 2 * np.pi * table["date"].dt.day_of_year / 365.2425
    table = table.assign(flow=before[table["date"]].to_numpy(), cosine=np.cos(angle), sine=np.sin(angle))
    return table.assign(one=1.0, headpool=(table["outlet"] == "headpool").astype(float)).dropna(subset=["flow"])


def test_a_reference_fit_finds_the_true_flow_effect_season_and_dispersion(
    regression: pd.DataFrame, truth: dict
) -> None:
    # Reference: statsmodels 0.15, discrete.NegativeBinomial (NB2, maximum likelihood).
    from statsmodels.discrete.discrete_model import NegativeBinomial

    terms = ["one", "headpool", "flow", "cosine", "sine"]
    model = NegativeBinomial(regression["count"], regression[terms], exposure=regression["effort"] / 60)
    fit = model.fit(disp=False, maxiter=200)
    interval = fit.conf_int(alpha=0.05)
    said = truth["counts"]
    for term, value in {
        "flow": said["beta"],
        "one": said["intercepts"]["grotto"],
        "headpool": said["intercepts"]["headpool"] - said["intercepts"]["grotto"],
        "cosine": said["season"]["cosine"],
        "sine": said["season"]["sine"],
        "alpha": said["alpha"],
    }.items():
        low, high = interval.loc[term]
        assert low < value < high, term
    assert interval.loc["flow", 0] > 0


def test_the_late_drop_at_one_outlet_is_more_than_flow_effort_and_season_expect(
    visits: pd.DataFrame, published: pd.DataFrame, truth: dict
) -> None:
    said, drop = truth["counts"], truth["counts"]["unexplained_drop"]
    flow = np.log(published.interpolate().sum(axis=1) * CFS_TO_M3S).rolling(30).mean().shift(1)
    late = visits[(visits["outlet"] == drop["outlet"]) & (visits["date"] >= drop["from"])].dropna(
        subset=["count", "effort"]
    )
    angle = 2 * np.pi * late["date"].dt.day_of_year / 365.2425
    season = said["season"]["cosine"] * np.cos(angle) + said["season"]["sine"] * np.sin(angle)
    mean = np.exp(said["intercepts"][drop["outlet"]] + said["beta"] * flow.reindex(late["date"]).to_numpy() + season)
    expected = (mean * late["effort"] / 60).to_numpy()
    spread = np.sqrt((expected + said["alpha"] * expected**2).sum())
    assert len(late) >= 8
    assert late["count"].sum() < expected.sum() - 2 * spread
    assert 0.25 < late["count"].sum() / expected.sum() < 0.75  # the truth says 0.45


def test_the_readers_of_this_project_take_every_gauge_file_without_a_question(published: pd.DataFrame) -> None:
    from hydro.sources.recognise import read_gauge_file

    steps = {}
    for path in sorted(DISCHARGE.iterdir()):
        answer = read_gauge_file(path)
        assert answer.problems == () and len(answer.series) == 1
        steps[path.name] = answer.series[0].step
        gauge = path.name.split("_")[0]
        if steps[path.name] == "daily":
            read = answer.series[0].values.dropna()
            here = published[gauge].dropna() * CFS_TO_M3S
            assert list(read.index) == list(here.index)
            np.testing.assert_allclose(read.to_numpy(), here.to_numpy(), rtol=1e-12)
    assert sorted(steps.values()) == ["PT15M", "daily", "daily", "daily"]
