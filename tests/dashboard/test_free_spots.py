"""Labels beside points: the first place that covers nothing, or the one that covers least."""

from __future__ import annotations

import numpy as np

from dashboard.figures.free_spots import FreeSpots


def spots(points, lines, off=(0.01,)):
    return FreeSpots(np.array(points, float), [np.array(a, float) for a in lines], width=0.2, height=0.05, aside=0.02,
                     off=off)  # fmt: skip


def where(spot):
    return spot.left, spot.above


def test_a_free_point_has_its_label_right_above():
    assert where(spots([(0.5, 0.5)], []).best(0.5, 0.5)) == (False, True)


def test_a_line_a_point_and_a_label_are_stepped_around():
    rising = [(0.5, 0.5), (0.8, 0.6)]
    assert where(spots([(0.5, 0.5)], [rising]).best(0.5, 0.5)) == (False, False)
    assert where(spots([(0.5, 0.5), (0.6, 0.53)], []).best(0.5, 0.5)) == (False, False)
    taken = spots([(0.5, 0.5)], [])
    taken.take(taken.best(0.5, 0.5))
    assert where(taken.best(0.5, 0.5)) == (False, False)


def test_a_hole_in_a_line_covers_nothing():
    broken = [(0.5, 0.5), (np.nan, np.nan), (0.8, 0.6)]
    assert where(spots([(0.5, 0.5)], [broken]).best(0.5, 0.5)) == (False, True)


def test_labels_stay_inside_the_picture():
    assert where(spots([(0.95, 0.5)], []).best(0.95, 0.5)) == (True, True)
    assert where(spots([(0.5, 0.98)], []).best(0.5, 0.98)) == (False, False)
    narrow = FreeSpots(np.zeros((0, 2)), [], width=0.9, height=0.05, aside=0.02, off=(0.01,))
    assert narrow.best(0.5, 0.5) is None


def test_only_a_label_that_has_to_be_there_goes_further_off():
    crossed = [(0.0, 0.52), (1.0, 0.52)], [(0.0, 0.48), (1.0, 0.48)]
    near, far = (spots([(0.5, 0.5)], crossed, off=(0.005, 0.1)).best(0.5, 0.5, far=far) for far in (False, True))
    assert near.cost > 0 and near.off == 0.005
    assert far.cost == 0 and far.off == 0.1
