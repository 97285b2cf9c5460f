"""Invented survey trips: who went when, what the surface looked like, how many animals were counted.

Counts follow a negative binomial of the NB2 kind, variance μ + αμ², with
ln μ = intercept[outlet] + BETA·x + season + ln(effort ÷ 60 person-min) + ln(back) + ln(drop), where x is the mean of
ln(true combined discharge [m³/s]) over the 30 days d−30 … d−1 strictly before the visit day d.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from demo_data.outlets import OUTLETS, TRUE_LEVELS_CFS, Outlet
from demo_data.water import FIRST_DAY, LAST_DAY

CFS_TO_M3S = 0.028316846592  # exact: 0.3048³

BETA = 0.6  # effect of the 30-day mean of ln discharge on ln expected count [1]
ALPHA = 0.35  # NB2 dispersion [1]
YEAR_DAYS = 365.2425
SEASON = {"cosine": 0.18, "sine": 0.22}  # of 2π·(day of year)/YEAR_DAYS
INTERCEPT = {"ledge": 1.60, "trough": 1.40, "grotto": 2.05, "headpool": 1.65}
BACK_START, BACK_DAYS = 0.35, 14.0  # right after the return 35 % of the usual mean, e-folding 14 days to all of it

DROP_OUTLET, DROP_FROM, DROP_FACTOR = "grotto", pd.Timestamp("2025-05-01"), 0.45

PEOPLE = ("Tamsin Reedwell", "Ivo Oakhollow", "Joss Färberlind", "Marit Quennell", "Benoît Ashgrove")

NOTES = {
    ("2007-10-24", "ledge"): 'Lip dry, a "dead" leaf mat over the gravel; photographed',
    ("2012-04-18", "headpool"): "Herons about, animals shy at first",
    ("2016-09-28", "ledge"): "Dry to the back wall, crust on the stones; nobody entered",
    ("2018-05-16", "grotto"): 'Benoît: "quiet as a library today", moss cushions full',
    ("2020-06-10", "trough"): "Cress bed cleared upstream, water cloudy for 10 min, then clear",
    ("2022-10-12", "trough"): 'First time I see the trough dry, "señal de sequía" says Marit',
    ("2025-06-18", "grotto"): "Fewer than usual; bank undercut, fresh silt on the left side",
    ("2025-08-13", "grotto"): "Silt still there, all animals on the right side",
}
ASIDES = (
    "A dipper on the rocks, kept clear", "Nets and boots dried since the last site", "Light rain, good light",
    "Low sun, glare until 10", "Moss thick on the back wall", "Water very clear", "Slow start, gate was locked",
)  # fmt: skip


def season_effect(days: pd.DatetimeIndex) -> np.ndarray:
    """Seasonal part of ln expected count [1]."""
    angle = 2 * np.pi * days.day_of_year.to_numpy() / YEAR_DAYS
    return SEASON["cosine"] * np.cos(angle) + SEASON["sine"] * np.sin(angle)


def preceding_flow(system_cfs: pd.Series) -> pd.Series:
    """Mean of ln(discharge [m³/s]) over the 30 days before each day, that day left out."""
    return np.log(system_cfs * CFS_TO_M3S).rolling(30).mean().shift(1)


def trip_days(rng: np.random.Generator) -> pd.DatetimeIndex:
    """Days on which a team goes round all outlets: every two to four weeks, closer together from 2024 on."""
    days, day = [], FIRST_DAY + pd.Timedelta(days=4)
    while day <= LAST_DAY - pd.Timedelta(days=7):
        days.append(day)
        usual = 14 if day >= pd.Timestamp("2024-09-01") else 23
        day += pd.Timedelta(days=int(np.clip(np.rint(rng.normal(usual, 5)), 7, 45)))
    return pd.DatetimeIndex([*days, LAST_DAY - pd.Timedelta(days=4)])


def extra_days(rng: np.random.Generator, outlet: Outlet) -> list[pd.Timestamp]:
    """Days on which one outlet alone is visited: looks while it is dry, searches about weekly after each restart.

    Searches go on for up to 95 days, or until some two weeks after the animals are back.
    """
    days = []
    for spell in outlet.spells.itertuples():
        day = spell.first + pd.Timedelta(days=int(rng.integers(2, 12)))
        while day <= spell.last:
            days.append(day)
            day += pd.Timedelta(days=int(rng.integers(12, 24)))
        day = spell.last + pd.Timedelta(days=int(rng.integers(3, 9)))
        stop = min(day + pd.Timedelta(days=95), LAST_DAY - pd.Timedelta(days=1))
        if pd.notna(spell.returned):
            stop = min(stop, spell.returned + pd.Timedelta(days=16))
        while day <= stop and outlet.running.get(day, False):
            days.append(day)
            day += pd.Timedelta(days=int(rng.integers(6, 10)))
    return days


def schedule(rng: np.random.Generator, outlets: dict[str, Outlet]) -> pd.DataFrame:
    """One row a visit, in order of day and outlet: columns `date`, `outlet`."""
    rows = [(day, name) for day in trip_days(rng) for name in OUTLETS if rng.random() > 0.04]
    for name in TRUE_LEVELS_CFS:
        rows += [(day, name) for day in extra_days(rng, outlets[name])]
    rows.append((LAST_DAY - pd.Timedelta(days=2), "ledge"))
    rows += [(pd.Timestamp(day), name) for day, name in NOTES]
    table = pd.DataFrame(rows, columns=["date", "outlet"]).drop_duplicates()
    order = table["outlet"].map({name: i for i, name in enumerate(OUTLETS)})
    return table.assign(order=order).sort_values(["date", "order"], ignore_index=True).drop(columns="order")


def surface_seen(rng: np.random.Generator, name: str, running: bool, flow_cfs: float) -> str:
    """What a person writes: running, pooled or dry; blank in one visit of ten."""
    if rng.random() < 0.10:
        return ""
    if name in TRUE_LEVELS_CFS:
        distance = abs(np.log(flow_cfs / TRUE_LEVELS_CFS[name][0]))
        if rng.random() < 0.7 * np.exp(-((distance / 0.05) ** 2)):
            return "pooled"
    return "running" if running else "dry"


def expected_counts(table: pd.DataFrame, outlets: dict[str, Outlet], system_cfs: pd.Series) -> np.ndarray:
    """Expected count of each visit per 60 person-min; 0 where the animals are away."""
    days = pd.DatetimeIndex(table["date"])
    log_mean = table["outlet"].map(INTERCEPT).to_numpy() + season_effect(days)
    log_mean = log_mean + BETA * preceding_flow(system_cfs)[days].to_numpy()
    since = np.array(
        [outlets[name].present_since[day] for day, name in table[["date", "outlet"]].itertuples(index=False)]
    )
    back = np.where(np.isnan(since), 0.0, 1 - (1 - BACK_START) * np.exp(-np.nan_to_num(since) / BACK_DAYS))
    drop = np.where((table["outlet"] == DROP_OUTLET) & (days >= DROP_FROM), DROP_FACTOR, 1.0)
    return np.exp(log_mean) * back * drop


def invent_visits(outlets: dict[str, Outlet], system_cfs: pd.Series, seed: int) -> pd.DataFrame:
    """The visit table with numbers still numbers, plus `true_count` and its parts for visits that were searched."""
    rng = np.random.default_rng([seed, 3])
    table = schedule(rng, outlets)
    mean_per_hour = expected_counts(table, outlets, system_cfs)
    rows = []
    team: tuple[str, ...] = ()
    last_day, minutes_of_day = None, 0
    for (day, name), mean in zip(table[["date", "outlet"]].itertuples(index=False), mean_per_hour, strict=True):
        if day != last_day:
            size = 2 if rng.random() < 0.7 else 3
            team = tuple(PEOPLE[i] for i in sorted(rng.choice(len(PEOPLE), size, replace=False)))
            last_day, minutes_of_day = day, int(rng.integers(8 * 12, 10 * 12 + 1)) * 5
        running = bool(outlets[name].running[day])
        row: dict[str, object] = {
            "date": day,
            "outlet": name,
            "surface": surface_seen(rng, name, running, system_cfs[day]),
        }
        row["time"] = "" if rng.random() < 0.02 else f"{minutes_of_day // 60:02d}:{minutes_of_day % 60:02d}"
        row["observers"] = "; ".join(team)
        in_water = min(len(team) - 1, 1 + int(rng.random() < 0.35))  # somebody always stays on the bank
        minutes = int(rng.integers(6, 12)) * 5
        searched = running and rng.random() > 0.02
        row["searched"] = "yes" if searched else "no"
        row["people_in_water"] = in_water if searched else 0
        minutes_of_day += minutes + int(rng.integers(3, 7)) * 5
        temperature = 17.9 + 0.5 * np.sin(2 * np.pi * (day.day_of_year - 120) / YEAR_DAYS) + rng.normal(0, 0.12)
        row["water_temp_c"] = round(temperature, 1) if running and rng.random() > 0.06 else None
        if searched:
            effort = in_water * minutes
            mu = mean * effort / 60
            row |= {"true_mean": mu, "days_since_return": float(outlets[name].present_since[day])}
            count = int(rng.poisson(mu * rng.gamma(1 / ALPHA, ALPHA))) if mu > 0 else 0
            row |= parts(rng, day, count)
            row["true_effort"], row["effort"] = effort, effort if rng.random() > 0.03 else None
            if rng.random() < 0.012:
                row["count"] = row["adults"] = row["juveniles"] = row["gravid"] = None
                row["note"] = "Tally sheet got wet, number not readable"
            elif rng.random() < 0.04:
                row["adults"] = row["juveniles"] = row["gravid"] = None
        elif running:
            row["note"] = "Not searched: " + (
                "thunder near" if rng.random() < 0.4 else "water too murky to see the bottom"
            )
        if "note" not in row and rng.random() < 0.05:
            row["note"] = ASIDES[int(rng.integers(len(ASIDES)))]
        note = NOTES.get((f"{day:%Y-%m-%d}", name))
        if note:  # who writes a note about the water also writes what the water did
            row |= {"note": note, "surface": "running" if running else "dry"}
        rows.append(row)
    return pd.DataFrame(rows)


def parts(rng: np.random.Generator, day: pd.Timestamp, count: int) -> dict[str, int]:
    """Split a count into juveniles and adults, and say how many adults carry eggs: eggs in spring, young in summer."""
    angle = 2 * np.pi * day.day_of_year / YEAR_DAYS
    juveniles = int(rng.binomial(count, 0.22 + 0.14 * np.cos(angle - 3.6)))
    gravid = int(rng.binomial(count - juveniles, 0.20 + 0.16 * np.cos(angle - 1.7)))
    split = {"count": count, "adults": count - juveniles, "juveniles": juveniles, "gravid": gravid}
    return split | {f"true_{key}": value for key, value in split.items()}
