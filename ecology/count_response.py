"""What is counted: from visits to a response, its number of trials and its effort, with every visit left out explained.

Counts are whole numbers per effort; shares and yes/no answers are successes out of trials. A visit to a dry outlet is
a state, not an answer of 0 to any of these questions.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd

from ecology.count_terms import Factor

Stage = Literal["all", "adults", "juveniles", "gravid"]
Kind = Literal["count", "gravid", "juveniles", "presence", "temperature"]

#: Why a visit is not in the model, in the order in which the question is asked.
REASONS = ("dry", "not searched", "not counted", "no effort", "no flow")
#: Usual water temperature of the springs [°C]: 72 °F, common practice, no source.
USUAL_TEMPERATURE_C = (72.0 - 32.0) / 1.8


@dataclass(frozen=True, kw_only=True)
class TemperatureBand:
    """The usual water temperature and how far it may lie from it without a flag [°C]."""

    limit_c: float
    usual_c: float = USUAL_TEMPERATURE_C

    def __post_init__(self) -> None:
        if not self.limit_c > 0:
            raise ValueError(f"the limit of a temperature band is above 0, not {self.limit_c}")

    def outside(self, temperature_c: pd.Series) -> pd.Series:
        """True where a measured temperature lies outside; False where none was measured."""
        return (temperature_c - self.usual_c).abs() > self.limit_c


@dataclass(frozen=True, kw_only=True)
class Response:
    """What the regression explains.

    kind   count: animals counted, effort as offset · gravid: share of adults (of all animals where adults are never
           written) that carry eggs · juveniles: share of animals that are juvenile · presence: whether any was found
           · temperature: whether the water was outside `band`
    stage  which animals are counted, for kind count
    taxon  only rows of this taxon
    """

    kind: Kind = "count"
    stage: Stage = "all"
    taxon: str | None = None
    band: TemperatureBand | None = None

    def __post_init__(self) -> None:
        if self.kind == "temperature" and self.band is None:
            raise ValueError("the response temperature needs a band")
        if self.stage != "all" and self.kind != "count":
            raise ValueError("a stage can be chosen for counts only")

    @property
    def binomial(self) -> bool:
        """Whether the response is successes out of trials."""
        return self.kind != "count"

    @property
    def has_effort(self) -> bool:
        """Whether effort belongs to the model: a share needs none."""
        return self.kind in ("count", "presence")


@dataclass(frozen=True, eq=False, kw_only=True)
class Observed:
    """Visits with `value`, `trials` (1 for counts) and `why` ("" where usable), one row a visit and stage.

    `of` says in words what the trials of a share are.
    """

    visits: pd.DataFrame
    value: np.ndarray
    trials: np.ndarray
    why: np.ndarray
    of: str


def observe(visits: pd.DataFrame, response: Response, factor: Factor | None) -> Observed:
    """The response of every visit (frame as in `Visits.frame`), or the first reason why it has none."""
    rows = _by_stage(visits) if factor == "stage" else visits
    value, trials, of = _value(rows, response, staged=factor == "stage")
    kind = rows["kind"]
    wrong: list[tuple[str, np.ndarray]] = [("dry", (kind == "dry").to_numpy())]
    if response.kind != "temperature":
        wrong += [
            ("not searched", (kind == "not-searched").to_numpy()),
            ("not counted", (kind == "searched-uncounted").to_numpy()),
        ]
    if response.taxon is not None:
        wrong.append(("another taxon", (rows["taxon"] != response.taxon).to_numpy()))
    if factor == "taxon":
        wrong.append(("no taxon", (rows["taxon"] == "").to_numpy()))
    if response.has_effort:
        wrong.append(("no effort", rows["effort"].isna().to_numpy()))
    if response.kind == "gravid":
        wrong.append(("more with eggs than adults", (rows["gravid"] > rows["adults"]).to_numpy()))
    lacks = "no temperature" if response.kind == "temperature" else "stage not written"
    wrong.append((lacks, np.isnan(value) | np.isnan(trials)))
    if response.kind in ("gravid", "juveniles"):
        wrong.append(("none to take a share of", trials == 0))
    why = np.select([w for _, w in wrong], [name for name, _ in wrong], "")
    return Observed(visits=rows, value=value, trials=trials, why=why.astype(object), of=of)


def _by_stage(visits: pd.DataFrame) -> pd.DataFrame:
    """Two rows a visit, one for its adults and one for its juveniles."""
    parts = [visits.assign(stage=stage, part=visits[column]) for stage, column in _STAGES.items()]
    return pd.concat(parts).sort_index(kind="stable").reset_index(drop=True)


_STAGES = {"adult": "adults", "juvenile": "juveniles"}


def _value(rows: pd.DataFrame, response: Response, *, staged: bool) -> tuple[np.ndarray, np.ndarray, str]:
    count = rows["count"].to_numpy(np.float64)
    ones = np.ones(len(rows))
    if response.kind == "temperature" and response.band is not None:
        outside = response.band.outside(rows["water_temp_c"]).to_numpy(np.float64)
        return np.where(rows["water_temp_c"].isna(), np.nan, outside), ones, "visits"
    if response.kind == "presence":
        found = rows["part"].to_numpy(np.float64) if staged else count
        return np.where(np.isnan(found), np.nan, (found > 0).astype(np.float64)), ones, "visits"
    if response.kind == "count":
        if staged:
            return rows["part"].to_numpy(np.float64), ones, "visits"
        return (count if response.stage == "all" else rows[response.stage].to_numpy(np.float64)), ones, "visits"
    adults, young = rows["adults"].to_numpy(np.float64), rows["juveniles"].to_numpy(np.float64)
    if response.kind == "juveniles":
        return young, np.where(np.isnan(adults), count, adults + young), "animals whose stage was written"
    gravid = rows["gravid"].to_numpy(np.float64)
    if np.isnan(adults).all():
        return gravid, count, "animals counted"
    return gravid, adults, "adults"
