"""Short tables are tables of the page; what comes from files never becomes markup and no value changes on the way."""

from __future__ import annotations

import math

import lxml.html
import numpy as np
import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard.views import table_fit
from dashboard.views.plain_table import MOST_ROWS, STYLE, as_html
from dashboard.wording import (
    alert_tables,
    animal_tables,
    count_tables,
    individual_pages,
    records,
    source_tables,
    tables,
)
from tests.dashboard.tables_shown import tables_of

HOSTILE = '<img src=x onerror=alert(1)> | **b** :smile: $x$\n\n& "q"'


def table_of(values: dict[str, list[object]], kinds: dict[str, str]) -> lxml.html.HtmlElement:
    text = as_html(pd.DataFrame(values), kinds, alt='say "all"')
    assert "\n\n" not in text  # an empty line would end the HTML and begin markdown
    return lxml.html.fromstring(text)


def test_what_files_say_is_text_in_cells_and_headings():
    root = table_of({HOSTILE: [HOSTILE]}, {HOSTILE: "text"})
    (table,) = root.find_class("plain-table")
    assert not list(table.iter("img", "b", "script"))
    for cell in [*table.iter("td"), *table.iter("th")]:
        for line in list(cell.iter("br")):
            line.tail = "\n" + (line.tail or "")
        assert cell.text_content() == HOSTILE
    assert table.get("aria-label") == 'say "all"'
    assert (table.get("role"), table.get("tabindex")) == ("region", "0")
    assert [th.get("scope") for th in table.iter("th")] == ["col"]


@pytest.mark.parametrize(
    ("kind", "value", "shown"),
    [
        ("number", 0.30000000000000004, "0.3"),
        ("number", -12.5, "\u221212.5"),
        ("number", 1230000.0, "1230000"),
        ("number", 1e-12, "1e-12"),
        ("volume", 4640000.0, "4\u202f640\u202f000"),
        ("count", 3.0, "3"),
        ("year", 2024.0, "2024"),
        ("number", math.nan, ""),
        ("p", "below 0.001", "below 0.001"),
        ("day", np.datetime64("2024-03-09"), "9 Mar 2024"),
        ("day", np.datetime64("NaT"), ""),
    ],
)
def test_each_kind_of_value_is_written_as_people_write_it(kind, value, shown):
    (cell,) = table_of({"a": [value]}, {"a": kind}).iter("td")
    assert cell.text_content() == shown


def test_columns_that_do_not_fit_are_named_below_the_table_and_open_there():
    frame = pd.DataFrame({"Days": [3], "Bridged": [0], "What is known of it": ["seen from its start to its end"]})
    kinds = {"Days": "count", "Bridged": "count", "What is known of it": "text"}
    wide = [["What is known of it"], *([f"{k}"] for k in range(40)), ["Days"], ["Bridged"]]
    frame = frame.assign(**{f"{k}": [1] for k in range(40)})
    kinds |= {f"{k}": "count" for k in range(40)}
    root = lxml.html.fromstring(as_html(frame, kinds, alt="", wanted=wide))
    of = {th.text_content(): (th.get("class") or "").split() for th in root.iter("th")}
    assert list(of) == list(frame.columns)  # where they stand is their order, whatever is wanted most
    assert of["What is known of it"] == ["words", "long"]
    assert [of[td] for td in of] == [(td.get("class") or "").split() for td in root.iter("td")]
    edges = [int(name.removeprefix("from-")) for c in ("Days", "Bridged") for name in of[c] if name.startswith("from-")]
    assert edges == sorted(edges) and len(edges) == 2
    (more,) = root.iter("details")
    assert more.text_content().endswith("Days; Bridged")
    assert f"below-{edges[1]}" in more.get("class").split()
    for edge in edges:
        assert f".from-{edge} {{ display: none; }} .below-{edge} {{ display: revert; }}" in STYLE


def test_a_table_that_fits_anywhere_has_nothing_to_open():
    frame = pd.DataFrame({"Days": [3], "Bridged": [0]})
    root = lxml.html.fromstring(as_html(frame, dict.fromkeys(frame, "count"), alt=""))
    assert [th.get("class") for th in root.iter("th")] == ["number", "number"]
    assert not list(root.iter("details"))


def test_an_estimate_never_stands_with_half_of_its_interval():
    wanted = tables.by_want(["estimate", "low", "note", "high", "brier"], ["note"])
    assert wanted == [["note"], ["estimate"], ["low", "high"], ["brier"]]
    steps, _ = table_fit.steps(dict.fromkeys(["note", "estimate", "low", "high", "brier"], (100.0, 100.0)), wanted)
    assert steps["low"] == steps["high"] < steps["brier"]
    assert table_fit.EDGES[steps["low"]] >= 400 + 4 * table_fit.GAP


def _every_table() -> dict[str, tables.Columns]:
    every = (tables, alert_tables, animal_tables, count_tables, individual_pages, source_tables, records)
    held = {f"{m.__name__} {n}": c for m in every for n, c in vars(m).items() if isinstance(c, dict)}
    held = {n: c for n, c in held.items() if c and all(isinstance(v, tuple) and len(v) == 2 for v in c.values())}
    return held | {"crossings": individual_pages.crossings("h")}


def test_the_wanted_and_the_least_wanted_columns_are_columns_of_tables():
    names = {name for columns in _every_table().values() for name in columns}
    assert names >= set(tables.LEAST_WANTED) | {name for pair in tables.TOGETHER for name in pair}
    for columns, first in (
        (individual_pages.crossings("h"), individual_pages.CROSSINGS_FIRST),
        (count_tables.TERMS, count_tables.TERMS_FIRST),
        (source_tables.PROBLEMS, source_tables.PROBLEMS_FIRST),
    ):
        assert set(first) <= set(columns)


@pytest.mark.parametrize("name", sorted(_every_table()))
def test_no_two_columns_of_a_table_have_one_heading(name):
    """The second would stand in the first one's place, with its numbers."""
    headings = [label for label, _ in _every_table()[name].values()]
    assert len(set(headings)) == len(headings)


@pytest.mark.parametrize("rows", [0, 1, MOST_ROWS, MOST_ROWS + 1])
def test_long_tables_go_to_the_grid_and_both_hold_the_same(rows):
    code = f"""
import pandas as pd
from dashboard.views.parts import table
frame = pd.DataFrame({{"day": pd.date_range("2024-01-31", periods={rows}), "q": [0.0283168] * {rows}, "what": ["a:b"] * {rows}}})
table(frame, {{"day": ("Day", "day"), "q": ("Discharge", "discharge"), "what": ("What", "text")}}, "cfs", alt="the days")
"""  # noqa: E501
    at = AppTest.from_string(code).run()
    assert not at.exception
    (shown,) = tables_of(at)
    assert len(at.dataframe) == (rows > MOST_ROWS)
    assert list(shown.columns) == ["Day", "Discharge, ft³/s", "What"]
    assert len(shown) == rows
    if rows:
        assert shown["Discharge, ft³/s"].tolist() == pytest.approx([1.0] * rows)
        assert shown["Day"].iloc[-1] == pd.Timestamp("2024-01-31") + pd.Timedelta(days=rows - 1)
        assert set(shown["What"]) == {"a:b"}
