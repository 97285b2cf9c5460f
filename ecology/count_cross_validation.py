"""Which window of flow predicts left-out visits best: cross-validation with whole flow cycles left out.

Visits within a flow cycle are not independent, so that leaving single visits out would judge a model by what it has
as good as seen. Score: mean log probability of the left-out counts (a proper score, larger is better).

Sources: Roberts et al. 2017, Ecography 40:913–929 (blocks in cross-validation); Gneiting and Raftery 2007, JASA
102:359–378 (the logarithmic score).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ecology.count_design import CountDesign, with_window
from ecology.count_refit import refit
from ecology.count_residuals import count_tails, negative_binomial_log_pmf
from ecology.count_separation import orthonormal_basis
from ecology.not_estimable import NotEstimable
from ecology.share_likelihood import share_log_pmf, share_tails
from ecology.share_model import fit_shares

#: Flow cycles are joined with their neighbours into at most so many blocks, so that long records take no longer.
MOST_BLOCKS = 24
#: With fewer blocks than this nothing is compared: each would leave out a third of the record or more.
FEWEST_BLOCKS = 4
_COVERAGE = (0.80, 0.95)


@dataclass(frozen=True, eq=False, kw_only=True)
class CrossValidation:
    """Windows judged on visits that their fits had not seen.

    windows   a row a window: window [days], score (mean log probability of a left-out count), behind (score less
              than the best one's by), behind_se (of that difference, from the blocks), covered_80, covered_95 (share
              of left-out counts inside the central interval; counts are whole, so that a little more is expected)
    blocks    a row a block and window: block, first, last, n, window, score (sum over the block)
    n         visits judged, the same for all windows
    n_blocks  blocks left out in turn
    best      the window with the largest score [days]
    skipped   sentences about blocks that could not be judged
    """

    windows: pd.DataFrame
    blocks: pd.DataFrame
    n: int
    n_blocks: int
    best: int
    skipped: tuple[str, ...]


def compare_windows(design: CountDesign, groups: np.ndarray) -> CrossValidation:
    """Judge each window of `design.log_discharge`.

    groups  flow cycle of every row (any labels); neighbouring cycles are joined into at most `MOST_BLOCKS` blocks

    Raises NotEstimable where there are too few blocks, or no block can be judged.
    """
    block = blocks_of(groups, design.rows["date"])
    n_blocks = int(block.max()) + 1
    if n_blocks < FEWEST_BLOCKS:
        raise NotEstimable(
            f"Visits from {n_blocks} flow cycle{'' if n_blocks == 1 else 's'} are too few to leave one out at a time: "
            f"{FEWEST_BLOCKS} are needed."
        )
    count = design.rows["count"].to_numpy(np.float64)
    scored: dict[int, np.ndarray] = {}
    inside: dict[int, np.ndarray] = {}
    skipped: dict[int, str] = {}
    for window in sorted(design.log_discharge):
        scored[window], inside[window], failed = _held_out(with_window(design, window), count, block)
        skipped |= failed
    # A block that one window cannot judge is left out for all: scores compare only over the same visits.
    judged = ~np.isin(block, list(skipped))
    if not judged.any():
        raise NotEstimable(f"No flow cycle could be judged by the others. {next(iter(skipped.values()))}")
    totals = {w: np.bincount(block[judged], scored[w][judged], n_blocks) for w in scored}
    best = max(totals, key=lambda w: float(totals[w].sum()))
    n, used = int(judged.sum()), np.setdiff1d(np.arange(n_blocks), list(skipped))
    rows = []
    for w in scored:
        apart = (totals[best] - totals[w])[used]
        spread = float(np.sqrt(len(used)) * apart.std(ddof=1)) / n if len(used) > 1 else np.nan
        covered = inside[w][judged].mean(axis=0)
        rows.append((w, float(totals[w].sum()) / n, float(apart.sum()) / n, spread, *covered.tolist()))
    names = ["window", "score", "behind", "behind_se", "covered_80", "covered_95"]
    return CrossValidation(
        windows=pd.DataFrame(rows, columns=names),
        blocks=_block_table(design.rows["date"], block, totals, used),
        n=n,
        n_blocks=len(used),
        best=best,
        skipped=tuple(f"Block {b + 1}: {why}" for b, why in sorted(skipped.items())),
    )


def blocks_of(groups: np.ndarray, dates: pd.Series) -> np.ndarray:
    """Block of each row: groups in the order of their first day, neighbours joined to at most `MOST_BLOCKS`."""
    member = pd.factorize(np.asarray(groups))[0]
    table = pd.DataFrame({"member": member, "date": dates.to_numpy()})
    order = table.groupby("member")["date"].agg(["min", "size"]).sort_values("min", kind="stable")
    reached = order["size"].cumsum() - order["size"]
    number = len(order)
    block = np.arange(number)
    if number > MOST_BLOCKS:
        block = np.minimum((reached.to_numpy() * MOST_BLOCKS) // len(table), MOST_BLOCKS - 1)
        block = np.unique(block, return_inverse=True)[1]
    return pd.Series(block, index=order.index).reindex(member).to_numpy()


def _held_out(
    design: CountDesign, count: np.ndarray, block: np.ndarray
) -> tuple[np.ndarray, np.ndarray, dict[int, str]]:
    """Log probability of each count and whether it lies in the 80 and 95 % intervals, by a fit without its block."""
    score = np.full(len(count), np.nan)
    inside = np.zeros((len(count), len(_COVERAGE)), dtype=bool)
    failed: dict[int, str] = {}
    # One orthonormal basis for all blocks: without a few of its rows it stays well conditioned.
    basis, _ = orthonormal_basis(count, design.matrix, design.terms)
    start: np.ndarray | None = None
    for b in range(int(block.max()) + 1):
        out = block == b
        # A level that the other blocks do not hold has no estimate there: its visits cannot be judged.
        if np.any(~(design.matrix[~out] != 0.0).any(axis=0)):
            failed[b] = "it alone holds a level of a term."
            continue
        try:
            if design.response.binomial:
                score[out], below, at_least = _share_held_out(design, basis, out)
            else:
                found = refit(count[~out], basis[~out], design.offset[~out], terms=design.terms, start=start)
                start = found.beta
                mean = np.exp(np.minimum(design.offset[out] + basis[out] @ found.beta, 700.0))
                score[out] = negative_binomial_log_pmf(count[out], mean, found.alpha)
                below, at_least = count_tails(count[out], mean, found.alpha)
        except NotEstimable:  # its sentence names columns of the basis, not terms
            failed[b] = "the others do not determine every term."
            continue
        above = at_least - np.exp(score[out])
        for j, level in enumerate(_COVERAGE):
            tail = 0.5 * (1.0 - level)
            inside[out, j] = (1.0 - below > tail) & (1.0 - above > tail)
    return score, inside, failed


def _share_held_out(
    design: CountDesign, basis: np.ndarray, out: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(log probability, P(Y < y), P(Y ≥ y)) of the left-out shares."""
    y, trials = design.rows["count"].to_numpy(np.float64), design.rows["trials"].to_numpy(np.float64)
    fit = fit_shares(
        y[~out],
        trials[~out],
        basis[~out],
        terms=design.terms,
        link="log-log" if design.response.has_effort else "logit",
        offset=design.offset[~out],
    )
    p = fit.probability_at(design.offset[out] + basis[out] @ fit.estimate)
    below, at_least = share_tails(y[out], trials[out], p)
    return share_log_pmf(y[out], trials[out], p), below, at_least


def _block_table(dates: pd.Series, block: np.ndarray, totals: dict[int, np.ndarray], used: np.ndarray) -> pd.DataFrame:
    """Scores by block, to see which cycles a window wins."""
    span = dates.groupby(block).agg(["min", "max", "size"])
    parts = [
        pd.DataFrame(
            {
                "block": used + 1,
                "first": span.loc[used, "min"].to_numpy(),
                "last": span.loc[used, "max"].to_numpy(),
                "n": span.loc[used, "size"].to_numpy(),
                "window": w,
                "score": t[used],
            }
        )
        for w, t in totals.items()
    ]
    return pd.concat(parts, ignore_index=True)
