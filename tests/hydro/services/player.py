"""Local servers that play the gauge services. Stations and values are invented; layouts are the services' own."""

from __future__ import annotations

import datetime
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from urllib.parse import urlencode

from pytest_httpserver import HTTPServer
from werkzeug import Request, Response

Day = datetime.date
STATION = "09999999"
NOW = datetime.datetime(2024, 3, 10, 12, 0, tzinfo=datetime.UTC)


def days(first: str, last: str) -> list[Day]:
    a, b = Day.fromisoformat(first), Day.fromisoformat(last)
    return [a + datetime.timedelta(days=i) for i in range((b - a).days + 1)]


def as_json(document: object, status: int = 200, **headers: str) -> Response:
    return Response(json.dumps(document), status, {"Content-Type": "application/json", **headers})


@dataclass
class Player:
    """A service of one station. `values` are by time as text; `upset` may answer in the service's place.

    `upset` is called with the number of the request (from 1) and the request; None lets the service answer.
    """

    server: HTTPServer
    values: dict[str, str | None]
    page_rows: int = 1000
    upset: Callable[[int, Request], Response | None] = lambda n, request: None
    approval: str | None = "Provisional"
    qualifiers: dict[str, object] = field(default_factory=dict)
    asked: list[Request] = field(default_factory=list)
    listed: list[dict[str, object]] = field(default_factory=list)

    def start(self) -> None:
        self.server.expect_request("/ogcapi/v0/collections/daily/items").respond_with_handler(self._us)
        self.server.expect_request("/ogcapi/v0/collections/continuous/items").respond_with_handler(self._us)
        measure = f"/hydrology/id/measures/{STATION}-flow-m-86400-m3s-qualified/readings.json"
        self.server.expect_request(measure).respond_with_handler(self._england)
        self.server.expect_request("/api/v2/hydrometrie/obs_elab").respond_with_handler(self._france)
        self.server.expect_request("/api/v2/hydrometrie/observations_tr").respond_with_handler(self._france)
        self.server.expect_request("/ogcapi/v0/collections/time-series-metadata/items").respond_with_handler(self._list)

    @property
    def host(self) -> str:
        return self.server.url_for("").rstrip("/")

    def _upset(self, request: Request) -> Response | None:
        self.asked.append(request)
        return self.upset(len(self.asked), request)

    def _within(self, first: str, last: str) -> list[tuple[str, str]]:
        # Times are compared as texts, as the services' own filters do; a day's end is behind every time of the day.
        return [(t, v) for t, v in sorted(self.values.items()) if first <= t and t[: len(last)] <= last]

    def _us(self, request: Request) -> Response:
        upset = self._upset(request)
        if upset is not None:
            return upset
        continuous = "continuous" in request.path
        first, last = request.args["time"].split("/")
        if continuous:
            assert (Day.fromisoformat(last[:10]) - Day.fromisoformat(first[:10])).days < 3 * 366, "at most three years"
        found = self._within(first[:10], last[:10])
        start = int(request.args.get("cursor", 0))
        part = found[start : start + self.page_rows]
        features = [self.feature(t, v, continuous) for t, v in part]
        features.reverse()  # the order of an answer is not given
        links = []
        if start + len(part) < len(found):
            more = dict(request.args) | {"cursor": str(start + len(part))}
            links = [{"rel": "next", "href": f"{self.host}{request.path}?{urlencode(more)}"}]
        return as_json({"type": "FeatureCollection", "features": features, "numberReturned": len(part), "links": links})

    def feature(self, time: str, value: str, continuous: bool = False, **other: object) -> dict[str, object]:
        return {
            "type": "Feature",
            "id": f"id-{len(self.asked)}-{time}",  # another one with every answer
            "geometry": None,
            "properties": {
                "time_series_id": "aa11",
                "monitoring_location_id": f"USGS-{STATION}",
                "parameter_code": "00060",
                "statistic_id": "00011" if continuous else "00003",
                "time": time,
                "value": value,
                "unit_of_measure": "ft^3/s",
                "approval_status": self.approval,
                "qualifier": self.qualifiers.get(time),
                "last_modified": "2024-03-01T00:00:00+00:00",
                **other,
            },
        }

    def _england(self, request: Request) -> Response:
        upset = self._upset(request)
        if upset is not None:
            return upset
        found = self._within(request.args["mineq-date"], request.args["maxeq-date"])
        start = int(request.args["_offset"])
        part = found[start : start + min(int(request.args["_limit"]), self.page_rows)]
        measure = {"@id": f"http://service.example/measures/{STATION}-flow-m-86400-m3s-qualified"}
        items = [
            {"measure": measure, "date": t, "dateTime": f"{t}T00:00:00", "quality": "Good"}
            | ({"value": float(v)} if v else {"quality": "Missing"})
            for t, v in part
        ]
        return as_json({"meta": {"limit": self.page_rows}, "items": items})

    def _france(self, request: Request) -> Response:
        upset = self._upset(request)
        if upset is not None:
            return upset
        now = request.path.endswith("observations_tr")
        first, last = (request.args[f"date_{end}_obs{'' if now else '_elab'}"] for end in ("debut", "fin"))
        # By default the newest value comes first.
        found = self._within(first, last)[::-1]
        start = int(request.args.get("cursor", 0))
        part = found[start : start + self.page_rows]
        following = None
        if start + len(part) < len(found):
            more = dict(request.args) | {"cursor": str(start + len(part))}
            following = f"{self.host}{request.path}?{urlencode(more)}"
        data = [self._observation(t, v) if now else self._elaborated(t, v) for t, v in part]
        return as_json({"count": len(found), "next": following, "data": data}, 206 if following else 200)

    def _elaborated(self, time: str, value: str) -> dict[str, object]:
        return {
            "code_site": STATION[:-2],
            "code_station": STATION,
            "grandeur_hydro_elab": "QmnJ",
            "date_obs_elab": time,
            "resultat_obs_elab": float(value),
            "code_statut": "16",
            "code_qualification": "20",
            "libelle_methode": "Mesure",
        }

    def _observation(self, time: str, value: str) -> dict[str, object]:
        return {
            "code_site": STATION[:-2],
            "code_station": STATION,
            "grandeur_hydro": "Q",
            "date_obs": time,
            "resultat_obs": float(value),
            "code_statut": 4,
            "libelle_statut": "Donnée brute",
            "code_qualification_obs": 20,
            "libelle_qualification_obs": "Bonne",
        }

    def _list(self, request: Request) -> Response:
        upset = self._upset(request)
        if upset is not None:
            return upset
        features = [{"type": "Feature", "geometry": None, "properties": p} for p in self.listed]
        return as_json({"type": "FeatureCollection", "features": features, "links": []})
