"""The report as a file: drawn without a network, printed by a browser, and made from its page."""

from __future__ import annotations

import html
from pathlib import Path

import pytest

from dashboard.report.assemble import make_report
from dashboard.report.html_page import report_html
from dashboard.report.save import save_report
from dashboard.workspace import load_workspace
from tests.browser.conftest import ARTEFACTS, DEMO

pytestmark = pytest.mark.browser


def test_the_file_draws_all_its_pictures_asks_nobody_and_prints(chromium, tmp_path: Path) -> None:
    report = make_report(load_workspace(DEMO))
    path = tmp_path / "report.html"
    path.write_text(report_html(report), encoding="utf-8")
    page = chromium.new_context(viewport={"width": 900, "height": 1200}).new_page()
    asked: list[str] = []
    wrong: list[str] = []
    page.on("request", lambda r: asked.append(r.url))
    page.on("pageerror", lambda e: wrong.append(str(e)))
    page.on("console", lambda m: wrong.append(m.text) if m.type == "error" else None)
    page.goto(path.as_uri())
    n = sum(len(s.plates) for s in report.sections)
    page.wait_for_function(f"document.querySelectorAll('figure .main-svg').length >= {n}", timeout=60_000)
    drawn = page.evaluate("[...document.querySelectorAll('figure')].filter(f => f.querySelector('.main-svg')).length")
    assert drawn == n and wrong == [] and asked == [path.as_uri()]
    assert page.locator("path.pattern_filled").count() > 20
    assert (
        page.evaluate("[...document.querySelectorAll('path.pattern_filled')].filter(p => p.style.fill.includes('url'))")
        == []
    )
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") == 0
    page.context.close()
    saved = save_report(report, ARTEFACTS / "report.html")
    assert saved.left_out == () and saved.html.read_bytes() == path.read_bytes() and saved.pdf is not None
    printed = saved.pdf.read_bytes()
    assert len(printed) > 200_000 and printed.startswith(b"%PDF-") and b"/StructTreeRoot" in printed
    assert b"/Subtype /Image" not in printed, "hatching and all else is drawn, not painted"


def test_a_drop_is_explained_and_its_report_downloaded(tab, tmp_path: Path) -> None:
    """From the page about the drop, by its link, to a report of these very days about the outlet that was judged."""
    t = tab()
    days = "judged-from=2022-05-01&judged-to=2022-12-19&baseline-from=2020-05-01&baseline-to=2020-12-19"
    t.open(f"/drop?unit=l/s&{days}")
    said = t.page.get_by_test_id("stMain").locator("p", has_text="Ledge outlet, ").first.inner_text()
    assert "1 May 2022 to 19 Dec 2022" in said and "1 May 2020 to 19 Dec 2020" in said
    t.act(lambda: t.page.get_by_test_id("stMain").get_by_role("link", name="Into a report for the meeting").click())
    t.page.get_by_role("heading", name="What do we tell the meeting?", level=1).wait_for()
    assert t.page.get_by_text("Explain the counts of these days").is_visible()
    t.picture("report-of-a-drop-desktop-light", 1200)
    t.act(lambda: t.page.get_by_role("button", name="Make the report").click(), timeout=120)
    with t.page.expect_download(timeout=60_000) as started:
        t.page.get_by_role("button", name="Report (HTML)").click()
    text = Path(started.value.path()).read_text(encoding="utf-8")
    assert "Sun 1 May 2022 to Mon 19 December 2022" in text and "l/s" in text
    assert html.escape(said) in text
    assert t.page.get_by_role("button", name="Slides (PPTX)").is_visible()
    assert t.wrong == []
