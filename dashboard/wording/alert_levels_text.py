"""The answer of `alert-levels` for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from dashboard.wording import cautions
from dashboard.wording.alert_levels import ORIGINS, answer, details
from dashboard.wording.numbers import chance, days_only, discharge

if TYPE_CHECKING:
    from dashboard.answers.alert_levels import AlertLevelsAnswer
    from hydro.alert_level import AlertTable


def table_line(row: pd.Series, name: str, mark: str) -> str:
    """One candidate in the terminal's table."""
    lead = (
        ""
        if np.isnan(row["lead_median"])
        else f"{row['lead_p10']:.0f} / {row['lead_median']:.0f} / {row['lead_p90']:.0f}"
    )
    yearly = "" if np.isnan(row["alerts_per_year"]) else f"{row['alerts_per_year']:.2f}"
    return (
        f"    {name:>16} {int(row['hits']):>8} {int(row['late']):>5} {int(row['misses']):>7} {int(row['false_alerts']):>6}"
        f" {yearly:>12}   {lead:<18} {mark}".rstrip()
    )


HEADINGS = f"    {'alert at':>16} {'in time':>8} {'late':>5} {'missed':>7} {'false':>6} {'alerts/year':>12}   {'lead 10/50/90':<18}".rstrip()


def table_lines(t: AlertTable, names: list[str], marks: list[str]) -> list[str]:
    """All candidates; the recommended one is marked."""
    lines = [HEADINGS]
    for k, row in t.table.iterrows():
        chosen = "recommended" if t.recommended.candidate == k else ""
        mark = ", ".join(m for m in (chosen, marks[int(str(k))]) if m)
        lines.append(table_line(row, names[int(str(k))], mark))
    return lines


def as_text(result: AlertLevelsAnswer) -> str:
    """The whole answer for a terminal."""
    h = result.header
    lines = [f"{h.title}, as of {h.as_of}"]
    for o in result.outlets:
        lines += ["", answer(o, h), *(f"  {sentence}" for sentence in details(o, h))]
        if o.levels is not None and o.chances is not None:
            names = [discharge(float(at), h.unit) for at in o.levels.at]
            lines += ["", *table_lines(o.levels, names, [ORIGINS[x] for x in o.origin])]
            lines += ["", f"  On the chance of stopping within {days_only(o.within_days)}:"]
            lines += table_lines(o.chances, [chance(float(at)) for at in o.chances.at], [""] * len(o.chances.at))
    if result.left_out:
        lines += ["", f"No stop level is set for {', '.join(result.left_out)}: there is nothing to announce."]
    lines += ["", cautions.PROVISIONAL, cautions.NOT_A_WARNING]
    return "\n".join(lines)
