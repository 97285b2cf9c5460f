"""US Water Data API (OGC API Features): daily means and continuous values of discharge.

Pages are joined by their link “next”. The order of values is not given, and their ids change with every refresh: a
value is known by its series and time, and its newest version stands. A request for continuous values may cover at most
three years, and calendar years are answered best.

A station is named by its number; a parameter of discharge other than 00060 stands behind a colon (“01234567:30208”).
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from urllib.parse import urlencode, urljoin

from hydro.services.failure import ServiceError
from hydro.services.provider import Page, Provider, Stretch, by_years, count_in, rows_of, text_of
from hydro.services.us_series import list_url, location_and_parameter, told_series
from hydro.sources import us_ogc
from hydro.sources.us_columns import DISCHARGE_PARAMETERS

HOST = "https://api.waterdata.usgs.gov"
ITEMS = "/ogcapi/v0/collections/{collection}/items"
MEAN = "00003"
#: The most that both collections give in one answer.
PAGE_ROWS = 10_000
#: A whole daily record is one walk: mostly one page, and never more than seven.
DAILY_YEARS = 200
#: The service holds continuous values from this day on.
CONTINUOUS_BEGINS = datetime.date(2007, 10, 1)
DAILY_BEGINS = datetime.date(1850, 1, 1)


def _first_url(collection: str, fixed: dict[str, str], to_time: Callable[[Stretch], str], host: str, station: str,
               stretch: Stretch) -> str:  # fmt: skip
    location, parameter = location_and_parameter(station)
    asked = {
        "f": "json",
        "monitoring_location_id": location,
        "parameter_code": parameter,
        **fixed,
        "time": to_time(stretch),
        "limit": str(PAGE_ROWS),
        "skipGeometry": "true",
    }
    return f"{host}{ITEMS.format(collection=collection)}?{urlencode(asked)}"


def _daily_url(host: str, station: str, stretch: Stretch) -> str:
    return _first_url("daily", {"statistic_id": MEAN}, lambda s: f"{s.first}/{s.last}", host, station, stretch)


def _continuous_url(host: str, station: str, stretch: Stretch) -> str:
    def instants(s: Stretch) -> str:
        return f"{s.first}T00:00:00Z/{s.last}T23:59:59Z"

    return _first_url("continuous", {}, instants, host, station, stretch)


def _read_page(document: object, url: str) -> Page:
    rows = rows_of(document, "features", us_ogc.FIELDS, "properties")
    stated = count_in(document, "numberReturned")
    if stated is not None and stated != len(rows):
        raise ServiceError(f"the answer holds {len(rows)} values and says that it holds {stated}", again=True)
    links = document.get("links") if isinstance(document, dict) else None
    following = [
        text_of(link.get("href"))
        for link in (links if isinstance(links, list) else [])
        if isinstance(link, dict) and link.get("rel") == "next" and text_of(link.get("href"))
    ]
    return Page(
        rows=rows,
        next_url=urljoin(url, following[0]) if following else None,
        full=not following and len(rows) >= PAGE_ROWS,
        total=count_in(document, "numberMatched"),
    )


def _belongs(row: Mapping[str, str], station: str) -> bool:
    return (row[us_ogc.STATION], row[us_ogc.PARAMETER]) == location_and_parameter(station)


def _unit_of(station: str) -> str:
    # A parameter that is no discharge gives no values: its unit is never asked for.
    return DISCHARGE_PARAMETERS.get(location_and_parameter(station)[1], ("", "cfs"))[1]


def _provider(name: str, *, daily: bool, begins: datetime.date, recent: int, back: int, every: int, years: int,
              first_url: Callable[[str, str, Stretch], str]) -> Provider:  # fmt: skip
    return Provider(
        name=name,
        host_name="us",
        default_host=HOST,
        daily=daily,
        takes_key=True,
        columns=us_ogc.FIELDS,
        series=(us_ogc.SERIES, us_ogc.STATION, us_ogc.PARAMETER, us_ogc.STATISTIC),
        time=us_ogc.TIME,
        value=us_ogc.VALUE,
        approval=us_ogc.APPROVAL,
        remark=us_ogc.QUALIFIER,
        modified=us_ogc.MODIFIED,
        begins=begins,
        recent_days=recent,
        revision_days=back,
        revision_every_days=every,
        split=lambda stretch: by_years(stretch, years),
        first_url=first_url,
        read_page=_read_page,
        belongs=_belongs,
        unit_of=_unit_of,
        list_url=list_url,
        told_series=lambda document, station: told_series(document, station, daily=daily),
    )


DAILY = _provider(
    "us-daily", daily=True, begins=DAILY_BEGINS, recent=30, back=400, every=1, years=DAILY_YEARS, first_url=_daily_url
)
#: Values may stay provisional for 120 days and longer.
CONTINUOUS = _provider(
    "us-continuous", daily=False, begins=CONTINUOUS_BEGINS, recent=7, back=120, every=1, years=1,
    first_url=_continuous_url,
)  # fmt: skip
