"""One invented record written by hand in every layout that is read: what the contract test and the fuzzing start from.

Six days (or six quarter hours): 1.5, no value, 0, 0.75 (estimated), 2 and 2.5 in the layout's own unit.
Layouts follow the agencies' own descriptions and the OGC's 10-126r4; stations and values are invented.
"""

from __future__ import annotations

import json
from dataclasses import dataclass

import numpy as np
import pandas as pd

CFS = 0.3048**3  # 1 ft = 0.3048 m exactly (NIST SP 811, appendix B)
DAYS = [f"2021-03-{d:02d}" for d in range(1, 7)]
CLOCKS = [f"2021-03-01T00:{m:02d}" for m in (0, 15, 30, 45)] + ["2021-03-01T01:00", "2021-03-01T01:15"]
NUMBERS = ["1.5", "", "0", "0.75", "2", "2.5"]
ESTIMATED = 3


@dataclass(frozen=True, kw_only=True)
class Layout:
    """A file, what to find in it, and how much its layout can say."""

    text: str
    factor: float = 1.0
    daily: bool = True
    estimated: bool = True
    provisional: bool = True  # the last two rows are provisional
    format: str = ""

    @property
    def data(self) -> bytes:
        return self.text.encode()

    @property
    def values(self) -> np.ndarray:
        return np.array([float(n) if n else np.nan for n in NUMBERS]) * self.factor

    @property
    def index(self) -> pd.DatetimeIndex:
        return pd.DatetimeIndex(DAYS) if self.daily else pd.DatetimeIndex([f"{c}Z" for c in CLOCKS])


def code(i: int) -> str:
    return ("P" if i >= 4 else "A") + (":e" if i == ESTIMATED else "")


def rdb() -> str:
    rows = "".join(f"USGS\t09999991\t{d}\t{v}\t{code(i)}\n" for i, (d, v) in enumerate(zip(DAYS, NUMBERS, strict=True)))
    head = "# retrieved: 2021-04-01 22:08:51 EDT (zz)\n"
    return f"{head}agency_cd\tsite_no\tdatetime\t06_00060_00003\t06_00060_00003_cd\n5s\t15s\t20d\t14n\t10s\n{rows}"


def rdb_instantaneous() -> str:
    rows = "".join(
        f"USGS\t09999991\t{c.replace('T', ' ')}\tUTC\t{v}\t{code(i)}\n"
        for i, (c, v) in enumerate(zip(CLOCKS, NUMBERS, strict=True))
    )
    return (
        f"# retrieved: 2021-04-01 22:08:51 EDT (zz)\nagency_cd\tsite_no\tdatetime\ttz_cd\t06_00060\t06_00060_cd\n{rows}"
    )


def waterml_xml(*, daily: bool = True, points: str | None = None, head: str = "", tail: str = "") -> str:
    times = [f"{d}T00:00:00.000" for d in DAYS] if daily else [f"{c}:00.000+00:00" for c in CLOCKS]
    statistic = "00003" if daily else "00000"
    rows = "".join(
        f'<a:value qualifiers="{code(i).replace(":", " ")}" dateTime="{t}">{v or "-999999"}</a:value>'
        for i, (t, v) in enumerate(zip(times, NUMBERS, strict=True))
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>'
        f'{head}<a:timeSeriesResponse xmlns:a="http://www.cuahsi.org/waterML/1.1/"><a:queryInfo>'
        '<a:note title="requestDT">2021-04-01T10:00:00Z</a:note></a:queryInfo>'
        f'<a:timeSeries name="USGS:09999991:00060:{statistic}"><a:sourceInfo><a:siteName>INVENTED BECK</a:siteName>'
        '<a:siteCode network="NWIS" agencyCode="USGS">09999991</a:siteCode></a:sourceInfo><a:variable>'
        "<a:variableCode>00060</a:variableCode><a:variableName>Streamflow, ft&amp;#179;/s</a:variableName>"
        "<a:unit><a:unitCode>ft3/s</a:unitCode></a:unit><a:options>"
        f'<a:option name="Statistic" optionCode="{statistic}"/></a:options>'
        "<a:noDataValue>-999999.0</a:noDataValue></a:variable>"
        f"<a:values>{rows if points is None else points}"
        '<a:method methodID="77777"><a:methodDescription/></a:method>'
        f"</a:values></a:timeSeries>{tail}</a:timeSeriesResponse>\n"
    )


