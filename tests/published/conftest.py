"""Fixtures: open data that packages of the registries carry, each read once a session."""

from __future__ import annotations

import os
from collections.abc import Callable
from functools import cache
from typing import TypeVar

import pandas as pd
import pytest

from tests.published import debian_data, open_series

Data = TypeVar("Data", pd.Series, pd.DataFrame)


def _open(read: Callable[[], Data]) -> Data:
    """The data; skipped where no registry can be reached, which in CI is a failure."""
    try:
        return read()
    except open_series.RegistryUnreachableError as reason:
        if os.environ.get("CI"):
            pytest.fail(f"{reason} (in CI these checks are not skipped)")
        pytest.skip(str(reason))


@pytest.fixture(scope="session")
def diabetes() -> pd.DataFrame:
    return _open(open_series.lifelines_diabetes)


@pytest.fixture(scope="session")
def salamanders() -> pd.DataFrame:
    return _open(debian_data.salamanders)


@pytest.fixture(scope="session")
def intermittent_river() -> pd.Series:
    return _open(open_series.lumod_example1)


@pytest.fixture(scope="session")
def nordic_river() -> pd.Series:
    return _open(open_series.lumod_example3)


@pytest.fixture(scope="session")
def karst_river() -> Callable[[str], pd.Series]:
    """Call with one of `open_series.LEZ_STATIONS`."""

    @cache
    def station(code: str) -> pd.Series:
        return _open(lambda: open_series.smash_lez(code))

    return station


@pytest.fixture(scope="session")
def hourly_river() -> pd.Series:
    return _open(open_series.smash_cance_hourly)


@pytest.fixture(scope="session")
def fulda() -> pd.Series:
    return _open(open_series.spotpy_fulda)


@pytest.fixture(scope="session")
def hymod_river() -> pd.Series:
    return _open(open_series.spotpy_hymod)
