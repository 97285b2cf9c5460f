"""The options of `counts`: words of the command line into choices about the model. Imports nothing heavy at the top."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dashboard.answers.count_choices import CountChoices


def add_count_options(sub: argparse.ArgumentParser) -> None:
    """What may be chosen about the regression."""
    add = sub.add_argument
    add("--windows", type=_windows, default=(), metavar="A,B,…", help="take the one of these that predicts best")
    add("--response", choices=("count", "gravid", "juveniles", "presence", "temperature"), default="count",
        help="what is explained: animals counted; the share with eggs; the share juvenile; whether any was found; "
        "water outside its usual temperature (default count)")  # fmt: skip
    add("--stage", choices=("all", "adults", "juveniles", "gravid"), default="all", help="which animals are counted")
    add("--taxon", metavar="NAME", help="only rows of this taxon")
    add("--factor", choices=("taxon", "stage"), help="a level for each taxon or stage")
    add("--season", choices=("harmonic", "spline"), default="harmonic", help="shape of the year (default harmonic)")
    add("--dry-length", action="store_true", help="let the recovery depend on how long the outlet was dry")
    add("--year-trend", action="store_true", help="a constant change a year")
    add("--flow-by-outlet", action="store_true", help="an effect of flow for each outlet")
    add("--covariate", action="append", default=[], metavar="COLUMN", help="any column of numbers (repeatable)")
    add("--usual-temperature", type=_temperature, metavar="T", help="usual water temperature (default 72 F)")
    add("--temperature-limit", type=_apart, metavar="T", help="how far from it is not usual, such as 2 F: flags visits")


def count_choices(arguments: argparse.Namespace) -> CountChoices:
    """The model asked for; InputError where the options do not go together."""
    from dashboard.answers.count_choices import CountChoices
    from ecology.count_response import USUAL_TEMPERATURE_C, Response, TemperatureBand
    from ecology.count_terms import ModelTerms
    from hydro.problems import InputError, Problem

    usual, limit = arguments.usual_temperature, arguments.temperature_limit
    problems = []
    if limit is None and (usual is not None or arguments.response == "temperature"):
        problems.append(Problem(row="--temperature-limit", expected="how far from the usual is not usual, such as 2 F"))
    if arguments.stage != "all" and arguments.response != "count":
        expected = "all, or --response count: a share has its own stages"
        problems.append(Problem(row="--stage", value=arguments.stage, expected=expected))
    if arguments.factor == "stage" and (arguments.stage != "all" or arguments.response not in ("count", "presence")):
        expected = "a response that is counted by stage: --response count or presence, without --stage"
        problems.append(Problem(row="--factor", value="stage", expected=expected))
    if problems:
        raise InputError(problems)
    band = None
    if limit is not None:
        band = TemperatureBand(limit_c=limit, usual_c=USUAL_TEMPERATURE_C if usual is None else usual)
    return CountChoices(
        window=arguments.window,
        windows=arguments.windows,
        terms=ModelTerms(
            season=arguments.season,
            dry_length=arguments.dry_length,
            year_trend=arguments.year_trend,
            flow_by_outlet=arguments.flow_by_outlet,
            factor=arguments.factor,
            covariates=tuple(dict.fromkeys(arguments.covariate)),
        ),
        response=Response(kind=arguments.response, stage=arguments.stage, taxon=arguments.taxon, band=band),
        band=band,
    )


def _windows(text: str) -> tuple[int, ...]:
    try:
        days = tuple(int(part) for part in text.split(","))
    except ValueError:
        days = ()
    if len(set(days)) < 2 or len(set(days)) != len(days) or min(days) < 1:
        raise argparse.ArgumentTypeError(f"“{text}” is not a list of two or more different windows such as 7,30,90")
    return days


def _degrees(text: str) -> tuple[float, str]:
    number, unit = text.strip()[:-1].strip().rstrip("°").strip(), text.strip()[-1:].upper()
    try:
        value = float(number)
    except ValueError:
        unit = ""
    if unit not in ("C", "F"):
        raise argparse.ArgumentTypeError(f"“{text}” is not a temperature with its unit such as 72 F or 22.2 C")
    return value, unit


def _temperature(text: str) -> float:
    value, unit = _degrees(text)
    return value if unit == "C" else (value - 32.0) / 1.8


def _apart(text: str) -> float:
    value, unit = _degrees(text)
    if value <= 0:
        raise argparse.ArgumentTypeError(f"“{text}” is not a difference above 0 such as 2 F")
    return value if unit == "C" else value / 1.8
