"""The terms of the export against the published lists of Darwin Core and the Humboldt extension (see open_series)."""

from __future__ import annotations

import pandas as pd

from dashboard.export.archive_description import ROW_TYPES, term
from dashboard.export.darwin_core import EVENT, HUMBOLDT, MEASUREMENT, OCCURRENCE

TABLES = {"event": EVENT, "occurrence": OCCURRENCE, "measurement": MEASUREMENT, "humboldt": HUMBOLDT}


def test_every_column_is_a_published_term(published_terms: pd.DataFrame) -> None:
    known = set(published_terms["uri"])
    assert len(known) > 300
    used = {term(table, column) for table, columns in TABLES.items() for column in columns}
    assert used <= known, used - known


def test_every_table_is_of_a_published_kind(published_row_types: pd.DataFrame) -> None:
    assert set(ROW_TYPES.values()) <= set(published_row_types["class_uri"])
