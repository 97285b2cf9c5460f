"""Column names of US agency data: as the agency writes them, and as its client libraries rename them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

#: Parameter code -> (what it is, canonical unit). Only these are discharge.
DISCHARGE_PARAMETERS: dict[str, tuple[str, str]] = {
    "00060": ("discharge", "cfs"),
    "30208": ("discharge", "m3/s"),
}
#: Discharge of another kind: taken only when a person names the series.
OTHER_DISCHARGE: dict[str, tuple[str, str]] = {
    "00061": ("instantaneous measured discharge", "cfs"),
    "72137": ("tidally filtered discharge", "cfs"),
}
STATISTIC_NAMES: dict[str, str] = {
    "00001": "maximum", "00002": "minimum", "00003": "mean", "00006": "sum", "00008": "median",
    "00011": "instantaneous", "00000": "instantaneous",
}  # fmt: skip
_STATISTIC_WORDS = {"mean": "00003", "maximum": "00001", "minimum": "00002", "median": "00008", "sum": "00006"}
#: Minutes east of UTC of the codes in `tz_cd`; the row's own code counts, never a zone of the site.
ZONE_MINUTES: dict[str, int] = {
    "EST": -300, "EDT": -240, "CST": -360, "CDT": -300, "MST": -420, "MDT": -360, "PST": -480, "PDT": -420,
    "AKST": -540, "AKDT": -480, "HST": -600, "HDT": -540, "AST": -240, "ADT": -180, "GMT": 0, "UTC": 0, "Z": 0,
    "GST": 600, "SST": -660,
}  # fmt: skip
DATE_NAMES = ("datetime", "date", "date_time", "dv_dt")
STATION_NAMES = ("site_no", "staid", "monitoring_location_id")

_AGENCY = re.compile(r"^(?P<id>\d+)_(?P<parameter>\d{5})(?:_(?P<statistic>\d{5}))?(?P<code>_cd)?$")
_R_CLIENT = re.compile(
    r"^X_(?:(?P<id>(?!\d{5}_\d{5}(?:_cd)?$).+?)_)?(?P<parameter>\d{5})(?:_(?P<statistic>\d{5}))?(?P<code>_cd)?$"
)
_PYTHON_CLIENT = re.compile(
    r"^(?P<parameter>\d{5})(?:_(?P<id>(?!Mean|Max|Min|Median|Sum|cd)[^_].*?))?"
    r"(?:_(?P<word>Mean|Maximum|Minimum|Median|Sum))?"
    r"(?P<code>_cd)?$"
)
_OLD_DAILY = "dv_va"


@dataclass(frozen=True, kw_only=True)
class UsColumn:
    """A value or code column. `parameter` is "" in the very old daily layout, which does not name it."""

    name: str
    id: str
    parameter: str
    statistic: str
    is_code: bool

    @property
    def key(self) -> tuple[str, str, str]:
        return self.id, self.parameter, self.statistic


def read_us_column(name: str) -> UsColumn | None:
    """A column name taken apart, or None where it is neither a value nor its code."""
    bare = name.strip()
    if bare in (_OLD_DAILY, "dv_cd"):
        return UsColumn(name=name, id="", parameter="", statistic="00003", is_code=bare == "dv_cd")
    for pattern in (_AGENCY, _R_CLIENT, _PYTHON_CLIENT):
        if match := pattern.match(bare):
            parts = match.groupdict()
            statistic = parts.get("statistic") or _STATISTIC_WORDS.get((parts.get("word") or "").lower(), "")
            return UsColumn(
                name=name,
                id=parts.get("id") or "",
                parameter=parts["parameter"],
                statistic=statistic,
                is_code=parts["code"] is not None,
            )
    return None


def is_us_header(names: Sequence[str]) -> bool:
    """Whether a header is one of the agency's: value columns by code beside a date, or its station columns."""
    lower = {n.strip().lower() for n in names}
    values = [c for n in names if (c := read_us_column(n)) is not None]
    if "agency_cd" in lower and "site_no" in lower and (lower & set(DATE_NAMES) or values):
        return True
    return bool(values) and bool(lower & {*DATE_NAMES, "tz_cd", "site_no"})
