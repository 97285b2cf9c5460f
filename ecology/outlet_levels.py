"""A count design in a form that depends neither on the order of the file nor on the names of the outlets.

Random draws meet visits and coefficients in the order in which these stand. With one level an outlet, instead of a
first outlet and differences from it, and with rows and outlets ordered by what they hold, the same visits give the same
answer whatever their order and names.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ecology.count_design import CountDesign


def with_outlet_levels(design: CountDesign, groups: np.ndarray) -> tuple[CountDesign, np.ndarray]:
    """(the design with one level an outlet and rows by date, outlet, effort and count; its groups in that order).

    It spans the same means as the design given, so that fits and expectations are the same.
    """
    rows = design.rows
    outlets = list(rows["outlet"].unique())
    held = {o: rows[rows["outlet"] == o] for o in outlets}
    outlets.sort(key=lambda o: (len(held[o]), held[o]["count"].sum(), held[o]["effort"].sum(), held[o]["date"].min()))
    rank = rows["outlet"].map({o: i for i, o in enumerate(outlets)}).to_numpy(np.int64)
    keys = (rows["count"], rows["effort"], rank, rows["date"])
    order = np.lexsort([np.asarray(k) for k in keys])
    kept = [j for j, t in enumerate(design.terms) if t != "intercept" and not t.startswith("outlet[")]
    levels = (rank[order][:, None] == np.arange(len(outlets))).astype(np.float64)
    made = replace(
        design,
        rows=rows.iloc[order].reset_index(drop=True),
        matrix=np.column_stack([levels, design.matrix[order][:, kept]]),
        terms=(*(f"outlet[{o}]" for o in outlets), *(design.terms[j] for j in kept)),
        offset=design.offset[order],
    )
    return made, np.asarray(groups)[order]
