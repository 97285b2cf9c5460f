"""Short tables are tables of the page; what comes from files never becomes markup and no value changes on the way."""

from __future__ import annotations

import math

import lxml.html
import numpy as np
import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard.views.plain_table import MOST_ROWS, STYLE, as_html
from dashboard.wording import alert_tables, animal_tables, count_tables, individual_pages, source_tables, tables
from tests.dashboard.tables_shown import tables_of

HOSTILE = '<img src=x onerror=alert(1)> | **b** :smile: $x$\n\n& "q"'


def table_of(values: dict[str, list[object]], kinds: dict[str, str]) -> lxml.html.HtmlElement:
    text = as_html(pd.DataFrame(values), kinds, alt='say "all"')
    assert "\n\n" not in text  # an empty line would end the HTML and begin markdown
    return lxml.html.fromstring(text)


def test_what_files_say_is_text_in_cells_and_headings():
    table = table_of({HOSTILE: [HOSTILE]}, {HOSTILE: "text"})
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


def test_a_narrow_screen_leaves_rare_columns_out_and_says_so():
    frame = pd.DataFrame({"Days": [3], "Bridged": [0]})
    root = lxml.html.fromstring(as_html(frame, dict.fromkeys(frame, "count"), alt="", rare={"Bridged"}))
    assert [(th.text_content(), th.get("class")) for th in root.iter("th")] == [
        ("Days", "number"), ("Bridged", "number rare")
    ]  # fmt: skip
    assert [td.get("class") for td in root.iter("td")] == ["number", "number rare"]
    assert root.find('.//p[@class="plain-table-more"]').text_content() == "On a wider screen also: Bridged."
    assert ".rare { display: none; }" in STYLE and ".plain-table-more { display: block; }" in STYLE


def test_columns_left_out_on_a_narrow_screen_are_columns_of_tables():
    every = (tables, alert_tables, animal_tables, count_tables, individual_pages, source_tables)
    held = [c for m in every for c in vars(m).values() if isinstance(c, dict)] + [individual_pages.crossings("h")]
    assert {name for columns in held for name in columns} >= tables.LEFT_OUT_WHEN_NARROW


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
