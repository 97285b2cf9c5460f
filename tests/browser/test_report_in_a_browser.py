"""The report as a file: drawn without a network, printed by a browser, and made from its page."""

from __future__ import annotations

from pathlib import Path

import pytest

from dashboard.report.assemble import make_report
from dashboard.report.browser import write_pdf
from dashboard.report.html_page import report_html
from dashboard.workspace import load_workspace
from tests.browser.conftest import ARTEFACTS, DEMO, find_chromium

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
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") == 0
    page.context.close()
    browser = find_chromium()
    assert browser is not None
    ARTEFACTS.mkdir(exist_ok=True)
    assert write_pdf(path, ARTEFACTS / "report.pdf", browser) is None
    assert (ARTEFACTS / "report.pdf").stat().st_size > 200_000


def test_the_page_makes_a_report_of_the_days_chosen(tab, tmp_path: Path) -> None:
    t = tab()
    t.open("/report?period=1y&unit=l/s")
    t.act(lambda: t.page.get_by_role("button", name="Make the report").click(), timeout=120)
    with t.page.expect_download(timeout=60_000) as started:
        t.page.get_by_role("button", name="Report (HTML)").click()
    text = Path(started.value.path()).read_text(encoding="utf-8")
    assert "Sun 20 October 2024 to Sun 19 October 2025" in text and "l/s" in text
    assert t.page.get_by_role("button", name="Slides (PPTX)").is_visible()
    assert t.wrong == []
