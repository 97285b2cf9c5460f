"""Where things are, as far as it is told to strangers: nowhere, in a grid cell, or exactly.

Positions of sensitive species are generalised and never shifted at random, and what was done is said in the data
(Chapman 2020, Current best practices for generalizing sensitive species occurrence data, GBIF).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from dashboard.workspace_settings import Position

WITHHELD, GRID, EXACT = "withheld", "grid", "exact"
CHOICES = (WITHHELD, GRID, EXACT)
#: Side of a grid cell [degrees].
CELL_DEGREES = 0.1
_METRES_PER_DEGREE = 111_320.0  # along a meridian, and along the equator


@dataclass(frozen=True, kw_only=True)
class Place:
    """What a record says of its place: Darwin Core terms by name, "" where nothing is said."""

    decimalLatitude: str = ""  # noqa: N815 - the standard's own name
    decimalLongitude: str = ""  # noqa: N815
    geodeticDatum: str = ""  # noqa: N815
    coordinateUncertaintyInMeters: str = ""  # noqa: N815
    dataGeneralizations: str = ""  # noqa: N815
    informationWithheld: str = ""  # noqa: N815


def place_of(position: Position | None, choice: str) -> Place:
    """The place of an outlet as far as `choice` lets it be told. Raises ValueError for an unknown choice."""
    if choice not in CHOICES:
        raise ValueError(f"“{choice}” is none of {', '.join(CHOICES)}")
    if choice == WITHHELD or position is None:
        why = "coordinates withheld to protect the site" if choice == WITHHELD else ""
        return Place(informationWithheld=why)
    if choice == EXACT:
        return Place(
            decimalLatitude=f"{position.latitude:.6f}",
            decimalLongitude=f"{position.longitude:.6f}",
            geodeticDatum="EPSG:4326",
        )
    middle = [(math.floor(v / CELL_DEGREES) + 0.5) * CELL_DEGREES for v in (position.latitude, position.longitude)]
    # From the middle of the cell to its farther corner, on the side nearer to the equator.
    nearer = max(abs(middle[0]) - CELL_DEGREES / 2, 0.0)
    across = CELL_DEGREES / 2 * _METRES_PER_DEGREE * math.cos(math.radians(nearer))
    along = CELL_DEGREES / 2 * _METRES_PER_DEGREE
    return Place(
        decimalLatitude=f"{middle[0]:.2f}",
        decimalLongitude=f"{middle[1]:.2f}",
        geodeticDatum="EPSG:4326",
        coordinateUncertaintyInMeters=f"{math.ceil(math.hypot(across, along))}",
        dataGeneralizations=f"coordinates generalised to the middle of a {CELL_DEGREES:g} degree grid cell",
        informationWithheld="exact coordinates withheld to protect the site",
    )
