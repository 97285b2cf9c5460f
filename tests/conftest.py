"""Shared by all tests."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

# Quick by default; HYPOTHESIS_PROFILE=deep looks harder. On a build machine the examples are the same in every run, so
# that a red build means a changed program and not a lucky find; new examples are searched for at the desk.
settings.register_profile("quick", max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("build", parent=settings.get_profile("quick"), derandomize=True)
settings.register_profile("deep", max_examples=1000, deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "build" if os.environ.get("CI") else "quick"))