def waterml_series(points: list[dict[str, object]] | None = None, **changed: object) -> dict[str, object]:
    """One time series of the JSON form; keywords change station, parameter, unit, statistic, method, no_data."""
    if points is None:
        points = [
            {"value": v or "-999999", "qualifiers": code(i).split(":"), "dateTime": f"{d}T00:00:00.000"}
            for i, (d, v) in enumerate(zip(DAYS, NUMBERS, strict=True))
        ]
    said = {"station": "09999991", "parameter": "00060", "unit": "ft3/s", "statistic": "00003", "method": 77777}
    said |= {"no_data": -999999.0, "name": "Streamflow, ft&#179;/s", **changed}
    return {
        "sourceInfo": {
            "siteName": "INVENTED BECK",
            "siteCode": [{"value": said["station"], "network": "NWIS", "agencyCode": "USGS"}],
        },
        "variable": {
            "variableCode": [{"value": said["parameter"]}],
            "variableName": said["name"],
            "unit": {"unitCode": said["unit"]},
            "options": {"option": [{"name": "Statistic", "optionCode": said["statistic"]}]},
            "noDataValue": said["no_data"],
        },
        "values": [
            {"value": points, "method": [{"methodDescription": said.get("sensor", ""), "methodID": said["method"]}]}
        ],
        "name": f"USGS:{said['station']}:{said['parameter']}:{said['statistic']}",
    }


def waterml_json(*series: dict[str, object]) -> str:
    note = [{"value": "2021-04-01T10:00:00Z", "title": "requestDT"}]
    inner = {"queryInfo": {"note": note}, "timeSeries": list(series or (waterml_series(),))}
    return json.dumps({"name": "ns1:timeSeriesResponseType", "value": inner})


def ogc_rows(**changed: object) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    for i, (d, v) in enumerate(zip(DAYS, NUMBERS, strict=True)):
        row: dict[str, object] = {
            "time_series_id": "aaaa1111",
            "monitoring_location_id": "USGS-09999991",
            "parameter_code": "00060",
            "statistic_id": "00003",
            "time": d,
            "value": v or None,
            "unit_of_measure": "ft^3/s",
            "approval_status": "Provisional" if i >= 4 else "Approved",
            "qualifier": ["ESTIMATED"] if i == ESTIMATED else None,
            "last_modified": "2021-04-01T00:00:00+00:00",
        }
        rows.append(row | changed)
    return rows


def ogc_json(rows: list[dict[str, object]], **more: object) -> str:
    features = [{"type": "Feature", "properties": row, "id": f"x{i}", "geometry": None} for i, row in enumerate(rows)]
    return json.dumps({"type": "FeatureCollection", "features": features, "numberReturned": len(rows), **more})


def ogc_csv(rows: list[dict[str, object]]) -> str:
    names = ["x", "y", "id", *rows[0]]
    lines = [",".join(names)]
    for i, row in enumerate(rows):
        cells = ["", "", f"x{i}", *("" if c is None else str(c) for c in row.values())]
        lines.append(",".join(f'"{c}"' if "," in c or "[" in c else c for c in cells))
    return "\n".join(lines) + "\n"


def england_csv(measure: str = "abcd-0001-flow-m-86400-m3s-qualified", **changed: list[str]) -> str:
    qualities = ["Good", "Missing", "Good", "Estimated", "Unchecked", "Unchecked"]
    rows = ["measure,dateTime,date,value,completeness,quality,qcode"]
    for i, (d, v) in enumerate(zip(DAYS, NUMBERS, strict=True)):
        rows.append(f"http://example.org/hydrology/id/measures/{measure},{d}T09:00:00,{d},{v},,{qualities[i]},")
    return "\n".join(rows) + "\n"


