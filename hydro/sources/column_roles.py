"""Which column of a person's table holds dates, which discharge, which remarks: by name, unit and look of the cells."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

import pyarrow as pa
import pyarrow.compute as pc

from hydro.sources.cells import Cells
from hydro.sources.column_units import StatedUnit, read_unit, unit_in_name
from hydro.sources.column_words import (
    DATE_WORDS,
    DAY_OF_YEAR_WORDS,
    DAY_WORDS,
    DISCHARGE_WORDS,
    FLAG_WORDS,
    MONTH_WORDS,
    OTHER_QUANTITIES,
    STATION_WORDS,
    STATISTICS,
    TIME_WORDS,
    UNIT_WORDS,
    YEAR_WORDS,
    fold,
    squeezed,
    tokens,
    words_of,
)
from hydro.sources.dates import TIME_LIKE
from hydro.sources.number_text import could_be_a_number
from hydro.sources.table_layout import looks_like_a_date, looks_like_a_number

SAMPLE_ROWS = 300
#: Share of filled sample cells that must look like dates or numbers.
MOST = 0.6
_COUNTERS = frozenset(words_of("record rn row nr no index unnamed0 lfd num n"))
_BOOKKEEPING = frozenset(words_of("retrieved modified created updated exported imported download downloaded prod"))
_PARAMETER_WORDS = frozenset(words_of("parameter param variable parametre parameterparametre parameterparametro"))


@dataclass(frozen=True, eq=False, kw_only=True)
class ValueColumn:
    """A column that may hold discharge. `named` = its name or unit says that it does."""

    name: str
    stated: StatedUnit | None
    stated_in: str
    statistic: str
    named: bool


@dataclass(eq=False)
class Roles:
    """What the columns are. Fields are column names; None = no such column."""

    dates: list[str] = field(default_factory=list)  # candidates, best first; more than one = undecided
    time: str | None = None
    year: str | None = None
    month: str | None = None
    day: str | None = None
    day_of_year: str | None = None
    values: list[ValueColumn] = field(default_factory=list)
    contradictions: list[tuple[str, str, str]] = field(default_factory=list)  # column, unit in name, unit in second row
    flags: dict[str, list[str]] = field(default_factory=dict)  # value column -> its flag columns
    station: str | None = None
    parameter: str | None = None
    unit: str | None = None
    not_discharge: list[str] = field(default_factory=list)


#: A column of this name may number the rows, unless its cells repeat. Any other word for a station is one, however few
#: rows each has: rows of several stations taken for one would throw all but the first away as repeats.
_ROW_NAMES = frozenset({"id"})


class Sample:
    """The first rows of every column, filled cells only."""

    def __init__(self, cells: Cells) -> None:
        head = cells.table.slice(0, SAMPLE_ROWS)
        self.cells = cells
        self.filled: dict[str, list[str]] = {}
        for i, name in enumerate(cells.columns):
            texts = ["" if c is None else str(c).strip() for c in head.column(i).to_pylist()]
            if pa.types.is_timestamp(head.column(i).type):
                texts = [t.removesuffix(" 00:00:00") for t in texts]
            self.filled[name] = [t for t in texts if t]

    def share(self, name: str, test: Callable[[str], bool]) -> float:
        filled = self.filled[name]
        return sum(map(test, filled)) / len(filled) if filled else 0.0


def find_roles(cells: Cells, *, date_column: str | None, column: str | None, serials: bool) -> Roles:
    """Give every column of a table its role. `date_column` and `column` are names that a person has settled."""
    sample = Sample(cells)
    roles = Roles()
    _find_dates(roles, sample, date_column, serials)
    taken = {*roles.dates, roles.time, roles.year, roles.month, roles.day, roles.day_of_year}
    rest = [name for name in cells.columns if name not in taken]
    n = len(cells)
    for name in list(rest):
        bare = squeezed(name)
        if name == column:
            continue
        if bare in UNIT_WORDS and sample.share(name, lambda t: read_unit(t) is not None) > MOST:
            roles.unit = name
        elif bare in _PARAMETER_WORDS and roles.parameter is None:
            roles.parameter = name
        elif bare in STATION_WORDS and roles.station is None and (bare not in _ROW_NAMES or _repeats(cells, name, n)):
            roles.station = name
        else:
            continue
        rest.remove(name)
    flag_columns = [name for name in rest if name != column and is_flag_name(name)]
    for i, name in enumerate(cells.columns):
        if name in rest and name not in flag_columns:
            second = cells.second_row[i] if cells.second_row and i < len(cells.second_row) else ""
            _judge(roles, sample, name, second, chosen=name == column)
    _share_out_flags(roles, cells.columns, flag_columns)
    return roles


def is_flag_name(name: str) -> bool:
    words = tokens(name)
    return (
        bool(set(words) & FLAG_WORDS)
        or squeezed(name) in FLAG_WORDS
        or any(squeezed(part) in FLAG_WORDS for part in name.split("/"))
    )


def _repeats(cells: Cells, name: str, n: int) -> bool:
    return pc.count_distinct(cells.column(name)).as_py() <= max(1, n // 3)


def _find_dates(roles: Roles, sample: Sample, date_column: str | None, serials: bool) -> None:
    names = list(sample.filled)
    if date_column is not None:
        roles.dates = [date_column]
    else:
        like = [n for n in names if sample.share(n, looks_like_a_date) >= MOST]
        ranked = [n for n in like if not set(tokens(n)) & _BOOKKEEPING] or like
        if serials and not ranked:
            ranked = [n for n in names if set(tokens(n)) & DATE_WORDS and sample.share(n, looks_like_a_number) >= MOST]
        for words in (DATE_WORDS, TIME_WORDS):
            named = [n for n in ranked if set(tokens(n)) & words or squeezed(n) in words]
            if named:
                ranked = named
                break
        roles.dates = ranked
        if not ranked:
            for field_name, words in (
                ("year", YEAR_WORDS), ("day_of_year", DAY_OF_YEAR_WORDS), ("month", MONTH_WORDS), ("day", DAY_WORDS),
            ):  # fmt: skip
                found = next((n for n in names if squeezed(n) in words), None)
                setattr(roles, field_name, found)
            if roles.year and (roles.day_of_year or (roles.month and roles.day)):
                return
            roles.year = roles.month = roles.day = roles.day_of_year = None
            # A column called “date” whose cells cannot be read as dates is reported cell by cell, not overlooked.
            roles.dates = [n for n in names if squeezed(n) in DATE_WORDS and sample.filled[n]][:1]
    if roles.dates and not any(":" in t for t in sample.filled[roles.dates[0]] if not t.endswith("00:00:00")):
        roles.time = next((n for n in names if n not in roles.dates and _is_time(sample, n)), None)


def _is_time(sample: Sample, name: str) -> bool:
    named = bool(set(tokens(name)) & TIME_WORDS)
    pattern = TIME_LIKE if not named else rf"{TIME_LIKE}|^\d{{3,4}}$"
    return sample.share(name, lambda t: re.match(pattern, t) is not None) >= MOST


def _judge(roles: Roles, sample: Sample, name: str, second: str, *, chosen: bool) -> None:
    """Add a column to the discharge candidates or to the refused ones."""
    words = set(tokens(name))
    in_name, in_second = unit_in_name(name), read_unit(second) if second else None
    if in_name and in_second and in_name.unit and in_second.unit and in_name.unit != in_second.unit:
        roles.contradictions.append((name, in_name.text, in_second.text))
    stated = in_name or in_second
    if in_name and in_name.unit is None and in_second and in_second.unit:
        stated = in_second  # “MGD” in the name, “US MGD” below it
    numeric = sample.share(name, could_be_a_number) >= MOST
    says_discharge = bool(words & DISCHARGE_WORDS) or squeezed(name) in DISCHARGE_WORDS
    other = next((OTHER_QUANTITIES[w] for w in [*tokens(name), squeezed(name)] if w in OTHER_QUANTITIES), None)
    by_unit = stated is not None and (stated.unit is not None or stated.open)
    if stated is not None and not by_unit and not chosen:
        if numeric or says_discharge:
            reason = stated.expected.removeprefix("a unit of discharge; this one is of ")
            roles.not_discharge.append(f"“{name}” is no discharge: “{stated.text}” is a unit of {reason}.")
        return
    if other and not by_unit and not chosen:
        if numeric:
            roles.not_discharge.append(f"“{name}” was not taken as discharge: its name says {other}.")
        return
    if squeezed(name) in _COUNTERS or squeezed(name) == "":
        return
    if not (numeric or chosen or (says_discharge and not sample.filled[name]) or (says_discharge and by_unit)):
        return
    # “US gal/min” is no minimum.
    without_unit = name.replace(in_name.text, " ") if in_name else name
    statistic = next((STATISTICS[w] for w in tokens(without_unit) if w in STATISTICS), "")
    where = "header" if stated is in_name else "second row"
    roles.values.append(
        ValueColumn(
            name=name, stated=stated, stated_in=where, statistic=statistic, named=says_discharge or by_unit or chosen
        )
    )


def _share_out_flags(roles: Roles, columns: tuple[str, ...], flag_columns: list[str]) -> None:
    """Each flag column belongs to the value column it is named after, else to the one it follows."""
    values = [v.name for v in roles.values]
    others = [n for n in columns if n not in flag_columns]
    for flag in flag_columns:
        by_name = [v for v in values if fold(flag).startswith(fold(v)) or fold(v) in fold(flag)]
        if by_name:
            roles.flags.setdefault(max(by_name, key=len), []).append(flag)
            continue
        at = columns.index(flag)
        before = [n for n in columns[:at] if n in others]
        owner = before[-1] if before and before[-1] in values else None
        alone = len(flag_columns) == 1 or len(values) == 1
        for value in values if alone or owner is None else [owner]:
            roles.flags.setdefault(value, []).append(flag)
