"""A period's planned visits, as the count design knows them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ecology.count_design import CountDesign

#: First and last day, both inside.
Span = tuple[pd.Timestamp, pd.Timestamp]


@dataclass(frozen=True, eq=False, kw_only=True)
class PeriodCount:
    """What happened in a period: planned visits (counted or met by a dry surface), animals, effort of the counted."""

    first: pd.Timestamp
    last: pd.Timestamp
    count: int
    counted: int
    dry: int
    effort: float

    @property
    def planned(self) -> int:
        return self.counted + self.dry

    @property
    def per_visit(self) -> float | None:
        """Animals per visit planned; None without visits."""
        return self.count / self.planned if self.planned else None


def within(days: pd.Series, span: Span) -> np.ndarray:
    """Which days lie in the span."""
    return ((days >= span[0]) & (days <= span[1])).to_numpy()


def dry_visits(design: CountDesign, span: Span) -> pd.DataFrame:
    """Visits of the span that met a dry surface."""
    out = design.left_out_rows
    return out[(out["reason"] == "dry").to_numpy() & within(out["date"], span)]


def period_count(design: CountDesign, span: Span) -> PeriodCount:
    """Counts, visits and effort of the span."""
    rows = design.rows[within(design.rows["date"], span)]
    return PeriodCount(
        first=span[0],
        last=span[1],
        count=int(rows["count"].sum()),
        counted=len(rows),
        dry=len(dry_visits(design, span)),
        effort=float(rows["effort"].sum()),
    )
