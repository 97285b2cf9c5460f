"""Two people in two browsers, each sending 50 visits at the same moments as the other: none lost, none doubled.

Run: python -m tests.benchmarks.bench_two_people [EACH]
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from pathlib import Path

from tests.browser.conftest import ARGUMENTS, DEMO, Tab, find_chromium, serving
from tests.browser.test_write_down_in_a_browser import at_once


def main() -> None:
    from playwright.sync_api import sync_playwright

    each = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_chromium(), headless=True, args=list(ARGUMENTS))
        springs = Path(folder) / "springs"
        shutil.copytree(DEMO, springs)
        start = time.perf_counter()
        with serving(springs, Path(folder) / "log.txt") as address:
            at_once([Tab(browser.new_context().new_page(), address) for _ in range(2)], springs, each)
        print(f"two people, {each} visits each at once: none lost, none doubled, {time.perf_counter() - start:.0f} s")
        browser.close()


if __name__ == "__main__":
    main()
