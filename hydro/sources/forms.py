"""Every format that is known by its content: a test and a reader each. Their order says nothing; two that fit tie."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from hydro.discharge import Origin
from hydro.sources import (
    bavaria,
    canada,
    canada_wide,
    england,
    france,
    grdc,
    hash_header,
    us_ogc,
    us_rdb,
    us_waterml_json,
    us_waterml_xml,
    waterml2,
)
from hydro.sources.cells import Cells
from hydro.sources.decoding import Decoded
from hydro.sources.gauge_file import GaugeFile, ReadChoices
from hydro.sources.us_columns import is_us_header


@dataclass(frozen=True, kw_only=True)
class TextForm:
    """A format told by its text: `fits` looks at it, `read` understands it."""

    name: str
    fits: Callable[[Decoded], bool]
    read: Callable[[Decoded, Origin, ReadChoices], GaugeFile]


@dataclass(frozen=True, kw_only=True)
class TableForm:
    """A format told by the columns of a table, in whatever kind of file the table is kept."""

    name: str
    fits: Callable[[Cells], bool]
    read: Callable[[Cells, Origin, ReadChoices], GaugeFile]


XML_FORMS = (
    TextForm(name=us_waterml_xml.NAME, fits=us_waterml_xml.fits, read=us_waterml_xml.read_waterml_xml),
    TextForm(name=waterml2.NAME, fits=waterml2.fits, read=waterml2.read_waterml2),
)
JSON_FORMS = (
    TextForm(name=us_waterml_json.NAME, fits=us_waterml_json.fits, read=us_waterml_json.read_waterml_json),
    TextForm(name=us_ogc.JSON_NAME, fits=us_ogc.fits_json, read=us_ogc.read_ogc_json),
    TextForm(name=england.JSON_NAME, fits=england.fits_json, read=england.read_england_json),
    TextForm(name=france.JSON_NAME, fits=france.fits_json, read=france.read_france_json),
)
TEXT_FORMS = (
    TextForm(name=us_rdb.RDB, fits=us_rdb.is_rdb, read=us_rdb.read_us_blocks),
    TextForm(name=hash_header.NAME, fits=hash_header.fits, read=hash_header.read_hash_header),
    TextForm(name=grdc.NAME, fits=grdc.fits, read=grdc.read_grdc),
)
TABLE_FORMS = (
    TableForm(name=us_rdb.RDB, fits=lambda c: is_us_header(c.columns), read=us_rdb.read_us_table),
    TableForm(name=us_ogc.CSV_NAME, fits=lambda c: us_ogc.fits_columns(c.columns), read=us_ogc.read_ogc_table),
    TableForm(name=england.CSV_NAME, fits=lambda c: england.fits_columns(c.columns), read=england.read_england_table),
    TableForm(name=france.CSV_NAME, fits=lambda c: france.fits_columns(c.columns), read=france.read_france_table),
    TableForm(name=canada.NAME, fits=lambda c: canada.fits_columns(c.columns), read=canada.read_canada_table),
    TableForm(
        name=canada_wide.FORMAT, fits=lambda c: canada_wide.fits_columns(c.columns), read=canada_wide.read_canada_wide
    ),
    TableForm(name=bavaria.NAME, fits=bavaria.fits_cells, read=bavaria.read_bavaria),
)


def tried(*groups: tuple[TextForm, ...] | tuple[TableForm, ...]) -> str:
    """The names of the formats that were looked for."""
    return ", ".join(dict.fromkeys(form.name for group in groups for form in group))