def england_json() -> str:
    lines = england_csv().strip().split("\n")
    names = lines[0].split(",")
    items = []
    for line in lines[1:]:
        item: dict[str, object] = {k: v for k, v in zip(names, line.split(","), strict=True) if v}
        item["measure"] = {"@id": item["measure"]}
        if "value" in item:
            item["value"] = float(str(item["value"]))
        items.append(item)
    return json.dumps({"meta": {"publisher": "invented"}, "items": items})


def france_rows(**changed: object) -> list[dict[str, object]]:
    return [
        {
            "code_site": "Z9990001",
            "code_station": "Z999000101",
            "date_obs_elab": d,
            "resultat_obs_elab": float(v) if v else None,
            "grandeur_hydro_elab": "QmnJ",
            "code_statut": 4 if i >= 4 else 16,
            "code_qualification": 20,
            "libelle_methode": "Reconstituée" if i == ESTIMATED else "Mesurée",
        }
        | changed
        for i, (d, v) in enumerate(zip(DAYS, NUMBERS, strict=True))
    ]


def france_json(rows: list[dict[str, object]], **more: object) -> str:
    return json.dumps({"count": len(rows), "api_version": "2.0.1", "data": rows, **more})


def france_csv(rows: list[dict[str, object]]) -> str:
    lines = [";".join(f'"{k}"' for k in rows[0])]
    lines += [";".join(f'"{"" if c is None else c}"' for c in row.values()) for row in rows]
    return "\n".join(lines) + "\n"


def france_now() -> str:
    rows: list[dict[str, object]] = [
        {
            "code_site": "Z9990001",
            "code_station": "Z999000101",
            "grandeur_hydro": "Q",
            "date_obs": f"{c}:00Z",
            "resultat_obs": float(v) if v else None,
            "code_statut": 4 if i >= 4 else 16,
            "code_qualification_obs": 20,
            "libelle_methode_obs": "Reconstituée" if i == ESTIMATED else "Mesurée",
        }
        for i, (c, v) in enumerate(zip(CLOCKS, NUMBERS, strict=True))
    ]
    return france_json(rows)


def symbol(i: int) -> str:
    return "E" if i == ESTIMATED else ""


def canada_narrow() -> str:
    rows = [
        f" 99XX001,1,{d.replace('-', '/')},{v},{symbol(i)}" for i, (d, v) in enumerate(zip(DAYS, NUMBERS, strict=True))
    ]
    banner = " Daily Discharge (m3/s) (PARAM = 1) and Daily Water Level (m) (PARAM = 2)\n"
    return banner + " ID,PARAM,Date,Value,SYM\n" + "\n".join(rows) + "\n"


MONTHS = ["JAN", "FEB", "MAR", "AVR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC"]


def canada_wide() -> str:
    rows = [",".join(["ID", "PARAM", "TYPE", "YEAR", "DD", *(f"{m},SYM" for m in MONTHS)])]
    for i, v in enumerate(NUMBERS):
        cells = ["", ""] * 12
        cells[4], cells[5] = v, symbol(i)
        rows.append(",".join(["99XX001", "1", "1", "2021", str(i + 1), *cells]))
    return "\n".join(rows) + "\n"


def canada_days() -> str:
    pairs = ",".join(f"FLOW{d},FLOW_SYMBOL{d}" for d in range(1, 32))
    cells = ["", ""] * 31
    for i, v in enumerate(NUMBERS):
        cells[2 * i], cells[2 * i + 1] = v, symbol(i)
    return f"STATION_NUMBER,YEAR,MONTH,FULL_MONTH,NO_DAYS,{pairs}\n99XX001,2021,3,0,31,{','.join(cells)}\n"


def canada_service() -> str:
    rows = [f"99XX001,{d},discharge/débit,{v},{symbol(i)}" for i, (d, v) in enumerate(zip(DAYS, NUMBERS, strict=True))]
    head = "\ufeff ID,Date,Parameter/Paramètre,Value/Valeur,Symbol/Symbole\r\n"
    return head + "\r\n".join(rows) + "\r\n"


