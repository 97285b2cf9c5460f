"""Time zones by their IANA names: which are known, this machine's own, and what day it is there."""

from __future__ import annotations

import datetime
import os
import zoneinfo
from pathlib import Path

import pandas as pd


def known_zone(name: str) -> bool:
    try:
        zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def today_in(zone: str) -> pd.Timestamp:
    return pd.Timestamp(datetime.datetime.now(zoneinfo.ZoneInfo(zone)).date())


def machine_zone() -> str:
    """The IANA name of this machine's zone, UTC where it cannot be told."""
    named = os.environ.get("TZ", "").lstrip(":")
    if named:
        return named
    link = Path("/etc/localtime")
    parts = str(link.resolve()).split("zoneinfo/") if link.exists() else []
    return parts[1] if len(parts) == 2 else "UTC"
