"""Visits and captures as Darwin Core: events, occurrences, measurements, and the Humboldt extension for effort.

A visit that searched and found none is an event with an occurrence `notDetected`; a visit to a dry outlet is an event
with a measurement and no occurrence: nothing was searched. Terms: Darwin Core (TDWG, rs.tdwg.org/dwc/terms) and the
Humboldt Extension (rs.tdwg.org/eco/terms). The recommended values of occurrenceStatus have been detected and
notDetected since May 2026; receivers that still check the older present and absent can be given those.
"""

from __future__ import annotations

from dataclasses import asdict

import numpy as np
import pandas as pd

from dashboard.export.places import Place, place_of
from dashboard.workspace import Workspace

NEW_STATUS = ("detected", "notDetected")
OLD_STATUS = ("present", "absent")
_PLACE = tuple(Place.__dataclass_fields__)
EVENT = ("eventID", "eventType", "eventDate", "eventTime", "locationID", "locality", "habitat", "samplingProtocol",
         "samplingEffort", "fieldNotes", *_PLACE)  # fmt: skip
OCCURRENCE = ("occurrenceID", "eventID", "basisOfRecord", "scientificName", "vernacularName", "individualCount",
              "occurrenceStatus", "organismID", "lifeStage", "reproductiveCondition", "recordedBy",
              "occurrenceRemarks")  # fmt: skip
MEASUREMENT = ("measurementID", "eventID", "measurementType", "measurementValue", "measurementUnit",
               "measurementDeterminedDate", "measurementMethod", "measurementRemarks")  # fmt: skip
HUMBOLDT = ("eventID", "isAbsenceReported", "isAbundanceReported", "isSamplingEffortReported", "samplingEffortValue",
            "samplingEffortUnit", "inventoryTypes", "targetTaxonomicScope", "isTaxonomicScopeFullyReported",
            "samplingPerformedBy", "isLeastSpecificTargetCategoryQuantityInclusive")  # fmt: skip
PROTOCOL = "turning cover and counting animals seen at the surface of a spring outlet"
DISCHARGE_NAME = "water_volume_transport_in_river_channel"  # CF standard name
_PARTS = ("adults", "juveniles", "gravid")


def darwin_core(workspace: Workspace, *, places: str, old_status: bool = False) -> dict[str, pd.DataFrame]:
    """Tables event, occurrence, measurement and humboldt, all text, of the visits and captures on record.

    places       "withheld", "grid" or "exact"
    old_status   write present and absent
    """
    events, occurrences, measurements, efforts = [], [], [], []
    visits = pd.DataFrame() if workspace.visits is None else workspace.visits.frame
    where = {id: asdict(place_of(workspace.settings.positions.get(id), places)) for id in workspace.outlets}
    status = OLD_STATUS if old_status else NEW_STATUS
    known: dict[tuple[pd.Timestamp, str], str] = {}
    for row in visits.to_dict("records"):
        id = f"visit-{row['row']}"
        known.setdefault((row["date"], row["outlet"]), id)
        events.append(_event(workspace, id, row, where[row["outlet"]]))
        efforts.append(_effort(workspace, id, row))
        measurements += _measurements(workspace, id, row)
        if row["kind"] == "counted":
            occurrences.append(_counted(workspace, id, row, status))
    if workspace.captures is not None:
        for row in workspace.captures.frame.to_dict("records"):
            event = known.get((row["date"], row["outlet"]))
            if event is None:  # animals were handled on a day without a visit in the visits table
                event = f"handling-{row['date']:%Y-%m-%d}-{row['outlet']}"
                known[row["date"], row["outlet"]] = event
                events.append(_event(workspace, event, row, where[row["outlet"]]))
            occurrences.append(_captured(workspace, event, row, status))
            measurements += _length(event, row)
    return {
        "event": pd.DataFrame(events, columns=list(EVENT)),
        "occurrence": pd.DataFrame(occurrences, columns=list(OCCURRENCE)),
        "measurement": pd.DataFrame(measurements, columns=list(MEASUREMENT)),
        "humboldt": pd.DataFrame(efforts, columns=list(HUMBOLDT)),
    }


def _event(workspace: Workspace, id: str, row: dict[str, object], place: dict[str, str]) -> dict[str, str]:
    effort = _text(row.get("effort"))
    return {
        "eventID": id,
        "eventType": "siteVisit",
        "eventDate": f"{row['date']:%Y-%m-%d}",
        "eventTime": _text(row.get("time")),
        "locationID": str(row["outlet"]),
        "locality": workspace.outlets[str(row["outlet"])].title,
        "habitat": "spring outlet",
        "samplingProtocol": PROTOCOL if row.get("kind") in ("counted", "searched-uncounted") else "",
        "samplingEffort": f"{effort} {workspace.settings.surveys.effort_unit}" if effort else "",
        "fieldNotes": _text(row.get("note")) if "kind" in row else "",
        **place,
    }


