"""Every service that can be fetched from, by the name that a workspace uses."""

from __future__ import annotations

from hydro.services import england, france, us_water
from hydro.services.provider import Provider

PROVIDERS: dict[str, Provider] = {
    p.name: p for p in (us_water.DAILY, us_water.CONTINUOUS, england.PROVIDER, france.PROVIDER, france.REAL_TIME)
}
