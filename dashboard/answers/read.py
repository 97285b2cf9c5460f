"""What the reader understood of one gauge file."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from dashboard.answers.answer import METHOD_VERSION, iso, number
from hydro.discharge import Discharge
from hydro.sources.gauge_file import GaugeFile, ReadChoices
from hydro.sources.recognise import read_gauge_file
from hydro.suspicious import SuspiciousRun, sentences, suspicious_runs

ESTIMATED = ("estimated", "interpolated")


@dataclass(frozen=True, eq=False, kw_only=True)
class SeriesSummary:
    """One series in numbers: what a person looks at to decide whether to trust a file. Quantities in [m³/s].

    `n_missing` counts rows without a value, `n_absent` steps inside the record that have no row.
    """

    series: Discharge
    n: int
    n_missing: int
    n_absent: int
    n_zero: int
    n_provisional: int
    n_estimated: int
    flags: dict[str, int]
    gaps: pd.DataFrame
    minimum: float | None
    maximum: float | None
    mean: float | None
    suspicious: tuple[SuspiciousRun, ...]

    @property
    def n_expected(self) -> int | None:
        """Steps between the first and the last row; None for an irregular series, which has no step."""
        return None if self.series.step == "irregular" else self.n + self.n_absent

    def sentences(self) -> list[str]:
        """What is suspicious, one sentence a kind, as it also stands among the notes of the file."""
        return sentences(list(self.suspicious), _stamps(self.series))

    def stamps_and_rows(self, run: SuspiciousRun) -> tuple[pd.Timestamp, pd.Timestamp, int, int]:
        """(first stamp, last stamp, row of the first, row of the last) of a suspicious run."""
        frame = self.series.frame
        rows = frame["row"].iloc[[run.first, run.last]].tolist()
        return frame.index[run.first], frame.index[run.last], rows[0], rows[1]


@dataclass(frozen=True, eq=False, kw_only=True)
class ReadAnswer:
    """The answer to `read`."""

    file: GaugeFile
    series: tuple[SeriesSummary, ...]

    def as_json(self) -> dict[str, object]:
        f = self.file
        warnings = [*f.notes, *f.not_discharge]
        if len(f.series) > 1:
            warnings.append('the file holds several discharge series: a workspace has to choose one with series = "…"')
        return {
            "workspace": None,
            "as_of": None,
            "file": f.file,
            "sha256": f.digest,
            "format": f.format,
            "series": [_as_json(s) for s in self.series],
            "not_discharge": list(f.not_discharge),
            "problems": [p.as_json() for p in f.problems],
            "warnings": warnings,
            "method_version": METHOD_VERSION,
        }


def _stamp(series: Discharge, at: pd.Timestamp) -> str | None:
    return iso(at) if series.daily else at.strftime("%Y-%m-%dT%H:%M:%SZ")


def _as_json(s: SeriesSummary) -> dict[str, object]:
    origin, index = s.series.origins[0], s.series.frame.index
    stamp = s.series
    gaps = [{"first": _stamp(stamp, g.first), "last": _stamp(stamp, g.last)} for g in s.gaps.itertuples(index=False)]
    return {
        "station": origin.station,
        "parameter": origin.parameter,
        "statistic": origin.statistic,
        "series": origin.series,
        "description": origin.description,
        "unit": origin.unit,
        "unit_from": origin.unit_from,
        "clock": origin.clock,
        "retrieved": origin.retrieved,
        "step": s.series.step,
        "first": _stamp(stamp, index[0]) if len(index) else None,
        "last": _stamp(stamp, index[-1]) if len(index) else None,
        "n": s.n,
        "n_missing": s.n_missing,
        "n_absent": s.n_absent,
        "n_zero": s.n_zero,
        "n_provisional": s.n_provisional,
        "n_estimated": s.n_estimated,
        "flags": s.flags,
        "gaps": gaps,
        "minimum": number(s.minimum),
        "maximum": number(s.maximum),
        "mean": number(s.mean),
        "quantities_unit": "m3/s",
        "suspicious": [_suspicious(s, run) for run in s.suspicious],
    }


def _suspicious(s: SeriesSummary, run: SuspiciousRun) -> dict[str, object]:
    first, last, row, last_row = s.stamps_and_rows(run)
    return {
        "kind": run.kind,
        "first": _stamp(s.series, first),
        "last": _stamp(s.series, last),
        "row": row,
        "last_row": last_row,
        "value": number(run.value_m3s),
    }


def read(path: Path, choices: ReadChoices) -> ReadAnswer:
    """Read one gauge file. Never raises for what is in it: problems are part of the answer."""
    file = read_gauge_file(path, choices)
    return ReadAnswer(file=file, series=summaries(file))


def summaries(file: GaugeFile) -> tuple[SeriesSummary, ...]:
    """Every series of a file in numbers."""
    return tuple(_summary(s) for s in file.series)


def _summary(series: Discharge) -> SeriesSummary:
    frame, values = series.frame, series.values
    known = values.notna()
    flags: Counter[str] = Counter()
    for text, count in zip(frame["flags"].cat.categories, _counts(frame["flags"]), strict=True):
        for flag in str(text).split():
            flags[flag] += count
    absent = 0
    if series.daily and len(frame):
        absent = (frame.index[-1] - frame.index[0]).days + 1 - len(frame)
    elif series.step != "irregular" and len(frame):
        step = pd.Timedelta(series.step)
        absent = max(round((frame.index[-1] - frame.index[0]) / step) + 1 - len(frame), 0)
    has = bool(known.any())
    return SeriesSummary(
        series=series,
        n=len(frame),
        n_missing=int((~known).sum()),
        n_absent=absent,
        n_zero=int((values == 0).sum()),
        n_provisional=int((frame["approval"] == "provisional").sum()),
        n_estimated=sum(flags[name] for name in ESTIMATED),
        flags=dict(sorted((k, v) for k, v in flags.items() if v)),
        gaps=series.gaps(),
        minimum=float(values.min()) if has else None,
        maximum=float(values.max()) if has else None,
        mean=float(values.mean()) if has else None,
        suspicious=tuple(_runs(series)),
    )


def _stamps(series: Discharge) -> np.ndarray:
    index = pd.DatetimeIndex(series.frame.index)
    return index.tz_localize(None).to_numpy().astype("datetime64[us]")


def _runs(series: Discharge) -> list[SuspiciousRun]:
    return suspicious_runs(_stamps(series), series.values.to_numpy(), series.origins[0].unit, daily=series.daily)


def _counts(flags: pd.Series) -> list[int]:
    codes = flags.cat.codes.to_numpy()
    return [int((codes == i).sum()) for i in range(len(flags.cat.categories))]
