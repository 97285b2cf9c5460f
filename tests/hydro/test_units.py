"""Units: exact factors, spellings, refusals."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydro.units import FACTORS, SYMBOLS, UnitError, from_m3s, parse_quantity, parse_unit, to_m3s

FOOT = Fraction(3048, 10000)  # international foot, exact: international yard and pound agreement of 1959 (from memory)
US_GALLON = Fraction(231) * (Fraction(254, 10000)) ** 3  # 231 cubic inches, NIST Handbook 44 appendix C (from memory)


@pytest.mark.parametrize(
    ("source", "target", "factor"),
    [
        # Derived by hand from the definitions: 1 ft = 0.3048 m, 1 US gal = 3.785411784 L, 1 acre = 43 560 ft².
        # The rounded ones 0.02832, 0.06309, 0.04381 and 0.01427 are printed in the conversion tables of USGS
        # Scientific Investigations Reports 2005-5227 and 2006-5305.
        ("cfs", "m3/s", 0.028316846592),
        ("cfs", "l/s", 28.316846592),
        ("m3/s", "cfs", 35.31466672148859),
        ("US gpm", "l/s", 0.0630901964),
        ("cfs", "US gpm", 448.8311688311688),
        ("US MGD", "m3/s", 0.04381263638888889),
        ("US MGD", "cfs", 1.547228652263374),
        ("cfs", "US MGD", 0.6463168831168831),
        ("ML/d", "m3/s", 0.01157407407407407),
        ("cfs", "ML/d", 2.4465755455488),
        ("acre-ft/d", "cfs", 0.5041666666666667),
        ("imp MGD", "m3/s", 0.05261678240740741),
        ("imp gpm", "m3/s", 7.576816666666667e-5),
        ("l/min", "m3/s", 1 / 60000),
        ("m3/h", "m3/s", 1 / 3600),
        ("m3/d", "m3/s", 1 / 86400),
    ],
)
def test_conversion_factors_follow_from_the_definitions(source, target, factor):
    assert from_m3s(to_m3s(1.0, source), target) == pytest.approx(factor, rel=1e-12)


def test_forty_cubic_feet_a_second_is_the_known_amount():
    assert parse_quantity("40 cfs").m3s == pytest.approx(1.13267386368, rel=1e-15)


def test_factors_are_exact_rationals_of_foot_and_gallon():
    assert FACTORS["cfs"] == FOOT**3
    assert FACTORS["US gpm"] == US_GALLON / 60
    assert FACTORS["acre-ft/d"] == 43560 * FOOT**3 / 86400


@given(st.floats(1e-9, 1e9), st.sampled_from(sorted(FACTORS)))
def test_a_round_trip_returns_the_value(value, unit):
    assert from_m3s(to_m3s(value, unit), unit) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("ft3/s", "cfs"), ("cfs", "cfs"), ("CFS", "cfs"), ("ft^3/s", "cfs"), ("cusec", "cfs"), ("ft³/s", "cfs"),
        ("cubic feet per second", "cfs"), ("Cubic Feet Per Second", "cfs"), ("ft&#179;/s", "cfs"),
        ("ft&amp;#179;/s", "cfs"), ("m3/s", "m3/s"), ("m^3/s", "m3/s"), ("m³/s", "m3/s"), ("cms", "m3/s"),
        ("cumec", "m3/s"), ("m3 s-1", "m3/s"), ("m3/sec", "m3/s"), ("m³ s⁻¹", "m3/s"), ("l/s", "l/s"), ("L/s", "l/s"),
        ("lps", "l/s"), ("l/min", "l/min"), ("m3/h", "m3/h"), ("m3/d", "m3/d"), ("ML/d", "ML/d"), ("Ml/d", "ML/d"),
        ("MLD", "ML/d"), ("US gpm", "US gpm"), ("US MGD", "US MGD"), ("imperial gpm", "imp gpm"),
        ("imperial MGD", "imp MGD"), ("acre-ft/day", "acre-ft/d"), ("[m³/s]", "m3/s"), ("(cfs)", "cfs"),
    ],
)  # fmt: skip
def test_spellings_in_use_are_understood(text, unit):
    assert parse_unit(text) == unit


@pytest.mark.parametrize("unit", sorted(FACTORS))
def test_every_unit_reads_back_its_own_name_and_symbol(unit):
    assert parse_unit(unit) == unit
    assert parse_unit(SYMBOLS[unit].replace("gal/min", "gpm").replace("Mgal/d", "MGD")) == unit


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("gpm", "US gpm or imp gpm"),
        ("MGD", "US MGD or imp MGD"),
        ("ml/d", "megalitres"),
        ("1/s", "letter l"),
        ("ft", "level"),
        ("kPa", "pressure"),
        ("degC", "temperature"),
        ("m/s", "velocity"),
        ("furlongs", "m3/s"),
        ("", "m3/s"),
    ],
)
def test_what_could_mean_two_things_or_is_no_discharge_is_refused_with_the_reason(text, part):
    with pytest.raises(UnitError) as error:
        parse_unit(text)
    assert part in error.value.expected


@pytest.mark.parametrize("text", ["40", "cfs", "", "-3 cfs", "forty cfs", "40 ft"])
def test_a_level_needs_a_number_and_a_unit_of_discharge(text):
    with pytest.raises(UnitError):
        parse_quantity(text)


@pytest.mark.parametrize(("text", "value"), [("40 cfs", 40), ("1.13 m³/s", 1.13), (".5 m3/s", 0.5), ("1e3 l/s", 1000)])
def test_quantities_keep_what_was_written(text, value):
    assert parse_quantity(text).value == value
