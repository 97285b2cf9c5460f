"""France's open hydrometry service, JSON (also GeoJSON) or CSV: observations in real time, and elaborated values.

Discharge is in LITRES per second and stages in millimetres. Rows without a station belong to the site and repeat what
its stations measure.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa

from hydro.discharge import Origin
from hydro.sources.cells import Cells
from hydro.sources.column_words import fold
from hydro.sources.decoding import Decoded, NotATableError
from hydro.sources.gauge_file import ReadChoices, names_series
from hydro.sources.json_text import Path, load_json, records_in
from hydro.sources.point_stamps import ClockRule
from hydro.sources.points import Points, add_series, split_by
from hydro.sources.quantity import settle_stated_unit
from hydro.sources.reading import Reading
from hydro.sources.row_flags import read_codes
from hydro.sources.us_codes import APPROVED, PROVISIONAL, UNKNOWN, CodeMeaning

JSON_NAME, CSV_NAME = "France hydrometry (JSON)", "France hydrometry (CSV)"
SITE, STATION = "code_site", "code_station"
STATUS, QUALIFICATION, METHOD = "code_statut", "code_qualification", "libelle_methode"
#: Two misspelt or longer names of the same columns in some answers.
STATUS_NAMES = (STATUS, "code_slibelle_statuttatut")
QUALIFICATION_NAMES = (QUALIFICATION, "code_qualification_obs")
METHOD_NAMES = (METHOD, "libelle_methode_obs")
UNIT = "l/s"
DATA: tuple[Path, ...] = (("data",), ("features",))


@dataclass(frozen=True, kw_only=True)
class Kind:
    """One of the two kinds of answers, by the names of its columns."""

    quantity: str
    time: str
    value: str
    daily: bool


KINDS = (
    Kind(quantity="grandeur_hydro_elab", time="date_obs_elab", value="resultat_obs_elab", daily=True),
    Kind(quantity="grandeur_hydro", time="date_obs", value="resultat_obs", daily=False),
)
FIELDS = tuple(
    dict.fromkeys(
        (
            SITE,
            STATION,
            *STATUS_NAMES,
            *QUALIFICATION_NAMES,
            *METHOD_NAMES,
            *(name for k in KINDS for name in (k.quantity, k.time, k.value)),
        )
    )
)
#: Quantities that are discharge, with their statistic; the others have a reason.
TAKEN = {"Q": "instantaneous", "QMNJ": "mean", "QMJ": "mean"}
REASONS = {
    "H": "a water level in millimetres",
    "QMM": "the mean of each month, no daily discharge",
    "QIXNJ": "the highest discharge of each day",
    "QINNJ": "the lowest discharge of each day",
    "HIXNJ": "the highest water level of each day",
}
_REMARKS = (
    ("interpol", "interpolated"), ("reconst", "estimated"), ("estim", "estimated"),
    ("withdrawn", "withdrawn"), ("duplicate", "duplicate"),
)  # fmt: skip
_APPROVALS = {"16": APPROVED, "12": PROVISIONAL, "8": PROVISIONAL, "4": PROVISIONAL}
_NOTHING = "a discharge series (Q, or QmnJ for daily means)"


def fits_json(decoded: Decoded) -> bool:
    """Whether a JSON text names the service's quantities."""
    return any(f'"{k.quantity}"' in decoded.head for k in KINDS) and f'"{SITE}"' in decoded.head


def fits_columns(names: Sequence[str]) -> bool:
    """Whether a table has the service's columns."""
    have = {n.strip().lower() for n in names}
    return any({k.quantity, k.time, k.value} <= have for k in KINDS)


