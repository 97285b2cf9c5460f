"""The tables of a page as frames, whether the page draws them itself or hands them to the library's grid."""

from __future__ import annotations

import lxml.html
import pandas as pd
from streamlit.testing.v1 import AppTest


def tables_of(at: AppTest) -> list[pd.DataFrame]:
    """All tables in the order of the page, numbers and days as such."""
    found = []
    for element in at.main:
        if element.type == "dataframe":
            found.append(element.value)
        elif element.type == "markdown" and 'class="plain-table"' in element.value:
            found.append(_parsed(element.value))
    return found


def _parsed(text: str) -> pd.DataFrame:
    root = lxml.html.fromstring(text)
    names = [th.text_content() for th in root.iter("th")]
    rows = [[_value(td) for td in tr.iter("td")] for tr in root.find(".//tbody")]
    return pd.DataFrame(rows, columns=names)


def _value(cell: lxml.html.HtmlElement) -> object:
    for line in list(cell.iter("br")):
        line.tail = "\n" + (line.tail or "")
    text = cell.text_content()
    kind = (cell.get("class") or "").split()[:1]
    if kind == ["day"]:
        return pd.to_datetime(text, format="%d %b %Y") if text else pd.NaT
    if kind == ["number"]:
        try:
            return float(text.replace("\u202f", "").replace("\u2212", "-")) if text else float("nan")
        except ValueError:
            return text
    return text
