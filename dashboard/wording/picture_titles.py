"""Titles of the pictures, over each in a report and beside each download."""

from __future__ import annotations


def hydrograph(outlet: str) -> str:
    return f"Discharge at {outlet}"


def last_days(days: int, outlet: str) -> str:
    return f"Last {days} days at {outlet}"


def dry_by_year(outlet: str) -> str:
    return f"Dry days by year at {outlet}"


def dry_by_month(outlet: str) -> str:
    return f"Dry days by month and year at {outlet}"


def level(outlet: str) -> str:
    return f"Where {outlet} stops"


def chance_ahead(outlet: str) -> str:
    return f"Chance that {outlet} runs"


def discharge_ahead(outlet: str) -> str:
    return f"Discharge ahead at {outlet}"


def forecasts_and_outcomes(lead: int, outlet: str) -> str:
    return f"Forecasts {lead} days ahead and what came at {outlet}"


def announced(outlet: str) -> str:
    return f"How far ahead a stop of {outlet} can be announced"


def after_dry_spells(outlet: str, *, of_half: bool) -> str:
    return f"{'Counts' if of_half else 'Searches'} after each dry spell at {outlet}"


def returned_by(outlet: str) -> str:
    return f"Seen again by day, {outlet}"


def counts_over_flow(outlet: str) -> str:
    return f"Counts against flow at {outlet}"


def counts_over_time(outlet: str) -> str:
    return f"Counts over time at {outlet}"


def individuals(which: str, outlet: str) -> str:
    return f"Individuals over time, {which}, {outlet}"


def shares_seen_again(outlet: str) -> str:
    return f"Seen again after each dry spell, {outlet}"


def plan(outlet: str) -> str:
    return f"Visits to {outlet}"
