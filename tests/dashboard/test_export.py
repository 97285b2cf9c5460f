"""Exports, judged by other people's programs and by the standards' own words."""

from __future__ import annotations

import csv
import datetime
import json
import re
import shutil
import xml.etree.ElementTree as ET
from pathlib import Path

import pandas as pd
import pytest

from dashboard.answers.csv_file import csv_bytes
from dashboard.cli import main
from dashboard.export.archive_description import DWC, ECO
from dashboard.export.calendar_file import DayEvent, calendar_file
from dashboard.export.darwin_core import darwin_core
from dashboard.export.places import CELL_DEGREES, place_of
from dashboard.workspace import load_workspace
from dashboard.workspace_settings import Position
from hydro.problems import InputError
from tests.dashboard.conftest import DEMO


def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"\w+", text))


#: Terms of Darwin Core (TDWG) and of its Humboldt Extension that these exports use; from memory of the published lists,
#: checked letter by letter because a receiver ignores a term that it does not know.
DWC_TERMS = _words("""eventID parentEventID eventType eventDate eventTime locationID locality habitat
    samplingProtocol samplingEffort sampleSizeValue sampleSizeUnit fieldNotes eventRemarks decimalLatitude
    decimalLongitude geodeticDatum coordinateUncertaintyInMeters dataGeneralizations informationWithheld occurrenceID
    basisOfRecord scientificName vernacularName individualCount occurrenceStatus organismID lifeStage
    reproductiveCondition recordedBy occurrenceRemarks measurementID measurementType measurementValue measurementUnit
    measurementDeterminedDate measurementMethod measurementRemarks""")
