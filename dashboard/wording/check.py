"""Sentences about what a workspace's files hold."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from dashboard.wording import cautions
from dashboard.wording.fetch import kept
from dashboard.wording.numbers import count_of, short_date, source_of

if TYPE_CHECKING:
    from dashboard.answers.check import CheckAnswer


def copy_sentences(result: CheckAnswer) -> list[str]:
    """When the values of each service's gauge came, and whether they are a copy that is out of date."""
    day = pd.Timestamp(result.header.as_of)
    return [kept(title, copy, day, result.time_zone) for title, copy in result.copies]


def as_text(result: CheckAnswer) -> str:
    """The whole answer for a terminal."""
    h = result.header
    lines = [f"{h.title}, as of {h.as_of}: every file was understood.", ""]
    for g in result.gauges.itertuples(index=False):
        if pd.isna(g.first):
            lines.append(f"gauge {g.gauge}: no value up to the day asked")
            continue
        lines.append(
            f"gauge {g.gauge}: {short_date(g.first)} to {short_date(g.last)}, {count_of(g.days_missing, 'day')} without a "
            f"value in {count_of(g.gaps, 'gap')}, {count_of(g.provisional_days, 'provisional day')}"
        )
    lines += copy_sentences(result)
    for f in result.files.itertuples(index=False):
        unit = f", unit {f.unit} {source_of(f.unit_from)}" if isinstance(getattr(f, "unit", None), str) else ""
        kind = f", {f.format}" if isinstance(getattr(f, "format", None), str) else ""
        lines.append(f"  {f.file}: {f.used_for}{kind}{unit}")
    for f in result.flows.itertuples(index=False):
        span = "never known" if f.first is None else f"{short_date(f.first)} to {short_date(f.last)}"
        lines.append(
            f"flow {f.flow} = {f.members}: {span}, {count_of(f.days_missing, 'day')} missing, {count_of(f.days_bridged, 'day')} bridged"
        )
    for o in result.outlets.itertuples(index=False):
        level = (
            "no stop level (always running)"
            if o.stops_below is None or o.stops_below != o.stops_below
            else f"stops below {o.stops_below}"
        )
        lines.append(f"outlet {o.outlet} on {o.flow}: {level}")
    if result.visits is not None:
        for v in result.visits.itertuples(index=False):
            seen = "" if v.first is None or v.first != v.first else f", {short_date(v.first)} to {short_date(v.last)}"
            lines.append(
                f"visits to {v.outlet}: {v[1]} counted, {v[2]} searched without a count, {v[3]} did not search, {v[4]} dry{seen}"
            )
    if result.n_captures is not None:
        lines.append(
            f"captures: {count_of(result.n_captures, 'capture')} of {count_of(result.n_individuals or 0, 'animal')}"
        )
    if h.warnings:
        lines += ["", "Doubtful:", *(f"  {w}" for w in h.warnings)]
    lines += ["", cautions.PROVISIONAL]
    return "\n".join(lines)
