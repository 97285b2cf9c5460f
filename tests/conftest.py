"""Shared by all tests."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

# Quick by default; HYPOTHESIS_PROFILE=deep looks harder.
settings.register_profile("quick", max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("deep", max_examples=1000, deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "quick"))
