"""The rows of a count model for the outlets asked for, and the flow cycle of each."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from dashboard.workspace import Workspace
from ecology.count_design import CountDesign, count_design
from ecology.count_response import Response
from ecology.count_terms import ModelTerms


def count_rows(
    workspace: Workspace,
    names: Sequence[str],
    *,
    window: int,
    windows: Sequence[int] = (),
    terms: ModelTerms | None = None,
    response: Response | None = None,
) -> CountDesign:
    """The count design of the visits to the outlets `names`; see `count_design`. ValueError without visits."""
    if workspace.visits is None:
        raise ValueError("a design needs visits")
    by_flow = {flow: workspace.cycles_of(flow) for flow in {workspace.outlets[o].flow for o in names}}
    return count_design(
        workspace.visits.frame,
        workspace.water,
        {o: by_flow[workspace.outlets[o].flow] for o in names},
        outlets=names,
        window=window,
        windows=windows,
        terms=terms,
        response=response,
    )


def groups_of(workspace: Workspace, design: CountDesign) -> np.ndarray:
    """Flow cycle of each row; outlets on different flows do not share a cycle."""
    flow = design.rows["outlet"].map({id: o.flow for id, o in workspace.outlets.items()})
    return (flow.astype(str) + " " + design.rows["cycle"].astype(str)).to_numpy()