def canada_now() -> str:
    head = (
        "\ufeff ID,Date,Parameter/Paramètre,Value/Valeur,Qualifier/Qualificatif,Symbol/Symbole,"
        "Approval/Approbation,Grade/Classification,Qualifiers/Qualificatifs\r\n"
    )
    rows = [
        f"99XX001,{c}:00Z,47,{v},,{symbol(i)},{'Provisional/Provisoire' if i >= 4 else 'Approved/Approuvé'},-1,"
        for i, (c, v) in enumerate(zip(CLOCKS, NUMBERS, strict=True))
    ]
    return head + "\r\n".join(rows) + "\r\n"


def hash_header(unit: str = "m³/s", name: str = "DayMean") -> str:
    quality = ["31", "255", "31", "110", "254", "254"]
    rows = [f"{c}:00.000Z;{v};{quality[i]}" for i, (c, v) in enumerate(zip(CLOCKS, NUMBERS, strict=True))]
    head = f"#station_name;Invented beck\n#station_no;99901\n#ts_unitsymbol;{unit}\n#rows;6\n"
    return head + "#Timestamp;Value;Quality Code\n" + "\n".join(rows) + "\n"


def grdc(columns: str = "YYYY-MM-DD;hh:mm; Value") -> str:
    rows = [f"{d};--:--; {v or '-999.000'};" for d, v in zip(DAYS, NUMBERS, strict=True)]
    head = "# Title:                 GRDC STATION DATA FILE\r\n#                        --------------\r\n"
    head += "# GRDC-No.:              9999999\r\n# River:                 INVENTED RIVER\r\n# Station:   NOWHERE\r\n"
    head += "# Unit of measure:                  m³/s\r\n# Data lines: 6\r\n# DATA\r\n"
    return head + columns + "\r\n" + "\r\n".join(rows) + "\r\n"


def bavaria(unit: str = "Abfluss [m³/s]") -> str:
    rows = [
        f"{d};{v.replace('.', ',')};;;{'Vorläufig' if i >= 4 else 'Geprüft'}"
        for i, (d, v) in enumerate(zip(DAYS, NUMBERS, strict=True))
    ]
    head = f"Quelle:;Erfundene Stelle\nMessstellen-Name:;Erfundener Bach\nMessstellen-Nr.:;99999999\nWert:;{unit}\n\n"
    return head + "Datum;Mittelwert;Maximum;Minimum;Prüfstatus\n" + "\n".join(rows) + "\n"


def waterml2_point(time: str, value: str, metadata: str = "", attributes: str = "") -> str:
    inner = f"<wml2:metadata><wml2:TVPMeasurementMetadata>{metadata}</wml2:TVPMeasurementMetadata></wml2:metadata>"
    body = f"<wml2:value{attributes}>{value}</wml2:value>" if value else f"<wml2:value{attributes}/>"
    stamp = f"<wml2:time>{time}</wml2:time>" if time else ""
    return (
        f"<wml2:point><wml2:MeasurementTVP>{stamp}{body}{inner if metadata else ''}</wml2:MeasurementTVP></wml2:point>"
    )


QUALIFIER = '<wml2:qualifier><swe:Category xmlns:swe="http://www.opengis.net/swe/2.0"><swe:value>{}</swe:value></swe:Category></wml2:qualifier>'
NIL = ' xsi:nil="true" nilReason="http://www.opengis.net/def/nil/OGC/0/missing"'
ROOT = (
    'xmlns:wml2="http://www.opengis.net/waterml/2.0" xmlns:gml="http://www.opengis.net/gml/3.2" '
    'xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'xmlns:om="http://www.opengis.net/om/2.0"'
)


def interpolation(word: str) -> str:
    return f'<wml2:interpolationType xlink:href="http://www.opengis.net/def/waterml/2.0/interpolationType/{word}"/>'


