"""Animals handled and recognised, one row a capture, checked."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from ecology.survey_columns import ColumnReader
from hydro.problems import InputError
from hydro.sources.text_table import read_text_table

KNOWN = ("date", "outlet", "individual", "stage", "gravid", "length_mm", "match_confidence", "note")


@dataclass(frozen=True, eq=False, kw_only=True)
class Captures:
    """Captures in date order.

    `frame` columns: row, date (civil day), outlet, individual, stage, gravid ("yes" | "no" | ""), length_mm [mm],
    match_confidence (0–1, NaN = not stated), note; then every further column of the file as text.
    """

    frame: pd.DataFrame
    file: str
    digest: str

    def until(self, last: pd.Timestamp) -> Captures:
        """The captures with nothing dated after `last`."""
        kept = self.frame[self.frame["date"] <= last].reset_index(drop=True)
        return Captures(frame=kept, file=self.file, digest=self.digest)


def read_captures(
    path: Path,
    *,
    outlets: Collection[str],
    today: pd.Timestamp,
    columns: Mapping[str, str] | None = None,
    day_first: bool | None = None,
    shown_as: str | None = None,
) -> Captures:
    """Read and check a captures table (CSV or XLSX); arguments as in `read_visits`. Raises InputError."""
    file = shown_as or str(path)
    table = read_text_table(path)
    read = ColumnReader(table, file, dict(columns or {}))
    if not read.require(("date", "outlet", "individual")):
        raise InputError(read.problems)
    date = read.dates("date", day_first)
    read.wrong("date", (date > today).to_numpy(), f"a day not later than {today:%Y-%m-%d}")
    outlet = read.text("outlet")
    known = ", ".join(sorted(outlets)) or "none"
    read.wrong("outlet", (~outlet.isin(list(outlets))).to_numpy(), f"an outlet id of the workspace: {known}")
    individual = read.text("individual")
    read.wrong("individual", (individual == "").to_numpy(), "the mark or name by which the animal is recognised")
    frame = pd.DataFrame(
        {
            "row": table.rows,
            "date": date,
            "outlet": outlet,
            "individual": individual,
            "stage": read.text("stage").str.lower(),
            "gravid": read.choice("gravid", ("yes", "no")),
            "length_mm": read.number("length_mm", least=0, above=True, meaning="a length in mm above 0, or blank"),
            "match_confidence": read.number(
                "match_confidence", least=0, most=1, meaning="a number from 0 to 1 or blank"
            ),
            "note": read.text("note"),
        }
    )
    if read.problems:
        raise InputError(read.problems)
    ours = {read.header(name) for name in KNOWN}
    for name in table.columns:
        if name and name not in ours and name not in frame.columns:
            frame[name] = table.cells[name].to_numpy()
    return Captures(
        frame=frame.sort_values(["date", "row"], kind="stable").reset_index(drop=True),
        file=file,
        digest=hashlib.sha256(Path(path).read_bytes()).hexdigest(),
    )
