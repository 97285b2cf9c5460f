"""England's hydrology service: readings of one measure, paged by offset.

The names of the parameters that choose days (mineq-date, maxeq-date) are from memory. No answer says whether it is the
last: the walk ends at an empty page.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from urllib.parse import parse_qsl, quote, urlencode, urlsplit, urlunsplit

from hydro.services.provider import Page, Provider, Stretch, by_years, rows_of
from hydro.sources import england

HOST = "https://environment.data.gov.uk"
READINGS = "/hydrology/id/measures/{measure}/readings.json"
#: The measure that is meant where a station alone is named: daily means, quality-controlled.
DAILY_MEASURE = "{station}-flow-m-86400-m3s-qualified"
PAGE_ROWS = 10_000
YEARS = 200
BEGINS = datetime.date(1850, 1, 1)
_FIELDS = england.FIELDS[:7]


def _measure(station: str) -> str:
    return station if england.read_measure(station) is not None else DAILY_MEASURE.format(station=station)


def _first_url(host: str, station: str, stretch: Stretch) -> str:
    asked = {
        "mineq-date": f"{stretch.first}",
        "maxeq-date": f"{stretch.last}",
        "_limit": str(PAGE_ROWS),
        "_offset": "0",
    }
    return f"{host}{READINGS.format(measure=quote(_measure(station), safe=''))}?{urlencode(asked)}"


def _read_page(document: object, url: str) -> Page:
    rows = rows_of(document, "items", _FIELDS)
    if not rows:
        return Page(rows=rows)
    parts = urlsplit(url)
    query = dict(parse_qsl(parts.query, keep_blank_values=True))
    # The service may give fewer rows than asked for: the next page starts where this one ended.
    query["_offset"] = str(int(query.get("_offset") or 0) + len(rows))
    return Page(rows=rows, next_url=urlunsplit(parts._replace(query=urlencode(query))))


def _belongs(row: Mapping[str, str], station: str) -> bool:
    return row[england.MEASURE].rstrip("/").rpartition("/")[2] == _measure(station)


PROVIDER = Provider(
    name="england",
    host_name="england",
    default_host=HOST,
    daily=True,
    takes_key=False,
    columns=_FIELDS,
    series=(england.MEASURE,),
    time=england.STAMP,
    value=england.VALUE,
    approval=england.QUALITY,
    remark=england.QCODE,
    modified=None,
    begins=BEGINS,
    recent_days=30,
    revision_days=400,
    revision_every_days=1,
    split=lambda stretch: by_years(stretch, YEARS),
    first_url=_first_url,
    read_page=_read_page,
    belongs=_belongs,
    unit_of=lambda station: "m3/s",
)
