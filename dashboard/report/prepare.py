"""What a second process imports while the first one reads the workspace."""

from __future__ import annotations


def prepare() -> None:
    import dashboard.report.assemble  # noqa: F401
