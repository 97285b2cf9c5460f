"""How much memory long gauge files take: every text layout at 200 MB, read by a process of its own.

Run: python tests/benchmarks/bench_memory.py [MB] [part of a layout's name]
The peak is that of the process above what it holds after reading the first lines of the same file, as a multiple of
the file's size. Linux only (VmHWM). Fails where a layout takes more than 6 times its file, or loses a row.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

MB, MOST, FIRST = 200, 6.0, 1701
_PEAK = """
import pathlib, sys
from hydro.sources.gauge_file import ReadChoices
from hydro.sources.recognise import read_gauge_file
file = read_gauge_file(sys.argv[1], ReadChoices(time_zone="UTC-06:00"))
assert not file.problems and len(file.series) == 1, file.problems or file.series
status = pathlib.Path("/proc/self/status").read_text()
print(len(file.series[0].frame), next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM")))
"""


@dataclass(frozen=True, kw_only=True)
class Long:
    """A layout as a head, a row of stamp, value and number, and a tail. `stamp` is how the clock is written."""

    head: str
    row: Callable[[str, str, int], str]
    tail: str = ""
    stamp: str = "%Y-%m-%dT%H:%M:%SZ"
    between: str = ""


_WATERML2 = """<?xml version="1.0" encoding="UTF-8"?>
<wml2:Collection xmlns:wml2="http://www.opengis.net/waterml/2.0" xmlns:gml="http://www.opengis.net/gml/3.2"
 xmlns:xlink="http://www.w3.org/1999/xlink" xmlns:om="http://www.opengis.net/om/2.0">
<wml2:observationMember><om:OM_Observation gml:id="o1"><om:observedProperty xlink:title="Discharge"/>
<om:featureOfInterest xlink:href="http://example.org/stations/999001" xlink:title="Invented beck"/><om:result>
<wml2:MeasurementTimeseries><wml2:defaultPointMetadata><wml2:DefaultTVPMeasurementMetadata><wml2:uom code="m3/s"/>
</wml2:DefaultTVPMeasurementMetadata></wml2:defaultPointMetadata>
"""
_WATERML1 = """<?xml version="1.0" encoding="UTF-8"?>
<a:timeSeriesResponse xmlns:a="http://www.cuahsi.org/waterML/1.1/"><a:timeSeries name="USGS:09999991:00060:00000">
<a:sourceInfo><a:siteCode network="NWIS" agencyCode="USGS">09999991</a:siteCode></a:sourceInfo><a:variable>
<a:variableCode>00060</a:variableCode><a:unit><a:unitCode>ft3/s</a:unitCode></a:unit>
<a:noDataValue>-999999.0</a:noDataValue></a:variable><a:values>
"""
_GRDC = """# Title:                 GRDC STATION DATA FILE
# GRDC-No.:              9999999
# Unit of measure:                  m3/s
# DATA
YYYY-MM-DD;hh:mm; Value
"""
_OGC = (
    '"time_series_id":"627c17455f9e4a4286e1d75dde4d8470","monitoring_location_id":"USGS-09999991",'
    '"parameter_code":"00060","statistic_id":"00011"'
)
LAYOUTS: dict[str, Long] = {
    "own CSV": Long(head="time,discharge (cfs)\n", row=lambda t, v, i: f"{t},{v}\n"),
    "own CSV without zone": Long(
        head="time,discharge (cfs)\n", row=lambda t, v, i: f"{t},{v}\n", stamp="%Y-%m-%d %H:%M"
    ),
    "own CSV, day first, decimal comma": Long(
        head="Datum;Abfluss (m3/s)\n", row=lambda t, v, i: f"{t};{v.replace('.', ',')}\n", stamp="%d.%m.%Y %H:%M"
    ),
    "RDB": Long(
        head="# retrieved: 2024-01-02\nagency_cd\tsite_no\tdatetime\ttz_cd\t99999_00060\t99999_00060_cd\n"
        "5s\t15s\t20d\t6s\t14n\t10s\n",
        row=lambda t, v, i: f"USGS\t09999991\t{t}\tCST\t{v}\t{'A:e' if i % 50 == 0 else 'A'}\n",
        stamp="%Y-%m-%d %H:%M",
    ),
    "WaterML 1.1 XML": Long(
        head=_WATERML1,
        row=lambda t, v, i: f'<a:value qualifiers="A" dateTime="{t}">{v}</a:value>\n',
        tail='<a:method methodID="7"/></a:values></a:timeSeries></a:timeSeriesResponse>\n',
        stamp="%Y-%m-%dT%H:%M:%S.000-06:00",
    ),
    "WaterML 1.1 JSON": Long(
        head='{"name":"ns1:timeSeriesResponseType","value":{"queryInfo":{},"timeSeries":[{"sourceInfo":{"siteCode":'
        '[{"value":"09999991","agencyCode":"USGS"}]},"variable":{"variableCode":[{"value":"00060"}],"unit":'
        '{"unitCode":"ft3/s"},"noDataValue":-999999.0},"values":[{"value":[',
        row=lambda t, v, i: f'{{"value":"{v}","qualifiers":["A"],"dateTime":"{t}"}}',
        between=",",
        tail='],"method":[{"methodID":7}]}],"name":"USGS:09999991:00060:00000"}]}}',
        stamp="%Y-%m-%dT%H:%M:%S.000-06:00",
    ),
    "OGC GeoJSON": Long(
        head='{"type":"FeatureCollection","features":[',
        row=lambda t, v, i: (
            f'{{"type":"Feature","geometry":null,"id":"{i:032x}","properties":{{"id":"{i:032x}",{_OGC},"time":"{t}",'
            f'"value":"{v}","unit_of_measure":"ft^3/s","approval_status":"Approved","qualifier":null,'
            '"last_modified":"2026-08-07T18:55:14.240081+00:00"}}'
        ),
        between=",",
        tail="]}",
        stamp="%Y-%m-%dT%H:%M:%S+00:00",
    ),
    "OGC CSV": Long(
        head="x,y,id,time_series_id,monitoring_location_id,parameter_code,statistic_id,time,value,unit_of_measure,"
        "approval_status,qualifier,last_modified\n",
        row=lambda t, v, i: (
            f",,{i:032x},627c17455f9e4a4286e1d75dde4d8470,USGS-09999991,00060,00011,{t},{v},ft^3/s,Approved,,"
            "2026-08-07 18:55:14.240081+00:00\n"
        ),
        stamp="%Y-%m-%d %H:%M:%S+00:00",
    ),
    "WaterML 2.0": Long(
        head=_WATERML2,
        row=lambda t, v, i: (
            f"<wml2:point><wml2:MeasurementTVP><wml2:time>{t}</wml2:time><wml2:value>{v}</wml2:value>"
            "</wml2:MeasurementTVP></wml2:point>\n"
        ),
        tail="</wml2:MeasurementTimeseries></om:result></om:OM_Observation></wml2:observationMember></wml2:Collection>",
    ),
    "England CSV": Long(
        head="measure,dateTime,date,value,completeness,quality,qcode\n",
        row=lambda t, v, i: (
            f"http://example.org/hydrology/id/measures/abcd-0001-flow-i-900-m3s-qualified,{t},{t[:10]},{v},,Good,\n"
        ),
        stamp="%Y-%m-%dT%H:%M:%S",
    ),
    "England JSON": Long(
        head='{"meta":{},"items":[',
        row=lambda t, v, i: (
            '{"measure":{"@id":"http://example.org/hydrology/id/measures/abcd-0001-flow-i-900-m3s-qualified"},'
            f'"date":"{t[:10]}","dateTime":"{t}","value":{v},"quality":"Good"}}'
        ),
        between=",",
        tail="]}",
        stamp="%Y-%m-%dT%H:%M:%S",
    ),
    "France CSV": Long(
        head='"code_site";"code_station";"grandeur_hydro";"date_obs";"resultat_obs";"code_statut";'
        '"code_qualification_obs";"libelle_methode_obs"\n',
        row=lambda t, v, i: f'"Z9990001";"Z999000101";"Q";"{t}";"{v}";"4";"20";"Calculée"\n',
    ),
    "France JSON": Long(
        head='{"count":9,"data":[',
        row=lambda t, v, i: (
            f'{{"code_site":"Z9990001","code_station":"Z999000101","grandeur_hydro":"Q","date_obs":"{t}",'
            f'"resultat_obs":{v},"code_statut":4,"code_qualification_obs":20}}'
        ),
        between=",",
        tail="]}",
    ),
    "Canada service": Long(
        head="\ufeff ID,Date,Parameter/Paramètre,Value/Valeur,Symbol/Symbole\r\n",
        row=lambda t, v, i: f"99XX001,{t},discharge/débit,{v},{'E' if i % 50 == 0 else ''}\r\n",
    ),
    "Canada narrow": Long(
        head=" Daily Discharge (m3/s) (PARAM = 1) and Daily Water Level (m) (PARAM = 2)\n ID,PARAM,Date,Value,SYM\n",
        row=lambda t, v, i: f" 99XX001,1,{t},{v},{'E' if i % 50 == 0 else ''}\n",
        stamp="%Y/%m/%dT%H:%M:%SZ",
    ),
    "Canada real time": Long(
        head="\ufeff ID,Date,Parameter/Paramètre,Value/Valeur,Qualifier/Qualificatif,Symbol/Symbole,"
        "Approval/Approbation,Grade/Classification,Qualifiers/Qualificatifs\r\n",
        row=lambda t, v, i: f"99XX001,{t},47,{v},,,Provisional/Provisoire,-1,\r\n",
    ),
    "# headers": Long(
        head="#station_no;99901\n#ts_unitsymbol;m3/s\n#Timestamp;Value;Quality Code\n",
        row=lambda t, v, i: f"{t};{v};31\n",
        stamp="%Y-%m-%dT%H:%M:%S.000Z",
    ),
    "GRDC": Long(head=_GRDC, row=lambda t, v, i: f"{t}; {float(v):6.3f};\r\n", stamp="%Y-%m-%d;%H:%M"),
    "Bavaria": Long(
        head="Quelle:;Erfunden\nMessstellen-Name:;Erfundener Bach\nMessstellen-Nr.:;99999999\nWert:;Abfluss [m³/s]\n"
        "Zeitangaben:;MEZ\n\nDatum;Mittelwert;Maximum;Minimum;Prüfstatus\n",
        row=lambda t, v, i: f"{t};{v.replace('.', ',')};;;Geprüft\n",
        stamp="%Y-%m-%d %H:%M",
    ),
}


def write(layout: Long, path: Path, size: int) -> int:
    """A file of about `size` bytes; the number of its rows.

    One year of quarter hours is written out; every other year is the same text with another number of the year.
    """
    index = pd.date_range(f"{FIRST}-01-01", f"{FIRST}-12-31 23:45", freq="15min", unit="s")
    values = np.random.default_rng(7).lognormal(1.0, 0.8, len(index))
    stamps = index.strftime(layout.stamp)
    rows = [layout.row(t, f"{v:.2f}", i) for i, (t, v) in enumerate(zip(stamps, values, strict=True))]
    count = written = 0
    with path.open("w", encoding="utf-8", newline="") as out:
        out.write(layout.head)
        for year in range(FIRST, FIRST + 400):
            some = rows[: max(1, size // len(rows[0]))]
            text = layout.between.join(some).replace(str(FIRST), str(year))
            written += out.write(f"{layout.between if count else ''}{text}")
            count += len(some)
            if written >= size:
                break
        out.write(layout.tail)
    return count


def peak_of(path: Path) -> tuple[int, int]:
    """(rows read, peak memory [bytes]) of a process that reads a file."""
    done = subprocess.run([sys.executable, "-c", _PEAK, str(path)], capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(done.stderr)
    rows, peak = done.stdout.split()
    return int(rows), 1024 * int(peak)


def main() -> None:
    megabytes = int(sys.argv[1]) if len(sys.argv) > 1 else MB
    wanted = sys.argv[2] if len(sys.argv) > 2 else ""
    too_much = 0
    for name, layout in LAYOUTS.items():
        if wanted not in name:
            continue
        with tempfile.TemporaryDirectory() as folder:
            path, tiny = Path(folder) / "long", Path(folder) / "short"
            count = write(layout, path, megabytes * 1_000_000)
            write(layout, tiny, 60_000)
            size = path.stat().st_size
            (rows, peak), (_, idle) = peak_of(path), peak_of(tiny)
            ratio = (peak - idle) / size
            too_much += ratio > MOST
            print(
                f"{name}: {size / 1e6:.0f} MB, {size / count:.0f} bytes a row, {rows} rows: {ratio:.1f} times",
                flush=True,
            )
    sys.exit(1 if too_much else 0)


if __name__ == "__main__":
    main()
