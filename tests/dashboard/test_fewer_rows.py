"""A picture of many rows on a slide: the newest, named, with the days that they need; all data stay."""

from __future__ import annotations

import pickle

import numpy as np
import pandas as pd
import pytest

from dashboard.figures.fewer_rows import fewer_rows
from dashboard.figures.individual_rows import individual_rows


@pytest.fixture(scope="module")
def drawing():
    first = pd.date_range("2001-01-01", periods=40, freq="180D")
    met = pd.DataFrame(
        {
            "date": np.concatenate((first, first + pd.Timedelta(days=90))),
            "outlet": "ledge",
            "individual": [f"A{k:02}" for k in range(40)] * 2,
            "row": np.arange(80),
        }
    )
    spells = pd.DataFrame({"first": [first[0]], "last": [first[3]]})
    return individual_rows(
        met, sorted(set(met["individual"])), spells, outlet="ledge", title="Ledge", which="met twice or more"
    )


@pytest.mark.parametrize("from_elsewhere", [False, True])
def test_the_newest_rows_are_kept_with_their_names_and_their_days(drawing, from_elsewhere):
    whole = pickle.loads(pickle.dumps(drawing)) if from_elsewhere else drawing
    kept, shown, of = fewer_rows(whole, 380)
    layout = kept.figure.layout
    assert of == 40 and 10 < shown < 40
    assert list(layout.yaxis.ticktext) == [f"A{k:02}" for k in range(40 - shown, 40)]
    assert layout.yaxis.range[0] == pytest.approx(40 - shown - 0.7)
    plot = layout.height - layout.margin.t - layout.margin.b
    assert plot / (layout.yaxis.range[1] - layout.yaxis.range[0]) >= drawing.least_row
    begins = pd.Timestamp("2001-01-01") + pd.Timedelta(days=180 * (40 - shown))
    assert begins - pd.Timedelta(days=200) < pd.Timestamp(layout.xaxis.range[0]) < begins
    assert len(kept.data) == 80 and whole.figure.layout.height > 380  # nothing of the picture it came from is changed


def test_rows_that_fit_are_all_kept(drawing):
    kept, shown, of = fewer_rows(drawing, 2000)
    assert (shown, of) == (40, 40)
    assert kept.figure.layout.height == drawing.figure.layout.height
