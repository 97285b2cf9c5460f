"""The tables [outlets.….alerts] and [watch] of workspace.toml, checked with the rest of it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Protocol

from dashboard.watch.rules import AlertRules, Channel, Promise, WatchSettings
from hydro.outlet import Outlet
from hydro.units import Quantity

ALERTS = ("level", "level_clears", "chance", "chance_days", "stopped", "running_again", "no_reading_hours", "revised",
          "visit_due_days", "quiet_hours", "judged_days", "promised")  # fmt: skip
PROMISED = ("lead_days", "hit_rate", "false_alarm_ratio")
WATCH = ("secrets_file", "send_limit_seconds", "channels")
HOW = {"message_to": "message", "json_to": "json", "feed_file": "feed"}
_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")


class Reader(Protocol):
    """What reads tables of workspace.toml and gathers problems."""

    def wrong(self, key: str, value: object, expected: str) -> None: ...

    def table(
        self, parent: Mapping[str, Any], key: str, known: tuple[str, ...] | None, at: str
    ) -> Mapping[str, Any]: ...

    def text(self, table: Mapping[str, Any], key: str, at: str, default: str | None = None) -> str | None: ...

    def whole(self, table: Mapping[str, Any], key: str, at: str, default: int, least: int) -> int: ...

    def truth(self, table: Mapping[str, Any], key: str, at: str) -> bool | None: ...

    def level(self, t: Mapping[str, Any], key: str, at: str) -> Quantity | None: ...


def read_alerts(reader: Reader, table: object, outlet: Outlet) -> AlertRules | None:
    """The rules in the table of one outlet; None where it has none."""
    if not isinstance(table, dict) or "alerts" not in table:
        return None
    at = f"outlets.{outlet.id}.alerts"
    t = reader.table(table, "alerts", ALERTS, at)
    level, clears = reader.level(t, "level", at), reader.level(t, "level_clears", at)
    if clears is not None and (level is None or clears.m3s < level.m3s):
        reader.wrong(f"{at}.level_clears", clears, "a level as well, at or below level_clears")
        clears = None
    chance = _share(reader, t, "chance", at)
    promised = reader.table(t, "promised", PROMISED, f"{at}.promised")
    rules = AlertRules(
        outlet=outlet.id,
        level=level,
        level_clears=clears,
        chance=chance,
        chance_days=reader.whole(t, "chance_days", at, 30, 1),
        stopped=bool(reader.truth(t, "stopped", at)),
        running_again=bool(reader.truth(t, "running_again", at)),
        no_reading_hours=_optional(reader, t, "no_reading_hours", at),
        revised=bool(reader.truth(t, "revised", at)),
        visit_due_days=_optional(reader, t, "visit_due_days", at, least=0),
        quiet_hours=reader.whole(t, "quiet_hours", at, 24, 0),
        judged_days=reader.whole(t, "judged_days", at, 90, 1),
        promised=Promise(
            lead_days=_optional(reader, promised, "lead_days", f"{at}.promised", least=0),
            hit_rate=_share(reader, promised, "hit_rate", f"{at}.promised", ends=True),
            false_alarm_ratio=_share(reader, promised, "false_alarm_ratio", f"{at}.promised", ends=True),
        ),
    )
    if rules.chance_days > 180:
        reader.wrong(f"{at}.chance_days", rules.chance_days, "at most the 180 days that an outlook reaches")
    if outlet.perennial:
        needing = {"chance": chance, "stopped": rules.stopped, "running_again": rules.running_again,
                   "revised": rules.revised, "visit_due_days": t.get("visit_due_days")}  # fmt: skip
        for key, value in needing.items():
            if value is not None and value is not False:
                reader.wrong(f"{at}.{key}", value, f"stops_below under [outlets.{outlet.id}]: it says when it is dry")
    return rules


def read_watch(reader: Reader, data: Mapping[str, Any]) -> WatchSettings:
    """The table [watch]. What stands where a name belongs is never repeated: it may be a secret address."""
    t = reader.table(data, "watch", None, "watch")
    for name in t:
        if name not in WATCH:
            reader.wrong(f"watch.{name}", None, "one of " + ", ".join(WATCH))
    channels = {}
    for id in reader.table(t, "channels", None, "watch.channels"):
        at = f"watch.channels.{id}"
        c = t["channels"][id]
        if not isinstance(c, dict):
            reader.wrong(at, None, f"a table, written [{at}]")
            continue
        for name in c:
            if name not in HOW:
                reader.wrong(f"{at}.{name}", None, "one of " + ", ".join(HOW))
        given = [k for k in HOW if k in c]
        if len(given) != 1:
            reader.wrong(at, None, "exactly one of " + ", ".join(HOW))
            continue
        key, value = given[0], c[given[0]]
        if key == "feed_file":
            if not (isinstance(value, str) and re.fullmatch(r"[^\0]+\.(xml|atom)", value)):
                reader.wrong(f"{at}.{key}", value, "the name of a file that ends in .xml or .atom")
                continue
        elif not (isinstance(value, str) and _NAME.fullmatch(value)):
            expected = "the NAME of an environment variable or of a line in the secrets file; never the address itself"
            reader.wrong(f"{at}.{key}", None, expected)
            continue
        channels[id] = Channel(id=id, how=HOW[key], named=value)
    return WatchSettings(
        secrets_file=reader.text(t, "secrets_file", "watch"),
        send_limit_seconds=reader.whole(t, "send_limit_seconds", "watch", 20, 1),
        channels=channels,
    )


def _share(reader: Reader, t: Mapping[str, Any], key: str, at: str, *, ends: bool = False) -> float | None:
    value = t.get(key)
    if value is None:
        return None
    good = isinstance(value, int | float) and not isinstance(value, bool)
    if not good or not (0 <= value <= 1 if ends else 0 < value < 1):
        reader.wrong(f"{at}.{key}", value, "a share between 0 and 1 such as 0.5")
        return None
    return float(value)


def _optional(reader: Reader, t: Mapping[str, Any], key: str, at: str, least: int = 1) -> int | None:
    return None if key not in t else reader.whole(t, key, at, least, least)
