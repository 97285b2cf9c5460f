"""An alert as data for a program: what a web address that takes JSON gets."""

from __future__ import annotations

from dashboard.answers.answer import METHOD_VERSION, quantity
from dashboard.watch.alert import Alert
from dashboard.wording import cautions
from dashboard.workspace_settings import WorkspaceFile


def payload(alert: Alert, settings: WorkspaceFile, *, title: str, text: str) -> dict[str, object]:
    """Quantities in the display unit; `id` is the same in every attempt. Nothing in it names a file or an address."""
    unit = settings.display_unit
    level = None if alert.level_m3s is None else quantity(alert.level_m3s, unit)
    discharge = None
    if alert.discharge_m3s is not None:
        discharge = quantity(alert.discharge_m3s, unit) | {
            "date": alert.reading_day,
            "provisional": alert.provisional,
            "error_percent": alert.error_percent,
        }
    return {
        "id": alert.id,
        "test": False,
        "workspace": settings.title,
        "outlet": alert.outlet,
        "outlet_title": alert.title,
        "kind": alert.kind,
        "since": alert.since,
        "raised_at": alert.raised_at,
        "level": level,
        "discharge": discharge,
        "probability_running": alert.probability_running,
        "probability_stopping": alert.probability_stopping,
        "within_days": alert.within_days,
        "title": title,
        "text": text,
        "cautions": [cautions.PROVISIONAL, cautions.NOT_A_WARNING],
        "method_version": METHOD_VERSION,
    }
