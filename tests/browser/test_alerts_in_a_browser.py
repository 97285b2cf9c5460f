"""Looking at what was raised, and writing down that somebody has seen to it, as a person does it."""

from __future__ import annotations

import pytest

from dashboard.watch.acknowledged import read_acknowledged
from tests.browser.conftest import serving
from tests.dashboard.watch.conftest import FEED, RULES, Springs

pytestmark = pytest.mark.browser


def watched(folder):
    """A workspace on which a warning was raised 3 days before a stop."""
    from dashboard.watch.one_pass import run_pass

    folder.mkdir()
    springs = Springs(folder).settings(RULES + "promised = { lead_days = 2, hit_rate = 0.9 }\n", FEED)
    springs.record(*[80.0] * 10)
    for block in ([50.0, 48.0, 45.0], [30.0, 30.0], [70.0] * 3):
        run_pass(folder, environment={}, now=springs.now)
        springs.record(block[0])
        run_pass(folder, environment={}, now=springs.now)
        springs.record(*block[1:])
    path = folder / "workspace.toml"
    path.write_text(f'as_of = "{springs.day(len(springs.values)):%Y-%m-%d}"\n' + path.read_text())
    return folder


def test_an_alert_is_seen_to_on_a_phone_and_the_page_says_so(tab, tmp_path):
    folder = watched(tmp_path / "springs")
    with serving(folder, tmp_path / "log.txt") as address:
        t = tab("phone", "dark", address=address)
        t.open("/alerts")
        main = t.page.get_by_test_id("stMain")
        assert "1 warning of a stop among them: 1 in time." in main.inner_text()
        assert t.page.locator('[data-testid="stPlotlyChart"] .main-svg').count() >= 1
        assert t.sideways() == 0
        t.picture("alerts-phone-dark", 3200)
        t.page.get_by_text("I have seen to an alert").click()
        t.page.get_by_label("Your name").fill("Ilse Brandt")
        t.act(t.page.get_by_role("button", name="Write it down").click)
        t.page.get_by_text("seen to by Ilse Brandt").first.wait_for()
        assert [r.by for r in read_acknowledged(folder)] == ["Ilse Brandt"]
        assert t.wrong == []
