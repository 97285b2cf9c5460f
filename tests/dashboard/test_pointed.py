"""What a picture over days says of a day, and dry days by month as a table: the same numbers as in the answers."""

from __future__ import annotations

import json
import re

import lxml.html
import numpy as np
import pandas as pd
import pytest

from dashboard.figures.hydrograph import hydrograph
from dashboard.views.dry_months import as_html
from dashboard.wording.numbers import figures

FIRST = pd.Timestamp("2020-01-01")


def picture(values: list[float], *, unit: str = "m3/s", states: list[str] | None = None, **more: object) -> dict:
    days = pd.date_range(FIRST, periods=len(values), name="date")
    flow = pd.DataFrame({"discharge_m3s": values, "provisional": False, "bridged": False}, index=days)
    flow.loc[days[len(values) // 2] :, "provisional"] = True
    seen = pd.DataFrame(
        {"date": [days[1], days[1], days[3]], "surface": ["running", "", "dry"],
         "kind": ["counted", "searched-uncounted", "not-searched"], "count": [0, np.nan, np.nan]}
    )  # fmt: skip
    state = None if states is None else pd.Series(states, index=days)
    spells = pd.DataFrame({"first": [days[2]], "last": [days[3]]}) if states else None
    options = {"id": "ledge", "title": "Ledge", "flow": flow, "states": state, "spells": spells, "seen": seen,
               "first": days[0], "last": days[-1], "unit": unit, "stop_m3s": 1.0, "restart_m3s": None,
               "source": "set", **more}  # fmt: skip
    drawing = hydrograph(**options)  # type: ignore[arg-type]
    return json.loads(drawing.pointed)


def days_of(series: dict) -> list[int]:
    return np.cumsum(series["days"]).tolist()


@pytest.mark.parametrize(("unit", "per_m3s"), [("m3/s", 1.0), ("l/s", 1000.0), ("cfs", 1 / 0.028316846592)])
def test_every_day_is_said_once_with_three_figures_and_its_kind(unit, per_m3s):
    """ft³ in m³: 0.3048³, NIST Special Publication 811, appendix B.8."""
    values = [4.0, 3.6, np.nan, 3.0, 2.0, 1.2345, 1.1, 1.05]
    p = picture(values, unit=unit)
    said = {}
    for line in p["lines"]:
        for k, (day, text) in enumerate(zip(days_of(line), line["said"], strict=True)):
            text += line["after"] + line["notes"].get(str(k), "")
            assert said.setdefault(day, text) == text
    assert sorted(said) == [0, 1, 3, 4, 5, 6, 7]
    for day, text in said.items():
        assert text.startswith(figures(float(np.float32(values[day] * per_m3s))))
        assert text.endswith(", provisional") == (day >= 4)
    assert "e" not in said[0]  # not as a power of ten


def test_marks_and_spells_lie_on_their_days():
    p = picture([4.0, 3.6, 0.5, 0.6, 2.0, 1.5], states=["running", "running", "dry", "dry", "running", "unknown"])
    assert {m["said"]: days_of(m) for m in p["marks"]} == {
        "seen running": [1], "seen dry": [3], "searched, none found": [1], "searched, not counted": [1],
        "not searched": [3],
    }  # fmt: skip
    assert [(s["from"], s["to"]) for s in p["spans"]] == [([2], [3]), ([5], [5])]
    assert p["spans"][0]["said"] == ["dry 3 Jan 2020 to 4 Jan 2020: 2 days"]
    assert np.datetime64(p["first"], "D") == np.datetime64("2020-01-01") and p["days"] == 6


def test_the_picture_holds_every_mark_bar_and_label_of_the_figure():
    p = picture([4.0, 3.6, 0.5, 0.6, 2.0, 1.5], states=["running", "running", "dry", "dry", "running", "unknown"])
    svg = lxml.html.fromstring(p["svg"])
    places = [path.get("data-at").split(" ") for path in svg.xpath("//path[@data-at]")]
    # Seen running, seen dry, none found, not counted (an open mark and its dot), not searched.
    assert [len(at) for at in places] == [1, 1, 1, 1, 1, 1]
    shares = sorted({float(at[0].split(",")[0]) for at in places})
    assert shares == pytest.approx([100 / 6, 300 / 6], abs=0.006)
    bars = [(r.get("x"), r.get("width")) for r in svg.xpath("//rect")]
    assert bars == [("33.333%", "33.333%"), ("33.333%", "33.333%"), ("83.333%", "16.667%")]  # the hatch over its bar
    labels = [t.text for t in svg.xpath("//text")]
    assert {"seen", "visits", "dry", "1 Jan", "?"} <= set(labels)
    assert any(t.startswith("stops below 1.00") for t in labels)


@pytest.mark.parametrize(("years", "labels"), [(1, "Mar 2020"), (3, "Jul 2020"), (30, "2025")])
def test_long_spans_are_labelled_by_round_months_or_years(years, labels):
    p = picture([2.0] * (365 * years))
    found = re.findall(r">((?:[A-Z][a-z]{2} )?\d{4})</text>", p["svg"])
    assert labels in found
    assert 3 <= len(found) <= 8


def test_names_from_files_are_never_taken_for_markup_here_either():
    name = '"><script>alert(1)</script>'
    p = picture(
        [2.0, 2.0, 0.5, 0.5, 2.0, 2.0], states=["running"] * 2 + ["dry"] * 2 + ["running"] * 2, title=name, id=name
    )
    assert "<script" not in p["svg"]
    pattern = re.search(r'<pattern id="([^"]+)"', p["svg"])[1]
    assert re.fullmatch(r"[a-z0-9-]+", pattern) and f"url(#{pattern})" in p["svg"]


def test_dry_days_by_month_and_year_are_those_of_the_record():
    days = pd.date_range("2019-12-30", "2021-02-02")
    states = pd.Series("running", index=days)
    states.loc["2020-03-05":"2020-04-02"] = "dry"
    states.loc["2020-06-30":"2020-07-01"] = "unknown"
    by_year = pd.DataFrame(
        {"dry_days": [0, 29, 0], "unknown_days": [0, 2, 0]}, index=pd.Index([2019, 2020, 2021], name="year")
    )
    table = lxml.html.fromstring(as_html(states, by_year, alt="<b>dry</b> days"))
    rows = [[c.text_content().strip() for c in tr.xpath("./th|./td")] for tr in table.xpath("//tbody/tr")]
    assert rows[0] == ["2019", *[""] * 11, "·", "·"]
    assert rows[1] == ["2020", "·", "·", "27", "2", "·", "?", "?", "·", "·", "·", "·", "·", "29?"]
    assert rows[2] == ["2021", "·", "·", *[""] * 10, "·"]
    june = table.xpath("//tbody/tr[2]/td[6]")[0]
    assert june.get("title") == "0 dry days, 1 day not known, 30 days on record"
    assert "not-known" in june.get("class")
    assert table.get("aria-label") == "<b>dry</b> days"
    wide = [float(re.search(r"width:([\d.]+)%", i.get("style"))[1]) for i in table.xpath("//i")]
    assert wide[1] / wide[0] == pytest.approx(2 / 29, abs=0.002)