def _counted(workspace: Workspace, id: str, row: dict[str, object], status: tuple[str, str]) -> dict[str, str]:
    return {
        **_animal(workspace),
        "occurrenceID": f"{id}-count",
        "eventID": id,
        "individualCount": _text(row["count"]),
        "occurrenceStatus": status[0] if float(str(row["count"])) > 0 else status[1],
        "scientificName": _text(row.get("taxon")) or workspace.settings.surveys.scientific_name or "",
        "recordedBy": _people(row.get("observers")),
    }


def _captured(workspace: Workspace, id: str, row: dict[str, object], status: tuple[str, str]) -> dict[str, str]:
    return {
        **_animal(workspace),
        "occurrenceID": f"capture-{row['row']}",
        "eventID": id,
        "individualCount": "1",
        "occurrenceStatus": status[0],
        "organismID": str(row["individual"]),
        "lifeStage": _text(row["stage"]),
        "reproductiveCondition": "gravid" if row["gravid"] == "yes" else "",
        "occurrenceRemarks": _text(row["note"]),
    }


def _animal(workspace: Workspace) -> dict[str, str]:
    s = workspace.settings.surveys
    return {
        "basisOfRecord": "HumanObservation",
        "scientificName": s.scientific_name or "",
        "vernacularName": s.animal or "",
    }


def _effort(workspace: Workspace, id: str, row: dict[str, object]) -> dict[str, str]:
    searched = row["kind"] in ("counted", "searched-uncounted")
    counted, effort = row["kind"] == "counted", _text(row["effort"])
    return {
        "eventID": id,
        "isAbsenceReported": _truth(counted and row["count"] == 0),
        "isAbundanceReported": _truth(counted),
        "isSamplingEffortReported": _truth(bool(effort)),
        "samplingEffortValue": effort,
        "samplingEffortUnit": workspace.settings.surveys.effort_unit if effort else "",
        "inventoryTypes": "restrictedSearch" if searched else "",
        "targetTaxonomicScope": workspace.settings.surveys.scientific_name or workspace.settings.surveys.animal or "",
        "isTaxonomicScopeFullyReported": _truth(counted),
        "samplingPerformedBy": _people(row["observers"]),
        # Where stages are listed too, the count of the visit holds them.
        "isLeastSpecificTargetCategoryQuantityInclusive": _truth(True) if counted else "",
    }


def _measurements(workspace: Workspace, id: str, row: dict[str, object]) -> list[dict[str, str]]:
    """The water and the animals of a visit, one row a number."""
    day, outlet = pd.Timestamp(str(row["date"])), str(row["outlet"])
    flow, dry = workspace.flow_of(outlet), workspace.dry_spells[outlet]
    found: list[tuple[str, str, str, str, str]] = []
    if row["surface"]:
        found.append(("surface seen", str(row["surface"]), "", "seen by a person", ""))
    if not flow.empty and day in flow.frame.index and not np.isnan(flow.values[day]):
        provisional = "provisional, may still be revised" if flow.frame.loc[day, "provisional"] else ""
        method = f"combined daily mean discharge of {flow.title} (CF: {DISCHARGE_NAME})"
        found.append(("discharge", f"{flow.values[day]:.6g}", "m3 s-1", method, provisional))
        if dry is not None and day in dry.states.index:
            level = workspace.outlets[outlet].stops_below
            found.append(
                ("outlet state by flow", str(dry.states[day]), "", f"dry when discharge < {level}", provisional)
            )
    if _text(row["water_temp_c"]):
        found.append(("water temperature", _text(row["water_temp_c"]), "degrees Celsius", "measured at the visit", ""))
    found += [(f"{part} counted", _text(row[part]), "individuals", PROTOCOL, "") for part in _PARTS if _text(row[part])]
    return [
        {
            "measurementID": f"{id}-{name.replace(' ', '-')}",
            "eventID": id,
            "measurementType": name,
            "measurementValue": value,
            "measurementUnit": unit,
            "measurementDeterminedDate": f"{day:%Y-%m-%d}",
            "measurementMethod": method,
            "measurementRemarks": remark,
        }
        for name, value, unit, method, remark in found
    ]


def _length(event: str, row: dict[str, object]) -> list[dict[str, str]]:
    length = _text(row["length_mm"])
    if not length:
        return []
    return [
        {
            "measurementID": f"capture-{row['row']}-length",
            "eventID": event,
            "measurementType": "body length",
            "measurementValue": length,
            "measurementUnit": "mm",
            "measurementDeterminedDate": f"{row['date']:%Y-%m-%d}",
            "measurementMethod": "",
            "measurementRemarks": f"organism {row['individual']}",
        }
    ]


def _text(value: object) -> str:
    """A cell as text; blank where nothing was recorded, whole numbers without a point."""
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, float):
        return f"{value:g}" if abs(value) < 1e6 else f"{value:.0f}"
    return str(value)


def _truth(value: bool) -> str:
    return "true" if value else "false"


def _people(value: object) -> str:
    """Several names with the standard's separator."""
    return " | ".join(name.strip() for name in str(value or "").replace("|", ";").split(";") if name.strip())
