"""Shared by all tests."""

from __future__ import annotations

import os
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# Quick by default; HYPOTHESIS_PROFILE=deep looks harder. On a build machine the examples are the same in every run, so
# that a red build means a changed program and not a lucky find; new examples are searched for at the desk.
settings.register_profile("quick", max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("build", parent=settings.get_profile("quick"), derandomize=True)
settings.register_profile("deep", max_examples=1000, deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "build" if os.environ.get("CI") else "quick"))

#: Parts in the order in which they are begun: at the end of the queue one processor has nothing to do while the other
#: ends its last file, so those with many small files come last. A part that is not named here comes first.
BEGUN = ("browser", "dashboard", "published", "properties", "demo_data", "ecology", "hydro")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    tests = Path(__file__).parent

    def place(item: pytest.Item) -> int:
        part = item.path.relative_to(tests).parts[0]
        return BEGUN.index(part) if part in BEGUN else -1

    items.sort(key=place)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """On a build machine, say which files took longest: seconds by the clock, all their tests and fixtures."""
    if not os.environ.get("CI"):
        return
    seconds: Counter[str] = Counter()
    for reports in terminalreporter.stats.values():
        for report in reports:
            if isinstance(report, pytest.TestReport):
                seconds[report.nodeid.split("::")[0]] += report.duration
    if len(seconds) > 1:
        terminalreporter.section("slowest files")
        for name, took in seconds.most_common(15):
            terminalreporter.write_line(f"{took:7.1f} s  {name}")
