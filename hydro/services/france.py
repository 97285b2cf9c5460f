"""France's hydrometry service, in litres per second: elaborated daily means (QmnJ), and observations in real time (Q).

A page with more behind it is answered with code 206 and names the next one. Observations in real time are held for a
month only: a fetch that comes later leaves a gap that nothing fills again. The names of the parameters (code_entite,
date_debut_obs_elab, date_debut_obs, …) are from memory.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode, urljoin

from hydro.services.provider import Page, Provider, Stretch, by_years, count_in, rows_of, text_of
from hydro.sources import france

HOST = "https://hubeau.eaufrance.fr"
PATH = "/api/v2/hydrometrie/{collection}"
PAGE_ROWS = 5_000
#: One walk may not go deeper than 20,000 values.
DAILY_YEARS = 50
BEGINS = datetime.date(1900, 1, 1)
#: The service says “the last month”; the shortest month has 28 days, and its first day is not whole.
KEEPS_DAYS = 26


@dataclass(frozen=True, kw_only=True)
class _Collection:
    """One of the service's two collections: where it is, which quantity is asked for, and how its days are named.

    `remark` is the column that takes our own marks: one of those whose words the reader looks at.
    """

    name: str
    kind: france.Kind
    quantity: str
    first: str
    last: str
    remark: str
    also: tuple[str, ...]

    @property
    def columns(self) -> tuple[str, ...]:
        kind = self.kind
        return (
            france.SITE, france.STATION, kind.quantity, kind.time, kind.value, france.STATUS, *self.also, self.remark,
        )  # fmt: skip

    def first_url(self, host: str, station: str, stretch: Stretch) -> str:
        times = (f"{stretch.first}", f"{stretch.last}")
        if not self.kind.daily:
            times = (f"{stretch.first}T00:00:00Z", f"{stretch.last}T23:59:59Z")
        asked = {
            "code_entite": station,
            self.kind.quantity: self.quantity,
            self.first: times[0],
            self.last: times[1],
            "size": str(PAGE_ROWS),
        }
        return f"{host}{PATH.format(collection=self.name)}?{urlencode(asked)}"

    def read_page(self, document: object, url: str) -> Page:
        following = text_of(document.get("next")) if isinstance(document, dict) else ""
        return Page(
            rows=rows_of(document, "data", self.columns),
            next_url=urljoin(url, following) if following else None,
            total=count_in(document, "count"),
        )

    def belongs(self, row: Mapping[str, str], station: str) -> bool:
        named = station in (row[france.STATION], row[france.SITE])
        return named and row[self.kind.quantity].upper() == self.quantity.upper()


_DAILY = _Collection(
    name="obs_elab",
    kind=france.KINDS[0],
    quantity="QmnJ",
    first="date_debut_obs_elab",
    last="date_fin_obs_elab",
    also=(france.QUALIFICATION,),
    remark=france.METHOD,
)
_REAL_TIME = _Collection(
    name="observations_tr",
    kind=france.KINDS[1],
    quantity="Q",
    first="date_debut_obs",
    last="date_fin_obs",
    also=(),
    remark=france.QUALIFICATION_NAMES[1],
)


def _provider(
    name: str, collection: _Collection, *, years: int, recent: int, back: int, keeps_days: int | None = None
) -> Provider:
    kind = collection.kind
    return Provider(
        name=name,
        host_name="france",
        default_host=HOST,
        daily=kind.daily,
        takes_key=False,
        columns=collection.columns,
        series=(france.SITE, france.STATION, kind.quantity),
        time=kind.time,
        value=kind.value,
        approval=france.STATUS,
        remark=collection.remark,
        modified=None,
        begins=BEGINS,
        recent_days=recent,
        revision_days=back,
        revision_every_days=1,
        split=lambda stretch: by_years(stretch, years),
        first_url=collection.first_url,
        read_page=collection.read_page,
        belongs=collection.belongs,
        unit_of=lambda station: france.UNIT,
        keeps_days=keeps_days,
    )


PROVIDER = _provider("france", _DAILY, years=DAILY_YEARS, recent=30, back=400)
#: Values arrive late by hours, and are corrected within days.
REAL_TIME = _provider("france-real-time", _REAL_TIME, years=1, recent=3, back=KEEPS_DAYS, keeps_days=KEEPS_DAYS)
