"""meta.xml: what the columns of a Darwin Core archive are (Darwin Core text guide, TDWG)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from xml.sax.saxutils import quoteattr

DWC = "http://rs.tdwg.org/dwc/terms/"
ECO = "http://rs.tdwg.org/eco/terms/"
ROW_TYPES = {
    "event": f"{DWC}Event",
    "occurrence": f"{DWC}Occurrence",
    "measurement": f"{DWC}MeasurementOrFact",
    "humboldt": f"{ECO}Event",
}


def term(table: str, column: str) -> str:
    """The term's address. Humboldt's table has terms of its own, but for the id."""
    return f"{ECO if table == 'humboldt' and column != 'eventID' else DWC}{column}"


def meta_xml(columns: Mapping[str, Sequence[str]]) -> str:
    """Description of an archive whose core is `event`; every table has eventID."""
    parts = [_table(name, names) for name, names in columns.items()]
    body = "\n".join(parts)
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<archive xmlns="http://rs.tdwg.org/dwc/text/">\n{body}\n</archive>\n'
    )


def _table(name: str, columns: Sequence[str]) -> str:
    kind, key = ("core", "id") if name == "event" else ("extension", "coreid")
    id_at = columns.index("eventID")
    fields = "\n".join(
        f"    <field index={quoteattr(str(i))} term={quoteattr(term(name, c))}/>" for i, c in enumerate(columns)
    )
    return (
        f'  <{kind} encoding="UTF-8" fieldsTerminatedBy="," linesTerminatedBy="\\r\\n" fieldsEnclosedBy="&quot;" '
        f'ignoreHeaderLines="1" rowType={quoteattr(ROW_TYPES[name])}>\n'
        f"    <files><location>{name}.csv</location></files>\n"
        f'    <{key} index="{id_at}"/>\n{fields}\n  </{kind}>'
    )