def read_france_json(decoded: Decoded, origin: Origin, choices: ReadChoices) -> Reading:
    """Read the rows of one answer. Raises NotATableError for JSON that is not whole."""
    in_features = '"FeatureCollection"' in decoded.head
    document = load_json(decoded.spend(), DATA, FIELDS, inner="properties" if in_features else None)
    collections = records_in(document)
    if not collections:
        raise NotATableError("a list of observations; this JSON names one and holds none")
    reading = Reading(origin, choices)
    if isinstance(document, dict) and document.get("next"):
        reading.note("The answer names a next page: the file holds only a part of what was asked for.")
    for records in collections:
        rows = np.arange(1, len(records.columns) + 1)
        _take(reading, records.columns.column, records.keys, rows, "row")
    return reading.done(_NOTHING)


def read_france_table(cells: Cells, origin: Origin, choices: ReadChoices) -> Reading:
    """Read the service's CSV."""
    reading = Reading.of_table(cells, origin, choices)
    _take(reading, cells.by_lower_name(), frozenset(n.strip().lower() for n in cells.columns), cells.rows, "")
    return reading.done(_NOTHING)


def _take(
    reading: Reading, get: Callable[[str], pa.Array], keys: frozenset[str], rows: np.ndarray, row_name: str
) -> None:
    kind = next((k for k in KINDS if k.quantity in keys), None)
    if len(rows) == 0 or kind is None:
        reading.problem("rows of observations; the service found nothing for this request")
        return
    approval = np.full(len(rows), UNKNOWN, np.int8)
    for name in STATUS_NAMES:
        codes, _ = read_codes(get(name), read_status)
        approval = np.where(codes != UNKNOWN, codes, approval)
    points = Points.plain(get(kind.time), get(kind.value), np.asarray(rows, dtype=np.int64))
    for name in (*QUALIFICATION_NAMES, *METHOD_NAMES):
        _, flags = read_codes(get(name), read_remark)
        points = points.marked(approval, flags)
    groups = split_by(get(SITE), get(STATION), get(kind.quantity))
    with_stations = {(site, quantity) for (site, station, quantity), _ in groups if station}
    for (site, station, quantity), at in groups:
        name = f"{station or site} {quantity}"
        if not station and (site, quantity) in with_stations:
            reading.note(f"{len(at)} rows of site {site} without a station repeat its stations and were left out.")
            continue
        folded = quantity.upper()
        asked = reading.choices.series is not None and names_series(reading.choices.series, name, quantity)
        named = asked and folded.startswith("QI")
        if folded not in TAKEN and not named:
            reading.leave_out(f"“{name}” is {REASONS.get(folded, 'another quantity than discharge')}.")
            continue
        unit = settle_stated_unit(reading, UNIT, "layout of the service")
        if unit is None:
            continue
        origin = replace(
            reading.origin,
            station=station or site,
            parameter=quantity,
            statistic=TAKEN.get(folded, "maximum"),
            series=name,
            description="" if station else "the site as a whole",
            unit=unit.name,
            unit_from=unit.known_from,
        )
        zone = None if kind.daily else "UTC"
        rule = ClockRule(daily=kind.daily, zone=zone, zone_from="" if kind.daily else "stated by the service")
        add_series(reading, points.take(at), origin, rule, sentinels=(), column=kind.value, row_name=row_name)


def read_status(text: str) -> CodeMeaning:
    """16 is validated; 4 raw, 8 corrected and 12 pre-validated are not yet; 0 says nothing."""
    return CodeMeaning(_APPROVALS.get(text.strip(), UNKNOWN), frozenset())


def read_remark(text: str) -> CodeMeaning:
    """Qualification 12 is doubtful (16 not qualified, 20 good); words say how a value came about.

    Behind a comma stand marks of this tool's own, in a copy that it kept.
    """
    first, *marks = (fold(part.strip()) for part in text.split(","))
    flags = {{"12": "suspect"}.get(first, "")}
    for start, meaning in _REMARKS:
        flags |= {meaning for word in (first, *marks) if word.startswith(start)}
    return CodeMeaning(UNKNOWN, frozenset(flags - {""}))
