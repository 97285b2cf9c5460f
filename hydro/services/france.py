"""France's hydrometry service: elaborated daily means (QmnJ), in litres per second.

A page with more behind it is answered with code 206 and names the next one. The names of the parameters
(code_entite, date_debut_obs_elab, …) are from memory.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from urllib.parse import urlencode, urljoin

from hydro.services.provider import Page, Provider, Stretch, by_years, count_in, rows_of, text_of
from hydro.sources import france

HOST = "https://hubeau.eaufrance.fr"
VALUES = "/api/v2/hydrometrie/obs_elab"
QUANTITY = "QmnJ"
PAGE_ROWS = 5_000
#: One walk may not go deeper than 20,000 values.
YEARS = 50
BEGINS = datetime.date(1900, 1, 1)
_KIND = france.KINDS[0]
_FIELDS = (
    france.SITE, france.STATION, _KIND.quantity, _KIND.time, _KIND.value, france.STATUS, france.QUALIFICATION,
    france.METHOD,
)  # fmt: skip


def _first_url(host: str, station: str, stretch: Stretch) -> str:
    asked = {
        "code_entite": station,
        "grandeur_hydro_elab": QUANTITY,
        "date_debut_obs_elab": f"{stretch.first}",
        "date_fin_obs_elab": f"{stretch.last}",
        "size": str(PAGE_ROWS),
    }
    return f"{host}{VALUES}?{urlencode(asked)}"


def _read_page(document: object, url: str) -> Page:
    following = text_of(document.get("next")) if isinstance(document, dict) else ""
    return Page(
        rows=rows_of(document, "data", _FIELDS),
        next_url=urljoin(url, following) if following else None,
        total=count_in(document, "count"),
    )


def _belongs(row: Mapping[str, str], station: str) -> bool:
    return station in (row[france.STATION], row[france.SITE]) and row[_KIND.quantity].upper() == QUANTITY.upper()


PROVIDER = Provider(
    name="france",
    host_name="france",
    default_host=HOST,
    daily=True,
    takes_key=False,
    columns=_FIELDS,
    series=(france.SITE, france.STATION, _KIND.quantity),
    time=_KIND.time,
    value=_KIND.value,
    approval=france.STATUS,
    remark=france.METHOD,
    modified=None,
    unit=france.UNIT,
    begins=BEGINS,
    recent_days=30,
    revision_days=400,
    revision_every_days=1,
    split=lambda stretch: by_years(stretch, YEARS),
    first_url=_first_url,
    read_page=_read_page,
    belongs=_belongs,
)