ECO_TERMS = _words("""isAbsenceReported isAbundanceReported isSamplingEffortReported samplingEffortValue
    samplingEffortUnit inventoryTypes targetTaxonomicScope isTaxonomicScopeFullyReported samplingPerformedBy
    isLeastSpecificTargetCategoryQuantityInclusive""")


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("out") / "export"
    assert main(["export", str(DEMO), "--out", str(folder), "--visit", "2025-11-03"]) == 0
    return folder


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    with (folder / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_data_package_is_valid_by_its_own_reference_program(exported: Path) -> None:
    """Judge: frictionless-py, the reference implementation of the Frictionless Data Package."""
    from frictionless import Package

    package = Package(str(exported / "datapackage.json"))
    report = package.validate()
    assert report.valid, report.flatten(["type", "message"])[:5]
    assert {r.path for r in package.resources} == {p.name for p in exported.glob("*.csv")}


def test_the_archive_names_every_column_by_a_published_term(exported: Path) -> None:
    """The text guide of Darwin Core: one core, its id, an index and a term for each column."""
    space = {"t": "http://rs.tdwg.org/dwc/text/"}
    archive = ET.parse(exported / "meta.xml").getroot()
    assert len(archive.findall("t:core", space)) == 1 and len(archive.findall("t:extension", space)) == 3
    for part in archive:
        name = part.findtext("t:files/t:location", namespaces=space)
        assert name is not None
        with (exported / name).open(encoding="utf-8", newline="") as file:
            header = next(csv.reader(file))
        fields = {int(f.attrib["index"]): f.attrib["term"] for f in part.findall("t:field", space)}
        assert [fields[i].rsplit("/", 1)[1] for i in range(len(header))] == header
        for uri in fields.values():
            assert uri.removeprefix(DWC) in DWC_TERMS or uri.removeprefix(ECO) in ECO_TERMS, uri
        key = part.find("t:id", space) if part.tag.endswith("core") else part.find("t:coreid", space)
        assert key is not None and header[int(key.attrib["index"])] == "eventID"


def test_every_occurrence_and_measurement_belongs_to_an_event(exported: Path) -> None:
    events = [r["eventID"] for r in rows(exported, "event.csv")]
    assert len(set(events)) == len(events)
    for name, key in (("occurrence.csv", "occurrenceID"), ("measurement.csv", "measurementID")):
        table = rows(exported, name)
        assert {r["eventID"] for r in table} <= set(events)
        assert len({r[key] for r in table}) == len(table), name


def test_a_zero_a_dry_visit_and_a_visit_that_did_not_search_are_three_things(exported: Path) -> None:
    visits = load_workspace(DEMO).visits
    assert visits is not None
    found = {r["eventID"]: r for r in rows(exported, "occurrence.csv") if r["occurrenceID"].endswith("-count")}
    seen = {(r["eventID"], r["measurementType"]): r["measurementValue"] for r in rows(exported, "measurement.csv")}
    by_kind = {k: [f"visit-{n}" for n in g["row"]] for k, g in visits.frame.groupby("kind", observed=True)}
    zero = [f"visit-{n}" for n in visits.frame.query("kind == 'counted' and count == 0")["row"]]
    assert zero and all(
        found[v]["occurrenceStatus"] == "notDetected" and found[v]["individualCount"] == "0" for v in zero
    )
    assert by_kind["dry"] and not set(by_kind["dry"]) & set(found)
    assert all(seen[v, "surface seen"] == "dry" for v in by_kind["dry"])
    assert not set(by_kind["not-searched"]) & set(found)


def test_older_receivers_can_be_given_present_and_absent() -> None:
    table = darwin_core(load_workspace(DEMO), places="withheld", old_status=True)["occurrence"]
    assert set(table["occurrenceStatus"]) == {"present", "absent"}


def test_positions_leave_only_when_asked_and_how_they_were_changed_is_said() -> None:
    """Generalising, not shifting: Chapman 2020, Current best practices for generalizing sensitive species, GBIF."""
    exact = Position(latitude=37.12345, longitude=-93.98765)
    withheld, grid, whole = (place_of(exact, c) for c in ("withheld", "grid", "exact"))
    assert withheld.decimalLatitude == "" and "withheld" in withheld.informationWithheld
    assert (grid.decimalLatitude, grid.decimalLongitude) == ("37.15", "-93.95")
    assert "0.1 degree" in grid.dataGeneralizations
    # Half the diagonal of a cell of 0.1 degrees at 37.1 N: 5566 m north, 4439 m east.
    assert 7_100 <= float(grid.coordinateUncertaintyInMeters) <= 7_150
    assert abs(float(grid.decimalLatitude) - exact.latitude) <= CELL_DEGREES / 2
    assert (whole.decimalLatitude, whole.decimalLongitude) == ("37.123450", "-93.987650")


def test_no_coordinate_is_in_an_export_by_default(tmp_path: Path) -> None:
    folder = tmp_path / "springs"
    shutil.copytree(DEMO, folder)
    text = (folder / "workspace.toml").read_text(encoding="utf-8")
    text = text.replace("[outlets.ledge]\n", "[outlets.ledge]\nlatitude = 37.12345\nlongitude = -93.98765\n")
    (folder / "workspace.toml").write_text(text, encoding="utf-8")
    for choice, n in (("withheld", 0), ("grid", 0), ("exact", 1)):
        assert main(["export", str(folder), "--out", str(tmp_path / choice), "--positions", choice]) == 0
        data = b"".join(p.read_bytes() for p in (tmp_path / choice).iterdir())
        assert bool(data.count(b"37.123")) is bool(n) and bool(data.count(b"93.987")) is bool(n)
    assert "-93.987650" in {r["decimalLongitude"] for r in rows(tmp_path / "exact", "event.csv")}


def test_a_wrong_position_is_said_by_its_key(tmp_path: Path) -> None:
    folder = tmp_path / "springs"
    shutil.copytree(DEMO, folder)
    text = (folder / "workspace.toml").read_text(encoding="utf-8")
    (folder / "workspace.toml").write_text(text.replace("[outlets.ledge]\n", "[outlets.ledge]\nlatitude = 137.1\n"))
    with pytest.raises(InputError, match=r"outlets\.ledge\.latitude"):
        load_workspace(folder)


def test_the_calendar_is_read_by_another_program(exported: Path) -> None:
    """Judge: icalendar (RFC 5545)."""
    from icalendar import Calendar

    calendar = Calendar.from_ical((exported / "visits-and-stops.ics").read_bytes())
    events = {str(e["UID"]).split("@")[0]: e for e in calendar.walk("VEVENT")}
    planned = events["visit-20251103"]
    assert planned["DTSTART"].dt == datetime.date(2025, 11, 3) and planned["DTEND"].dt == datetime.date(2025, 11, 4)
    stop = events["stop-ledge-20241207"]
    assert stop["DTEND"].dt > stop["DTSTART"].dt >= datetime.date(2025, 10, 19)
    assert "not an official warning" in str(stop["DESCRIPTION"])


def test_long_lines_of_a_calendar_are_folded_without_tearing_a_character() -> None:
    from icalendar import Calendar

    text = "Füße; ins, Wasser\nnicht allein " * 9
    day = pd.Timestamp("2025-11-03")
    made = calendar_file([DayEvent(id="a", first=day, last=day, title=text, text=text)], day, text)
    assert all(len(line.encode()) <= 75 for line in made.split("\r\n"))
    event = Calendar.from_ical(made).walk("VEVENT")[0]
    assert str(event["SUMMARY"]) == str(event["DESCRIPTION"]) == text


def test_the_waterml_holds_every_day_with_the_end_of_the_day_as_its_stamp(exported: Path) -> None:
    """Read with a general XML library; AveragePrec means that a stamp ends its interval (OGC 10-126r4)."""
    space = {"w": "http://www.opengis.net/waterml/2.0"}
    flow = load_workspace(DEMO).flows["system"]
    root = ET.parse(exported / "discharge-system.wml2.xml").getroot()
    points = root.findall(".//w:MeasurementTVP", space)
    assert len(points) == len(flow.frame)
    nil = "{http://www.w3.org/2001/XMLSchema-instance}nil"
    for i in (0, 1000, len(points) - 1):
        stamp = datetime.datetime.fromisoformat(str(points[i].findtext("w:time", namespaces=space)))
        assert stamp.date() == (flow.frame.index[i] + pd.Timedelta(days=1)).date() and stamp.hour == 0
        assert float(str(points[i].findtext("w:value", namespaces=space))) == pytest.approx(
            flow.values.iloc[i], rel=1e-5
        )
    missing = [p for p in points if (v := p.find("w:value", space)) is not None and v.get(nil) == "true"]
    assert len(missing) == int(flow.values.isna().sum()) > 0
    assert all(p.find(".//w:nilReason", space) is not None for p in missing)


def test_the_same_workspace_gives_the_same_bytes(exported: Path, tmp_path: Path) -> None:
    again = tmp_path / "again"
    assert main(["export", str(DEMO), "--out", str(again), "--visit", "2025-11-03"]) == 0
    assert {p.name: p.read_bytes() for p in again.iterdir()} == {p.name: p.read_bytes() for p in exported.iterdir()}


def test_a_folder_that_holds_something_is_left_alone(tmp_path: Path, capsys) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    assert main(["export", str(DEMO), "--out", str(tmp_path)]) == 2
    assert "a new or empty folder" in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]


def test_formulas_are_tamed_and_numbers_are_not() -> None:
    frame = pd.DataFrame({"note": ["=1+1", "-93.95", "+4.5e-3", "-cmd", "@x", "fine"]})
    cells = csv_bytes(frame).decode().splitlines()[1:]
    assert cells == ["'=1+1", "-93.95", "+4.5e-3", "'-cmd", "'@x", "fine"]


def test_the_answer_for_programs_names_the_files(tmp_path: Path, capsys) -> None:
    assert main(["export", str(DEMO), "--out", str(tmp_path / "e"), "--json", "--as-of", "2010-06-01"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["positions"] == "withheld" and set(answer["files"]) == {p.name for p in (tmp_path / "e").iterdir()}
    assert max(r["eventDate"] for r in rows(tmp_path / "e", "event.csv")) <= "2010-06-01"
