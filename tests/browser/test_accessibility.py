"""No serious finding of axe-core (WCAG 2.0 and 2.1, A and AA) on any page, in light and in dark.

Judge: axe-core, as the package axe-playwright-python carries it.
"""

from __future__ import annotations

import pytest

from dashboard.app import PAGES

pytestmark = pytest.mark.browser

RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"], "resultTypes": ["violations"]}


def findings(page, scheme: str) -> list[str]:
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, options=RULES).response["violations"]
    return [
        f"{v['id']} ({v['impact']}) {scheme}: {n['target']} {n['html'][:160]} {n.get('failureSummary', '')[:200]}"
        for v in found
        if v["impact"] in ("serious", "critical")
        for n in v["nodes"]
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_has_no_serious_finding_on_any_page(tab, scheme):
    t = tab("desktop", scheme)
    serious = []
    for page in PAGES:
        t.open(f"/{page.address}")
        serious += [f"/{page.address}: {line}" for line in findings(t.page, scheme)]
    assert serious == [], "\n".join(serious)
