"""Every format that is known by its content: a test and a reader each. Their order says nothing; two that fit tie.

A family is imported when a file of its kind turns up: a command on tables should not wait for readers of XML.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from hydro.discharge import Origin
from hydro.sources.cells import Cells
from hydro.sources.decoding import Decoded
from hydro.sources.gauge_file import ReadChoices
from hydro.sources.reading import Reading


@dataclass(frozen=True, kw_only=True)
class TextForm:
    """A format told by its text: `fits` looks at it, `read` understands it."""

    name: str
    fits: Callable[[Decoded], bool]
    read: Callable[[Decoded, Origin, ReadChoices], Reading]


@dataclass(frozen=True, kw_only=True)
class TableForm:
    """A format told by the columns of a table, in whatever kind of file the table is kept."""

    name: str
    fits: Callable[[Cells], bool]
    read: Callable[[Cells, Origin, ReadChoices], Reading]


@cache
def xml_forms() -> tuple[TextForm, ...]:
    """Formats of texts that begin as XML."""
    from hydro.sources import us_waterml_xml, waterml2

    return (
        TextForm(name=us_waterml_xml.NAME, fits=us_waterml_xml.fits, read=us_waterml_xml.read_waterml_xml),
        TextForm(name=waterml2.NAME, fits=waterml2.fits, read=waterml2.read_waterml2),
    )


@cache
def json_forms() -> tuple[TextForm, ...]:
    """Formats of texts that begin as JSON."""
    from hydro.sources import england, france, us_ogc, us_waterml_json

    return (
        TextForm(name=us_waterml_json.NAME, fits=us_waterml_json.fits, read=us_waterml_json.read_waterml_json),
        TextForm(name=us_ogc.JSON_NAME, fits=us_ogc.fits_json, read=us_ogc.read_ogc_json),
        TextForm(name=england.JSON_NAME, fits=england.fits_json, read=england.read_england_json),
        TextForm(name=france.JSON_NAME, fits=france.fits_json, read=france.read_france_json),
    )


@cache
def text_forms() -> tuple[TextForm, ...]:
    """Formats of texts with header lines that a table reader would not understand."""
    from hydro.sources import grdc, hash_header, us_rdb

    return (
        TextForm(name=us_rdb.RDB, fits=us_rdb.is_rdb, read=us_rdb.read_us_blocks),
        TextForm(name=hash_header.NAME, fits=hash_header.fits, read=hash_header.read_hash_header),
        TextForm(name=grdc.NAME, fits=grdc.fits, read=grdc.read_grdc),
    )


@cache
def table_forms() -> tuple[TableForm, ...]:
    """Formats of tables by the names of their columns."""
    from hydro.sources import bavaria, canada, canada_wide, england, france, us_ogc, us_rdb
    from hydro.sources.us_columns import is_us_header

    def by_names(fits: Callable[[tuple[str, ...]], bool]) -> Callable[[Cells], bool]:
        return lambda cells: fits(cells.columns)

    return (
        TableForm(name=us_rdb.RDB, fits=by_names(is_us_header), read=us_rdb.read_us_table),
        TableForm(name=us_ogc.CSV_NAME, fits=by_names(us_ogc.fits_columns), read=us_ogc.read_ogc_table),
        TableForm(name=england.CSV_NAME, fits=by_names(england.fits_columns), read=england.read_england_table),
        TableForm(name=france.CSV_NAME, fits=by_names(france.fits_columns), read=france.read_france_table),
        TableForm(name=canada.NAME, fits=by_names(canada.fits_columns), read=canada.read_canada_table),
        TableForm(name=canada_wide.FORMAT, fits=by_names(canada_wide.fits_columns), read=canada_wide.read_canada_wide),
        TableForm(name=bavaria.NAME, fits=bavaria.fits_cells, read=bavaria.read_bavaria),
    )


def tried(forms: tuple[TextForm, ...] | tuple[TableForm, ...]) -> str:
    """The names of the formats that were looked for."""
    return ", ".join(dict.fromkeys(form.name for form in forms))


def known() -> str:
    """Every format that is understood, in words."""
    groups = (tried(xml_forms()), tried(json_forms()), tried(text_forms()), tried(table_forms()))
    return (
        f"{', '.join(groups)}, delimited text (comma, semicolon, tab, bar or blanks), XLSX workbooks, and any of these "
        "in gzip or zip"
    )
