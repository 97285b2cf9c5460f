"""Sentences about one gauge file."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from dashboard.wording import cautions
from dashboard.wording.numbers import count_of, discharge, figures, source_of
from hydro.problems import describe
from hydro.suspicious import FILLER, SPIKES, STUCK, UNIT_STEP, ZEROS
from hydro.units import SYMBOLS

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.answers.read import ReadAnswer, SeriesSummary
    from hydro.suspicious import SuspiciousRun

GAPS_SHOWN = 12
UNDERSTOOD = "What was understood of this file"
RUNS_SHOWN = 5
#: What a person should ask of each kind of suspicious stretch.
QUESTIONS = {
    STUCK: "one value all the time: a stuck sensor, or a steady spring?",
    ZEROS: "exactly 0 at once: was it dry, or is 0 a filler?",
    FILLER: "a number that often stands for no value: is it one?",
    SPIKES: "far from both neighbours: a flood that short, or a mistake?",
    UNIT_STEP: "about 1000 times the value before, and it stays: did the unit change?",
}


def as_text(result: ReadAnswer) -> str:
    """The whole answer for a terminal: in one sentence what the file is, then each series, then every doubt."""
    f = result.file
    lines = [f"{f.file}: {f.format or 'format not recognised'}"]
    if result.series:
        lines.append(headline(result))
    for s in result.series:
        lines += ["", *series_lines(s)]
    if len(result.series) > 1:
        lines += ["", 'Several discharge series: a workspace has to choose one with series = "…".']
    if f.not_discharge:
        lines += ["", "Not taken as discharge:", *(f"  {sentence}" for sentence in f.not_discharge)]
    # Suspicious stretches stand with their series, row by row.
    told = tuple(sentence for s in result.series for sentence in s.sentences())
    notes = [note for note in f.notes if not (told and note.endswith(told))]
    if notes:
        lines += ["", "Doubtful:", *(f"  {note}" for note in notes)]
    if f.problems:
        lines += ["", describe(f.problems)]
    else:
        lines += ["", cautions.PROVISIONAL]
    return "\n".join(lines)


def headline(result: ReadAnswer) -> str:
    """How much there is to trust, over all series of the file."""
    rows = sum(s.n for s in result.series)
    known = sum(s.n - s.n_missing for s in result.series)
    expected = [s.n_expected for s in result.series]
    provisional = sum(s.n_provisional for s in result.series)
    runs = sum(len(s.suspicious) for s in result.series)
    what = "One discharge series" if len(result.series) == 1 else f"{len(result.series)} discharge series"
    if all(e is not None for e in expected) and (steps := sum(e or 0 for e in expected)):
        share = "every step has a value" if known == steps else f"{_percent(known, steps)} of the steps have a value"
    else:
        share = f"{known} of {count_of(rows, 'row')} have a value"
    trust = f"{_percent(provisional, rows)} of the rows are provisional" if provisional else "no row is provisional"
    look = f"{count_of(runs, 'stretch', 'stretches')} to look at" if runs else "nothing in it looks suspicious"
    return f"{what}: {share}, {trust}, and {look}{' before trusting it' if runs else ''}."


def _percent(part: int, whole: int) -> str:
    return f"{figures(100 * part / whole, 3)} %" if whole else "none"


def _in_words(step: str) -> str:
    """“PT15M” -> “15 minutes”, “PT1H” -> “hour”; what is put together of several parts stays as it is."""
    match = re.fullmatch(r"PT(\d+)([HMS])", step)
    if match is None:
        return step
    name = {"H": "hour", "M": "minute", "S": "second"}[match[2]]
    return name if match[1] == "1" else f"{match[1]} {name}s"


def series_lines(s: SeriesSummary) -> list[str]:
    """One series: span, step, unit and how it was known, holes, marks, and stretches to look at."""
    origin, frame = s.series.origins[0], s.series.frame
    title = " ".join(t for t in (origin.station, origin.series, origin.description) if t) or "one series"
    lines = [title]
    if not len(frame):
        return [*lines, "  no rows"]
    step = {"daily": "daily values", "irregular": "values at irregular steps"}.get(
        s.series.step, f"one value every {_in_words(s.series.step)}"
    )
    lines.append(f"  {_when(s, frame.index[0])} to {_when(s, frame.index[-1])}, {step}, {count_of(s.n, 'row')}")
    lines.append(f"  unit {SYMBOLS[origin.unit]}, {source_of(origin.unit_from)}")
    if origin.clock:
        lines.append(f"  clock: {origin.clock}")
    if s.minimum is not None and s.maximum is not None and s.mean is not None:
        low, mean, high = (discharge(v, origin.unit) for v in (s.minimum, s.mean, s.maximum))
        lines.append(f"  lowest {low}, mean {mean}, highest {high}; {count_of(s.n_zero, 'zero')}")
    lines.append(f"  {count_of(s.n_missing, 'row')} without a value, {count_of(s.n_absent, 'step')} without a row")
    lines += _gap_lines(s)
    share = figures(100 * s.n_provisional / s.n, 2)
    lines.append(
        f"  {count_of(s.n_provisional, 'provisional row')} ({share} %), {count_of(s.n_estimated, 'estimated row')}"
    )
    if s.flags:
        lines.append("  marks: " + ", ".join(f"{name} {n}" for name, n in s.flags.items()))
    return [*lines, *_suspicious_lines(s)]


def _gap_lines(s: SeriesSummary) -> list[str]:
    """How many gaps, the longest, and the first of them by date."""
    if s.gaps.empty:
        return []
    lengths = s.gaps["last"] - s.gaps["first"]
    longest = s.gaps.loc[lengths.idxmax()]
    shown = [f"{_when(s, g.first)} to {_when(s, g.last)}" for g in s.gaps.head(GAPS_SHOWN).itertuples(index=False)]
    more = f", and {len(s.gaps) - GAPS_SHOWN} more" if len(s.gaps) > GAPS_SHOWN else ""
    lines = [f"  {count_of(len(s.gaps), 'gap')}: {'; '.join(shown)}{more}"]
    if len(s.gaps) > 1:
        lines.append(f"  longest gap: {_when(s, longest['first'])} to {_when(s, longest['last'])}")
    return lines


def _suspicious_lines(s: SeriesSummary) -> list[str]:
    """Every kind of suspicious stretch with its rows, its dates and the question that it raises."""
    lines: list[str] = []
    for kind, question in QUESTIONS.items():
        runs = [r for r in s.suspicious if r.kind == kind]
        lines += [f"  look at {_stretch(s, run)}: {question}" for run in runs[:RUNS_SHOWN]]
        if len(runs) > RUNS_SHOWN:
            lines.append(f"  and {len(runs) - RUNS_SHOWN} more of this kind (--json lists all)")
    return lines


def _stretch(s: SeriesSummary, run: SuspiciousRun) -> str:
    first, last, row, last_row = s.stamps_and_rows(run)
    where = f"row {row}" if row == last_row else f"rows {row} to {last_row}"
    when = _when(s, first) if first == last else f"{_when(s, first)} to {_when(s, last)}"
    return f"{where} ({when}), {discharge(run.value_m3s, s.series.origins[0].unit)}"


def _when(s: SeriesSummary, at: pd.Timestamp) -> str:
    return f"{at:%Y-%m-%d}" if s.series.daily else f"{at:%Y-%m-%d %H:%M} UTC"
