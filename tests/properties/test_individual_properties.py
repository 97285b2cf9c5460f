"""What holds for any captures and any list of matches."""

from __future__ import annotations

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from ecology.capture_chances import CaptureChances
from ecology.encounters import encounters
from ecology.exact_intervals import share_interval
from ecology.match_lists import MatchList, match_names
from ecology.release_counts import releases_of
from ecology.survival_likelihood import log_likelihood
from ecology.survival_models import survival_models

NAMES = st.sampled_from("abcdefgh")
PAIRS = st.lists(
    st.tuples(NAMES, NAMES, st.booleans(), st.sampled_from([0.2, 0.5, 0.9, np.nan])).filter(lambda p: p[0] != p[1]),
    min_size=1,
    max_size=15,
)
CAPTURES = st.lists(
    st.tuples(st.integers(0, 600), st.sampled_from(["ledge", "pool"]), st.integers(0, 9)), min_size=12, max_size=60
)


def matches(pairs) -> MatchList:
    frame = pd.DataFrame(pairs, columns=["first", "second", "same", "confidence"])
    return MatchList(frame=frame.assign(row=range(2, len(frame) + 2)), file="pairs.csv")


def captured(rows) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["day", "outlet", "individual"]).sort_values("day", kind="stable")
    return frame.assign(date=pd.Timestamp("2020-01-01") + pd.to_timedelta(frame["day"], unit="D"))


@given(PAIRS, st.randoms(use_true_random=False))
def test_the_order_of_a_match_list_makes_no_difference(pairs, random):
    shuffled = list(pairs)
    random.shuffle(shuffled)
    one, other = match_names(matches(pairs)), match_names(matches(shuffled))
    pd.testing.assert_frame_equal(one.names, other.names)
    assert len(one.conflicts) == len(other.conflicts)


@given(PAIRS)
def test_a_group_is_what_can_be_reached_and_its_weakest_link_holds_it_together(pairs):
    found = match_names(matches(pairs))
    ids = found.ids()
    assert all(ids[a] == ids[b] for a, b, same, _ in pairs if same)
    # Without matches below the weakest link the animal stays whole; without those at it, it falls apart.
    weak = found.names.dropna(subset=["weakest_link"]).groupby("individual")["weakest_link"].first()
    for individual, link in weak.items():
        names = [n for n, i in ids.items() if i == individual]
        whole = match_names(matches(pairs), least_confidence=link).ids()
        broken = match_names(matches(pairs), least_confidence=link + 0.01).ids()
        assert len({whole[n] for n in names}) == 1
        assert len({broken[n] for n in names}) > 1


@given(CAPTURES)
def test_every_release_ends_in_one_way_and_the_likelihood_is_a_chance(rows):
    table = captured(rows)
    found = encounters(table, "month")
    shape = (len(found.outlets), found.n_occasions)
    if shape[1] < 3:
        return
    counts = releases_of(found, np.ones(shape, bool))
    moved = len(found.meetings) - counts.met.sum() - counts.lost.sum()
    assert moved >= 0
    assert counts.lost.sum() == len(found.animals)
    assert (counts.lived >= 0).all()
    assert (counts.missed >= 0).all()
    chances = CaptureChances(
        available=np.ones(shape, bool), fixed=np.full(shape, ""), looks=np.ones(shape),
        dry_days=np.zeros((shape[0], shape[1] - 1)), unknown_days=np.zeros((shape[0], shape[1] - 1)),
    )  # fmt: skip
    model = survival_models(found.gap_years, chances, found.outlets)[0]
    assert log_likelihood(counts, model, np.array([0.3, -0.5]))[0] <= 0


@given(st.integers(0, 40), st.integers(0, 40), st.sampled_from([0.5, 0.9, 0.95]))
def test_an_exact_interval_holds_its_share_and_mirrors_its_complement(a, b, level):
    n = a + b
    low, high = share_interval(a, n, level)
    assert 0 <= low <= (a / n if n else 0.5) <= high <= 1
    other = share_interval(b, n, level)
    assert abs(low - (1 - other[1])) < 1e-9
