"""How long after water returned counts were back to half of what a settled outlet gives: a second, separate lag.

A first find says that one animal is back. Counts go on rising for weeks; a visit has reached half where its count is at
least half of what the outlet would be expected to give with the same flow, season and effort long after a restart.
Counts scatter, so that one visit reaches half by luck and another misses it: `chance_to_reach` says how often a visit
to a settled outlet reaches it at all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import betaincc, gammainc

from ecology.count_design import RECOVERY_TERM, CountDesign
from ecology.count_fit import CountFit
from ecology.return_lag import ReturnLags, return_lags
from hydro.dry_spells import DrySpells

SHARE = 0.5
#: A visit that would be expected to count fewer animals is not judged: half of that is less than one animal.
LEAST_EXPECTED = 2.0
#: The simpler baseline: visits in so many days before a dry spell, at least so many of them.
BASELINE_DAYS, FEWEST_BASELINE_VISITS = 365, 3
#: Visits so soon after a restart do not count for the simpler baseline [days].
SETTLING_DAYS = 90


@dataclass(frozen=True, eq=False, kw_only=True)
class RecoveryLags:
    """Lags until half of the expected count.

    lags        as `ReturnLags`: a search that “found” is a day whose counts reached half, `first_found` the first
                such day. Its `searches` have `expected` and `share` (count ÷ expected) beside the true `counted`.
    n_days      days of counting in all
    n_too_few   days not judged because too few animals would be expected
    n_no_expectation   days with a count for which nothing can be expected (no effort, no flow, no visits before)
    """

    lags: ReturnLags
    n_days: int
    n_too_few: int
    n_no_expectation: int


def settled_counts(design: CountDesign, fit: CountFit) -> pd.Series:
    """Expected count of each visit in the regression as if its outlet had long been running, by row of the file."""
    matrix = design.matrix.copy()
    if RECOVERY_TERM in design.terms:
        matrix[:, design.terms.index(RECOVERY_TERM)] = 0.0
    return pd.Series(np.exp(design.offset + matrix @ fit.estimate), index=design.rows["row"].to_numpy())


def counts_before(visits: pd.DataFrame, dry: DrySpells) -> pd.Series:
    """The simpler baseline, by row of the file: mean count per effort in the year before the dry spell, times effort.

    visits   the outlet's rows. Where no effort is written down at all, the mean count a visit stands for it. Visits of
             the first `SETTLING_DAYS` after a restart do not count; a spell with too few others before it has none.
    """
    counted = visits[visits["kind"] == "counted"].sort_values("date", kind="stable")
    if counted["effort"].isna().all():
        counted = counted.assign(effort=1.0)
    counted = counted[counted["effort"].notna()]
    expected = pd.Series(np.nan, index=visits["row"].to_numpy())
    joined = dry.joined
    for i in range(len(joined)):
        first, last = joined["first"].iloc[i], joined["last"].iloc[i]
        settled_from = first - pd.Timedelta(days=BASELINE_DAYS)
        if i:
            settled_from = max(settled_from, joined["last"].iloc[i - 1] + pd.Timedelta(days=SETTLING_DAYS + 1))
        before = counted[(counted["date"] >= settled_from) & (counted["date"] < first)]
        if len(before) < FEWEST_BASELINE_VISITS:
            continue
        after = counted[counted["date"] > last]
        if i + 1 < len(joined):
            after = after[after["date"] < joined["first"].iloc[i + 1]]
        rate = float(before["count"].sum() / before["effort"].sum())
        expected[after["row"].to_numpy()] = rate * after["effort"].to_numpy(np.float64)
    return expected.dropna()


def recovery_lags(dry: DrySpells, visits: pd.DataFrame, expected: pd.Series, today: pd.Timestamp) -> RecoveryLags:
    """Lags from the outlet's visits (as for `return_lags`) and the expected count of each by row of the file."""
    visits = visits[visits["date"] <= today]
    counted = visits[visits["kind"] == "counted"]
    known = counted.assign(expected=expected.reindex(counted["row"].to_numpy()).to_numpy())
    # Passes of one day are one count here: their counts and what is expected of them add up.
    parts = ("expected", "effort")
    known = known.assign(**{f"no_{part}": known[part].isna() for part in parts})
    by_day = known.groupby("date", as_index=False).agg(
        counted=("count", "sum"),
        row=("row", "min"),
        **{part: (part, "sum") for part in parts},
        **{f"no_{part}": (f"no_{part}", "any") for part in parts},
    )
    # A sum with a part that is not known is not known.
    by_day = by_day.assign(**{part: by_day[part].mask(by_day[f"no_{part}"]) for part in parts})
    by_day = by_day[["date", "counted", "expected", "row", "effort"]]
    by_day["date"] = pd.to_datetime(by_day["date"])
    unknown = by_day["expected"].isna()
    too_few = by_day["expected"] < LEAST_EXPECTED
    judged = by_day[~unknown & ~too_few]
    reached = (judged["counted"] >= SHARE * judged["expected"]).astype(np.float64)
    surface = visits.loc[visits["kind"] != "counted"]
    rows = pd.concat(
        [
            judged.assign(count=reached, kind="counted", surface="running").drop(columns=["counted", "expected"]),
            surface[[c for c in ("date", "kind", "surface", "count", "row", "effort") if c in surface]].astype(
                {"kind": object}
            ),
        ],
        ignore_index=True,
    )
    lags = return_lags(dry, rows, today)
    about = judged.set_index("row")
    behind = lags.searches.assign(
        counted=about["counted"].reindex(lags.searches["row"]).to_numpy(np.float64),
        expected=about["expected"].reindex(lags.searches["row"]).to_numpy(np.float64),
    )
    behind = behind.assign(share=behind["counted"] / behind["expected"])
    return RecoveryLags(
        lags=ReturnLags(
            lags=lags.lags,
            searches=behind,
            still_dry=lags.still_dry,
            unseen=lags.unseen,
            end_unknown=lags.end_unknown,
        ),
        n_days=len(by_day),
        n_too_few=int((~unknown & too_few).sum()),
        n_no_expectation=int(unknown.sum()),
    )


def chance_to_reach(expected: np.ndarray, alpha: float) -> float:
    """Mean chance that a negative binomial count reaches half of its mean (Poisson for `alpha` 0 or NaN)."""
    least = np.ceil(SHARE * expected)
    if np.isnan(alpha) or alpha <= 0.0:
        return float(np.mean(gammainc(least, expected)))  # P(Y ≥ k) of a Poisson count, k ≥ 1
    size = 1.0 / alpha
    return float(np.mean(betaincc(size, least, size / (size + expected))))
