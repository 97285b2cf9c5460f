"""Whether a column's decimal mark is a comma or a dot: settled by all its cells, asked where none proves either."""

from __future__ import annotations

import re

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.sources.number_text import COMMA_ONLY, THOUSANDS_COMMA, THOUSANDS_DOT, WITH_TEXT

_COMMA_OPEN = re.compile(r"^[+-]?[1-9]\d{0,2},\d{3}$")  # 1,234: one thousand or one and a bit
_DOT_OPEN = re.compile(r"^[+-]?[1-9]\d{0,2}\.\d{3}$")


def settle_decimal_mark(
    distinct: set[str], cells: pa.Array, plain: np.ndarray, separator: str
) -> tuple[bool, str | None]:
    """(whether the comma is the decimal mark, question or None), from the whole column."""
    numbers = {m[1] for t in distinct if (m := WITH_TEXT.match(t))} | distinct
    commas = {
        t for t in numbers if "," in t and (COMMA_ONLY.match(t) or THOUSANDS_COMMA.match(t) or THOUSANDS_DOT.match(t))
    }
    if not commas:
        return False, _dots_left_open(cells, plain, separator)
    comma_decimal = {
        t
        for t in commas
        if (COMMA_ONLY.match(t) and not _COMMA_OPEN.match(t)) or ("." in t and t.rfind(",") > t.rfind("."))
    }
    dot_decimal = {t for t in commas if t.count(",") > 1 or ("." in t and t.rfind(".") > t.rfind(","))}
    if comma_decimal and dot_decimal:
        one, two = min(comma_decimal), min(dot_decimal)
        return False, f"one decimal mark in the whole column; “{one}” has a decimal comma and “{two}” a grouping comma"
    if comma_decimal:
        return True, None
    decimals = plain & np.asarray(pc.match_substring(cells, "."))
    if dot_decimal or separator == "," or decimals.any():
        return False, None
    example = min(commas)
    return False, (
        f"numbers whose comma can only be read one way: “{example}” could be {example.replace(',', '')} or "
        f"{example.replace(',', '.')} and nothing in the column proves which"
    )


def _dots_left_open(cells: pa.Array, plain: np.ndarray, separator: str) -> str | None:
    """1.234 beside 980 in a semicolon file may be German thousands: spreadsheets do not keep trailing zeros."""
    if separator != ";":
        return None
    dotted = plain & np.asarray(pc.match_substring(cells, "."))
    if not dotted.any() or not (plain & ~dotted).any():
        return None
    if not np.asarray(pc.match_substring_regex(cells.filter(pa.array(dotted)), _DOT_OPEN.pattern)).all():
        return None
    example = cells[int(np.flatnonzero(dotted)[0])].as_py()
    return (
        f"numbers whose dot can only be read one way: “{example}” could be {example.replace('.', '')} or "
        f"{example.replace('.', ',')}, as every dot in the column stands before three digits and other rows have none"
    )
