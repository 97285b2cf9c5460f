"""Which series of discharge the US Water Data API holds of a station: its collection of the metadata of time series.

Asked where no value came: a station may have its discharge under another parameter, or only as values of another kind.
"""

from __future__ import annotations

from urllib.parse import urlencode

from hydro.services.provider import rows_of
from hydro.sources.us_columns import DISCHARGE_PARAMETERS, STATISTIC_NAMES

LIST = "/ogcapi/v0/collections/time-series-metadata/items"
AGENCY, DISCHARGE = "USGS", "00060"
_MOST_TOLD, _MOST_LISTED = 6, 1_000
_FIELDS = (
    "id", "parameter_code", "statistic_id", "computation_identifier", "computation_period_identifier", "begin", "end",
    "sublocation_identifier",
)  # fmt: skip
#: The service's words for the two kinds of values.
_DAILY, _POINTS = "daily", "points"


def location_and_parameter(station: str) -> tuple[str, str]:
    """“01234567” or “01234567:30208” -> the service's name of the place, and the parameter."""
    place, _, parameter = station.partition(":")
    return place if "-" in place else f"{AGENCY}-{place}", parameter or DISCHARGE


def list_url(host: str, station: str) -> str:
    """Where the series of a station are listed."""
    location, _ = location_and_parameter(station)
    asked = {"f": "json", "monitoring_location_id": location, "limit": str(_MOST_LISTED), "skipGeometry": "true"}
    return f"{host}{LIST}?{urlencode(asked)}"


def told_series(document: object, station: str, *, daily: bool) -> str:
    """The series of discharge in the list, with their spans and how to ask for them. Raises ServiceError."""
    place, _, parameter = station.partition(":")
    told = []
    for row in rows_of(document, "features", _FIELDS, "properties"):
        facts = dict(zip(_FIELDS, row, strict=True))
        code, period = facts["parameter_code"], facts["computation_period_identifier"].lower()
        if code not in DISCHARGE_PARAMETERS:
            continue
        what, unit = DISCHARGE_PARAMETERS[code]
        kind = STATISTIC_NAMES.get(facts["statistic_id"], facts["computation_identifier"].lower())
        parts = [f"{what} {code} in {unit}", *(w for w in (kind, period, facts["sublocation_identifier"]) if w)]
        # Local days without offset, down to a microsecond: the day is enough to choose by.
        span = " to ".join(day[:10] for day in (facts["begin"], facts["end"]) if day)
        if code == (parameter or DISCHARGE):
            other = {_DAILY: "us-daily", _POINTS: "us-continuous"}.get(period, "")
            how = f"service = “{other}”" if other and (other == "us-daily") != daily else ""
        else:
            how = f"station = “{place}:{code}”"
        told.append(", ".join(t for t in (*parts, span, how) if t))
    if not told:
        return "; the service lists no series of discharge there"
    more = f"; and {len(told) - _MOST_TOLD} more" if len(told) > _MOST_TOLD else ""
    return f"; the service lists there: {'; '.join(told[:_MOST_TOLD])}{more}"
