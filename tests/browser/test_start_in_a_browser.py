"""From nothing to a saved workspace in a real browser: `serve` on a folder that is not there, and no terminal after."""

from __future__ import annotations

import shutil
import tomllib

import pytest

from tests.browser.conftest import DEMO, DESKTOP, PHONE, Tab, serious, serving

pytestmark = pytest.mark.browser
LEAVE_OUT = "Leave this file out"


def field(t: Tab, which: int):
    return t.page.locator('[data-testid="stFileUploader"] input[type=file]').nth(which)


def test_from_nothing_to_a_saved_workspace_on_a_phone(chromium, tmp_path):
    target = tmp_path / "springs"
    with serving(target, tmp_path / "log.txt") as address:
        context = chromium.new_context(**PHONE, color_scheme="light", timezone_id="Etc/GMT+6", locale="en-GB")
        t = Tab(context.new_page(), address)
        t.open("/")
        main = t.page.get_by_test_id("stMain")
        assert main.get_by_role("heading", level=1).inner_text() == "Start"
        t.act(lambda: field(t, 0).set_input_files(str(DEMO / "discharge" / "lower_daily.csv")))
        main.get_by_text("lower_daily.csv: daily values").wait_for()
        t.act(lambda: field(t, 1).set_input_files(str(DEMO / "visits.csv")))
        main.get_by_text("visits to 4 outlets").wait_for()
        main.get_by_text("ledge stops at about").wait_for()
        assert t.sideways() == 0
        assert serious(t.page) == []
        level = t.page.get_by_label("Stops below, L/s").first
        level.fill("260")
        t.act(lambda: level.press("Enter"))
        main.get_by_text("Stopping below 260").wait_for()
        slider = t.page.get_by_role("slider").first
        slider.focus()
        t.act(lambda: slider.press("ArrowRight"))
        slid = float(level.input_value())
        assert 260 < slid < 275
        t.picture("start-phone-light", 4200)
        assert not target.exists()
        t.act(lambda: t.page.get_by_role("button", name="Save the workspace").click())
        main.get_by_role("heading", name="Is it running?").wait_for()
        saved = tomllib.loads((target / "workspace.toml").read_text(encoding="utf-8"))
        assert saved["time_zone"] == "Etc/GMT+6"
        assert saved["outlets"]["ledge"] == {"flow": "system", "stops_below": f"{slid:g} l/s"}
        assert (target / "visits.csv").read_bytes() == (DEMO / "visits.csv").read_bytes()
        # The dashboard is now on it: also for somebody who comes anew.
        t.open("/dry")
        main.get_by_role("heading", name="When was it dry?").wait_for()
        assert t.wrong == []
        context.close()


def test_a_file_that_was_dropped_outlives_a_change_of_page_and_can_be_replaced(chromium, tmp_path):
    folder = tmp_path / "springs"
    shutil.copytree(DEMO, folder)
    with serving(folder, tmp_path / "log.txt") as address:
        t = Tab(chromium.new_context(**DESKTOP, color_scheme="dark").new_page(), address)
        t.open("/start")
        main = t.page.get_by_test_id("stMain")
        own = b"Day,flow\n13/02/2020,3\n14/02/2020,4\n15/02/2020,5\n"
        t.act(lambda: field(t, 0).set_input_files({"name": "../own.csv", "mimeType": "text/csv", "buffer": own}))
        main.get_by_text("own.csv was read as delimited text").wait_for()
        t.act(lambda: field(t, 1).set_input_files({"name": "v.csv", "mimeType": "text/csv", "buffer": b"a,b\n1,2\n"}))
        main.get_by_text("v.csv has 1 row").wait_for()
        assert serious(t.page) == []
        t.picture("start-desktop-dark", 2400)
        t.act(lambda: main.get_by_role("link", name="Is it running?").click())
        t.act(lambda: main.get_by_role("link", name="Start", exact=False).last.click())
        main.get_by_text("own.csv was read as delimited text").wait_for()
        main.get_by_text("v.csv has 1 row").wait_for()
        t.act(lambda: main.get_by_role("button", name=LEAVE_OUT).first.click())
        assert main.get_by_text("own.csv").count() == 0
        text = b"date,outlet\n2020-02-14,ledge\n"
        t.act(lambda: field(t, 1).set_input_files({"name": "w.csv", "mimeType": "text/csv", "buffer": text}))
        main.get_by_text("w.csv: 1 visit to 1 outlet").wait_for()
        assert main.get_by_text("v.csv has").count() == 0
        assert t.wrong == []
        assert sorted(p.name for p in tmp_path.iterdir()) == ["log.txt", "springs"]
        t.page.context.close()
