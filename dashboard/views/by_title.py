"""Tables for people: outlets by their titles, not by the ids that files and settings use."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.views.shown import Shown, outlet_labels

if TYPE_CHECKING:
    import pandas as pd


def by_title(s: Shown, frame: pd.DataFrame, column: str = "outlet") -> pd.DataFrame:
    """The frame with the outlets of a column by their titles; an id that is no outlet of the workspace stays."""
    if column not in frame:
        return frame
    labels = outlet_labels(s.workspace)
    return frame.assign(**{column: [labels.get(o, o) for o in frame[column]]})
