"""The three gauges' files, in layouts that agencies use, with the holes and codes that real records have.

Two gauges come as US-style tab-delimited text (comments, a column row, a definition row, data), one of them also
with 15-minute values on the local clock; the third is a semicolon table in litres per second with decimal commas
and day-first dates. Stations, agency and values are invented.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

TIME_ZONE = "CST6CDT"
AGENCY = "QMW"
STATIONS = {"north": "99000101", "mill": "99000202", "lower": "99000303"}
NAMES = {
    "north": "CANDLE BROOK AT NORTH WEIR, QUILLMERE",
    "mill": "MILL RUN AT OLD WHEEL, QUILLMERE",
    "lower": "Quillmere lower run at Twin Alders",
}
#: Last day in each daily file; the 15-minute file of the north weir carries on to 06:45 of the demo's own today.
LAST_DAILY = {"north": "2025-10-16", "mill": "2025-10-18", "lower": "2025-10-18"}
PROVISIONAL_FROM = pd.Timestamp("2025-05-15")
QUARTER_HOURS_FROM, QUARTER_HOURS_TO = pd.Timestamp("2023-10-18 00:00"), pd.Timestamp("2025-10-19 06:45")

#: Holes in the daily files: gauge, first day, last day, and the code written instead ("" = no row, or a blank).
HOLES = (
    ("north", "2010-01-07", "2010-01-09", "Ice"),
    ("north", "2012-05-20", "2012-05-22", ""),
    ("north", "2014-01-05", "2014-01-10", "Ice"),
    ("north", "2018-03-11", "2018-03-12", "Eqp"),
    ("north", "2024-08-19", "2024-08-19", ""),
    ("mill", "2008-08-14", "2008-08-14", ""),
    ("mill", "2016-06-02", "2016-06-03", "Eqp"),
    ("mill", "2019-09-20", "2019-12-03", ""),  # 75 days: the wheel was rebuilt; a dry spell starts unseen
    ("mill", "2021-02-14", "2021-02-17", "Ice"),
    ("mill", "2025-07-08", "2025-07-09", "Eqp"),
    ("lower", "2006-12-27", "2006-12-27", ""),
    ("lower", "2013-07-04", "2013-07-05", ""),
    ("lower", "2021-03-04", "2021-03-08", ""),
    ("lower", "2024-04-21", "2024-04-22", ""),
)
#: Holes in the 15-minute file, local clock: first, last, and the code ("" = no rows).
QUARTER_HOUR_HOLES = (
    ("2023-12-02 03:15", "2023-12-02 04:15", ""),
    ("2024-02-19 11:00", "2024-02-19 12:45", "Eqp"),
    ("2024-06-30 22:30", "2024-07-01 06:00", ""),
    ("2024-10-05 14:15", "2024-10-05 14:15", ""),
    ("2025-01-21 00:30", "2025-01-22 17:45", ""),
    ("2025-04-02 09:00", "2025-04-02 10:15", "Eqp"),
    ("2025-10-17 13:30", "2025-10-17 14:00", ""),
)


MEASURED = "measured"


def three_figures(value: float) -> str:
    """A discharge as the invented agency prints it: three significant figures, at most two decimals."""
    decimals = 2 if value < 10 else 1 if value < 100 else 0
    return f"{value:.{decimals}f}"


def holes(gauge: str, days: pd.DatetimeIndex) -> pd.Series:
    """What stands for the value of each day of a daily file: MEASURED, a code instead, or "" = nothing at all."""
    code = pd.Series(MEASURED, index=days, dtype=object)
    for name, first, last, text in HOLES:
        if name == gauge:
            code[first:last] = text
    return code


def estimated(gauge: str, days: pd.DatetimeIndex, seed: int) -> pd.Series:
    """Days whose value the agency estimated: the two days round each hole, and some short stretches elsewhere."""
    rng = np.random.default_rng([seed, 5, list(STATIONS).index(gauge)])
    flag = pd.Series(False, index=days)
    for name, first, last, _ in HOLES:
        if name == gauge:
            flag[pd.Timestamp(first) - pd.Timedelta(days=1) : pd.Timestamp(last) + pd.Timedelta(days=1)] = True
    for start in rng.integers(0, len(days), 16):
        flag.iloc[start : start + int(rng.integers(2, 8))] = True
    return flag


def rdb_header(gauge: str, series: str, description: str, columns: list[str], definitions: list[str]) -> list[str]:
    """Comment lines, the column row and the definition row of tab-delimited text."""
    kind = "daily mean" if "00003" in series else "15-minute"
    statistic = "  statistic" if "00003" in series else ""
    parts = series.split("_")
    return [
        "# ---------------------------------- NOTE ----------------------------------------",
        "# Invented data for the resurgence demo. The agency, the station and every value are made up;",
        "# only the layout is that of tab-delimited gauge files. Recent values are provisional.",
        "#",
        "# retrieved: 2025-10-19 07:02:11 CDT       (quill01)",
        "#",
        f"# Data for the following 1 site(s) are contained in this file ({kind} values)",
        f"#    {AGENCY} {STATIONS[gauge]} {NAMES[gauge]}",
        "# " + "-" * 82,
        "#",
        f"# Data provided for site {STATIONS[gauge]}",
        f"#            TS   parameter{statistic}     Description",
        "#        " + "       ".join(parts) + f"     {description}",
        "#",
        "# Data-value qualification codes included in this output:",
        "#     A  Approved for publication -- Processing and review completed.",
        "#     P  Provisional data subject to revision.",
        "#     e  Value has been estimated.",
        "#     Eqp  Equipment malfunction, no value.",
        "#     Ice  Ice at the weir, no value.",
        "# ",
        "\t".join(columns),
        "\t".join(definitions),
    ]


def write_daily_rdb(path: Path, gauge: str, published_cfs: pd.Series, seed: int) -> None:
    """Daily means [ft³/s] of one US-style gauge."""
    published_cfs = published_cfs[: LAST_DAILY[gauge]]
    days = pd.DatetimeIndex(published_cfs.index)
    series = f"{240000 + int(STATIONS[gauge][-3:])}_00060_00003"
    lines = rdb_header(
        gauge,
        series,
        "Discharge, cubic feet per second (Mean)",
        ["agency_cd", "site_no", "datetime", series, f"{series}_cd"],
        ["5s", "15s", "20d", "14n", "10s"],
    )
    for day, value, code, guess in zip(
        days, published_cfs, holes(gauge, days), estimated(gauge, days, seed), strict=True
    ):
        if code == "":
            continue
        approval = "P" if day >= PROVISIONAL_FROM else "A"
        measured = [three_figures(value), f"{approval}:e" if guess else approval]
        cells = measured if code == MEASURED else [code, approval]
        lines.append("\t".join([AGENCY, STATIONS[gauge], f"{day:%Y-%m-%d}", *cells]))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


def quarter_hours(published_cfs: pd.Series, seed: int) -> pd.Series:
    """15-minute discharge [ft³/s] by UTC instant whose mean over each local day is that day's published mean.

    Straight lines between values at local noon, moved until the means agree, with a small restlessness on top.
    """
    local = pd.date_range(QUARTER_HOURS_FROM, QUARTER_HOURS_TO, freq="15min", tz=TIME_ZONE)
    around = published_cfs[QUARTER_HOURS_FROM.normalize() - pd.Timedelta(days=1) : QUARTER_HOURS_TO.normalize()]
    days = pd.DatetimeIndex(around.index)
    noon = (days + pd.Timedelta(hours=12)).tz_localize(TIME_ZONE).as_unit("s").asi8
    whole = pd.date_range(days[0], days[-1] + pd.Timedelta(hours=23, minutes=45), freq="15min", tz=TIME_ZONE)
    seconds, day_number = whole.as_unit("s").asi8, (whole.tz_localize(None).normalize() - days[0]).days
    wanted = around.to_numpy()
    knots = wanted.copy()
    for _ in range(60):  # each pass shrinks the misfit at least by half: the middle weight is 3/4
        curve = np.interp(seconds, noon, knots)
        knots = knots + wanted - np.bincount(day_number, curve) / np.bincount(day_number)
    rng = np.random.default_rng([seed, 6])
    restless = np.exp(rng.normal(0, 0.003, len(whole)))
    return pd.Series(np.interp(seconds, noon, knots) * restless, index=whole.tz_convert("UTC"))[local[0] : local[-1]]


def write_quarter_hour_rdb(path: Path, gauge: str, published_cfs: pd.Series, seed: int) -> None:
    """15-minute values [ft³/s] on the local clock, the code of standard or summer time in every row."""
    values = quarter_hours(published_cfs, seed)
    local = pd.DatetimeIndex(values.index).tz_convert(TIME_ZONE)
    code = pd.Series(MEASURED, index=local, dtype=object)
    for first, last, text in QUARTER_HOUR_HOLES:
        code[pd.Timestamp(first, tz=TIME_ZONE) : pd.Timestamp(last, tz=TIME_ZONE)] = text
    series = f"{250000 + int(STATIONS[gauge][-3:])}_00060"
    lines = rdb_header(
        gauge,
        series,
        "Discharge, cubic feet per second",
        ["agency_cd", "site_no", "datetime", "tz_cd", series, f"{series}_cd"],
        ["5s", "15s", "20d", "6s", "14n", "10s"],
    )
    provisional = local >= PROVISIONAL_FROM.tz_localize(TIME_ZONE)
    stamps = zip(local.strftime("%Y-%m-%d %H:%M\t%Z"), values, code, provisional, strict=True)
    for stamp, value, text, new in stamps:
        if text != "":
            shown = three_figures(value) if text == MEASURED else text
            lines.append(f"{AGENCY}\t{STATIONS[gauge]}\t{stamp}\t{shown}\t{'P' if new else 'A'}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


def write_metric_csv(path: Path, gauge: str, published_cfs: pd.Series, seed: int) -> None:
    """Daily means [L/s] with decimal commas, day-first dates and a column of words for the quality."""
    published_cfs = published_cfs[: LAST_DAILY[gauge]]
    days = pd.DatetimeIndex(published_cfs.index)
    lines = [
        f"{NAMES[gauge]}: invented data for the resurgence demo",
        f"Station {STATIONS[gauge]}, daily mean of the civil day",
        "The decimal sign is a comma. Blank: no value. Values since May 2025 are provisional.",
        "Day;Discharge (L/s);Quality",
    ]
    litres = published_cfs * 28.316846592
    for day, value, code, guess in zip(days, litres, holes(gauge, days), estimated(gauge, days, seed), strict=True):
        text = f"{value:.1f}".replace(".", ",") if code == MEASURED else ""
        quality = "" if code != MEASURED else "estimated" if guess else "good"
        lines.append(f"{day:%d/%m/%Y};{text};{quality}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