def waterml2(
    points: str | None = None,
    *,
    uom: str = '<wml2:uom code="m3/s"/>',
    default: str = QUALIFIER.format("A"),
    kind: str = "",
    observed: str = "Discharge",
    metadata: str = "",
    identifier: str = "o1",
) -> str:
    """One observation, without a root."""
    if points is None:
        rows = []
        for i, (d, v) in enumerate(zip(DAYS, NUMBERS, strict=True)):
            own = QUALIFIER.format("P") if i >= 4 else ""
            own += QUALIFIER.format("A") + QUALIFIER.format("e") if i == ESTIMATED else ""
            rows.append(waterml2_point(d, v, own, "" if v else NIL))
        points = "".join(rows)
    return (
        f'<wml2:observationMember><om:OM_Observation gml:id="{identifier}"><om:procedure xlink:href="http://x/p"/>'
        f'<om:observedProperty xlink:href="http://x/params/q" xlink:title="{observed}"/>'
        '<om:featureOfInterest xlink:href="http://x/stations/999001" xlink:title="Invented beck"/><om:result>'
        f"<wml2:MeasurementTimeseries>{metadata}<wml2:defaultPointMetadata><wml2:DefaultTVPMeasurementMetadata>{default}"
        f"{uom}{interpolation(kind) if kind else '<wml2:interpolationType/>'}</wml2:DefaultTVPMeasurementMetadata>"
        f"</wml2:defaultPointMetadata>{points}</wml2:MeasurementTimeseries></om:result></om:OM_Observation>"
        "</wml2:observationMember>"
    )


def waterml2_collection(*observations: str) -> str:
    return f"<wml2:Collection {ROOT}>{''.join(observations or (waterml2(),))}</wml2:Collection>\n"


def user_table() -> str:
    rows = [f"{d},{v},{'e' if i == ESTIMATED else ''}" for i, (d, v) in enumerate(zip(DAYS, NUMBERS, strict=True))]
    return "Station,S1\nDate,Flow (cfs),Flag\n" + "\n".join(rows) + "\n"


LAYOUTS: dict[str, Layout] = {
    "rdb": Layout(text=rdb(), factor=CFS, format="US tab-delimited (RDB)"),
    "rdb instantaneous": Layout(text=rdb_instantaneous(), factor=CFS, daily=False, format="US tab-delimited (RDB)"),
    "waterml xml daily": Layout(text=waterml_xml(), factor=CFS, format="US WaterML 1.1 (XML)"),
    "waterml xml instantaneous": Layout(text=waterml_xml(daily=False), factor=CFS, daily=False),
    "waterml json": Layout(text=waterml_json(), factor=CFS, format="US WaterML 1.1 (JSON)"),
    "ogc geojson": Layout(text=ogc_json(ogc_rows()), factor=CFS, format="US Water Data API (GeoJSON)"),
    "ogc csv": Layout(text=ogc_csv(ogc_rows()), factor=CFS, format="US Water Data API (CSV), saved as delimited text"),
    "waterml 2": Layout(text=waterml2_collection(), format="OGC WaterML 2.0"),
    "england csv": Layout(text=england_csv(), format="England hydrology readings (CSV), saved as delimited text"),
    "england json": Layout(text=england_json(), format="England hydrology readings (JSON)"),
    "france json": Layout(text=france_json(france_rows()), factor=0.001, format="France hydrometry (JSON)"),
    "france csv": Layout(text=france_csv(france_rows()), factor=0.001),
    "france real time": Layout(text=france_now(), factor=0.001, daily=False, format="France hydrometry (JSON)"),
    "canada narrow": Layout(text=canada_narrow(), provisional=False),
    "canada months": Layout(text=canada_wide(), provisional=False),
    "canada days": Layout(text=canada_days(), provisional=False),
    "canada service": Layout(text=canada_service(), provisional=False),
    "canada real time": Layout(text=canada_now(), daily=False),
    "hash header": Layout(text=hash_header(), daily=False, format="text with # header lines"),
    "grdc": Layout(text=grdc(), estimated=False, provisional=False, format="GRDC station text"),
    "bavaria": Layout(text=bavaria(), estimated=False),
    "user table": Layout(text=user_table(), factor=CFS, provisional=False, format="delimited text"),
}
