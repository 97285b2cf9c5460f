"""The history of alerts as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.answers.answer import iso, quantity
from dashboard.watch.tally import LEVEL, Share, Tally

if TYPE_CHECKING:
    from dashboard.answers.alert_history import HistoryRow


def row_json(r: HistoryRow, unit: str) -> dict[str, object]:
    """One alert, quantities in `unit`."""
    a = r.alert
    discharge: dict[str, object] | None = None
    if a.discharge_m3s is not None:
        discharge = quantity(a.discharge_m3s, unit) | {"date": a.reading_day, "provisional": a.provisional}
    after = None
    if r.outcome is not None:
        after = {
            "outcome": r.outcome.word,
            "stopped": iso(r.outcome.stopped),
            "lead_days": r.outcome.lead_days,
            "notice_days": r.outcome.notice_days,
        }
    return {
        "id": a.id,
        "outlet": a.outlet,
        "kind": a.kind,
        "since": a.since,
        "raised_at": a.raised_at,
        "level": None if a.level_m3s is None else quantity(a.level_m3s, unit),
        "discharge": discharge,
        "probability_stopping": a.probability_stopping,
        "after": after,
        "over_on": iso(r.after_day),
        "sent_to": [{"channel": s.channel, "at": s.sent_at} for s in r.sendings if s.sent_at],
        "waiting_for": [{"channel": s.channel, "why": s.why} for s in r.sendings if not s.sent_at],
        "acknowledged": [{"by": k.by, "at": k.at, "note": k.note} for k in r.acknowledged],
    }


def tally_json(t: Tally) -> dict[str, object]:
    """How one rule did; a share of nothing is null beside the reason."""
    return {
        "outlet": t.outlet,
        "kind": t.kind,
        "since": t.since,
        "judged_days": t.judged_days,
        "needed_days": t.needed_days,
        "hits": t.stops.hits,
        "late": t.stops.late,
        "misses": t.stops.missed,
        "too_soon": t.stops.too_soon,
        "stops_not_known": t.stops.not_known,
        "followed": t.followed,
        "false_alerts": t.false_alerts,
        "open": t.open,
        "not_known": t.not_known,
        "hit_rate": _share(t.hit_rate, "no stop has been judged yet"),
        "false_alarm_ratio": _share(t.false_alarm_ratio, "no warning has been judged yet"),
        "promised": {
            "lead_days": t.promised.lead_days,
            "hit_rate": t.promised.hit_rate,
            "false_alarm_ratio": t.promised.false_alarm_ratio,
        },
    }


def _share(s: Share, why: str) -> dict[str, object]:
    found: dict[str, object] = {"value": s.value, "low": s.low, "high": s.high, "level": LEVEL, "n": s.n}
    return found if s.n else found | {"why": why}
