"""Sentences about one gauge file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording import cautions
from dashboard.wording.numbers import count_of, discharge, figures
from hydro.problems import describe
from hydro.units import SYMBOLS

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.answers.read import ReadAnswer, SeriesSummary

GAPS_SHOWN = 12
UNDERSTOOD = "What was understood of this file"


def as_text(result: ReadAnswer) -> str:
    """The whole answer for a terminal."""
    f = result.file
    lines = [f"{f.file}: {f.format or 'format not recognised'}"]
    for s in result.series:
        lines += ["", *series_lines(s)]
    if len(result.series) > 1:
        lines += ["", 'Several discharge series: a workspace has to choose one with series = "…".']
    if f.not_discharge:
        lines += ["", "Not taken as discharge:", *(f"  {sentence}" for sentence in f.not_discharge)]
    if f.notes:
        lines += ["", "Doubtful:", *(f"  {note}" for note in f.notes)]
    if f.problems:
        lines += ["", describe(f.problems)]
    else:
        lines += ["", cautions.PROVISIONAL]
    return "\n".join(lines)


def series_lines(s: SeriesSummary) -> list[str]:
    """One series: span, step, unit and how it was known, holes, marks."""
    origin, frame = s.series.origins[0], s.series.frame
    title = " ".join(t for t in (origin.station, origin.series, origin.description) if t) or "one series"
    lines = [title]
    if not len(frame):
        return [*lines, "  no rows"]
    step = {"daily": "daily values", "irregular": "values at irregular steps"}.get(
        s.series.step, f"one value every {s.series.step}"
    )
    lines.append(f"  {_when(s, frame.index[0])} to {_when(s, frame.index[-1])}, {step}, {count_of(s.n, 'row')}")
    lines.append(f"  unit {SYMBOLS[origin.unit]}, known from {origin.unit_from}")
    if origin.clock:
        lines.append(f"  clock: {origin.clock}")
    if s.minimum is not None and s.maximum is not None and s.mean is not None:
        low, mean, high = (discharge(v, origin.unit) for v in (s.minimum, s.mean, s.maximum))
        lines.append(f"  lowest {low}, mean {mean}, highest {high}; {count_of(s.n_zero, 'zero')}")
    lines.append(f"  {count_of(s.n_missing, 'row')} without a value, {count_of(s.n_absent, 'step')} without a row")
    shown = [f"{_when(s, g.first)} to {_when(s, g.last)}" for g in s.gaps.head(GAPS_SHOWN).itertuples(index=False)]
    if shown:
        more = f", and {len(s.gaps) - GAPS_SHOWN} more" if len(s.gaps) > GAPS_SHOWN else ""
        lines.append(f"  gaps: {'; '.join(shown)}{more}")
    share = figures(100 * s.n_provisional / s.n, 2)
    lines.append(
        f"  {count_of(s.n_provisional, 'provisional row')} ({share} %), {count_of(s.n_estimated, 'estimated row')}"
    )
    if s.flags:
        lines.append("  marks: " + ", ".join(f"{name} {n}" for name, n in s.flags.items()))
    return lines


def _when(s: SeriesSummary, at: pd.Timestamp) -> str:
    return f"{at:%Y-%m-%d}" if s.series.daily else f"{at:%Y-%m-%d %H:%M} UTC"
