"""What the watch says about a pass."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording import cautions
from dashboard.wording.alerts import what_happened
from dashboard.wording.numbers import count_of

if TYPE_CHECKING:
    from dashboard.answers.watch import WatchAnswer

NO_RULES = (
    "No outlet has rules for alerts, so nothing can be raised: write them under [outlets.ID.alerts] in workspace.toml."
)
NO_CHANNELS = (
    "No channel is set under [watch.channels.…] in workspace.toml: alerts are kept in the history and sent to nobody."
)
NOTHING = "Nothing to tell."
BUSY = "Another pass is running on this workspace; nothing was done."
NO_CHANNEL_TO_TEST = "no channel is set: write one under [watch.channels.SOME_ID] in workspace.toml"
CAUTION_SILENCE = "No alert is not an all-clear: alerts rest on the same gauges and can be late or missing."


def test_line(channel: str, why: str | None) -> str:
    """What became of a test in one channel."""
    return f"{channel}: {'the test was sent' if why is None else f'the test was NOT sent: {why}'}"


def not_fetched(gauge: str, service: str | None) -> str:
    return f"{gauge} names the service {service}, and this watch reads files only: nothing was fetched."


def cut_off(n: int) -> str:
    return (
        f"An earlier pass was cut off while sending: {count_of(n, 'message')} of unknown fate "
        f"{'is' if n == 1 else 'are'} sent again."
    )


def level_too_low(title: str, level: str, stop: str) -> str:
    return f"{title}: the alert level {level} lies below the stop level {stop}, so it would tell of a stop after it."


def no_visits(title: str) -> str:
    return f"{title}: whether a visit is due cannot be told, because the workspace names no visits."


def never_known(title: str) -> str:
    return f"{title}: its gauges have given no value so far, so none of its rules can be judged, silence included."


def no_chance(title: str, days: int, why: str | None) -> str:
    because = f": {why}" if why else ""
    return (
        f"{title}: the chance of stopping within {days} days cannot be given now, so its rule is not judged{because}."
    )


def record_shorter(title: str, last: str | None) -> str:
    end = f"ends on {last}" if last else "is empty"
    return (
        f"{title}: its discharge now {end}, earlier than seen before (a clock set back, or a file that became "
        "shorter). Nothing but silence is judged until it has caught up."
    )


def still_waiting(channel: str, n: int, why: str | None, known: bool) -> str:
    if not known:
        return f"{count_of(n, 'message')} for the channel “{channel}”, which is no longer set, {_wait(n)}."
    reason = f": {why}" if why else ""
    return f"{count_of(n, 'message')} for the channel “{channel}” {_wait(n)} for the next pass{reason}."


def _wait(n: int) -> str:
    return "waits" if n == 1 else "wait"


def as_text(answer: WatchAnswer) -> str:
    """The whole pass for a terminal."""
    h, r = answer.header, answer.result
    lines = [f"{h.title}, as of {h.as_of}{' (dry run: nothing is written or sent)' if r.dry_run else ''}", ""]
    if not r.raised and not r.standing and not r.quiet:
        lines.append(NOTHING)
    for alert, new in answer.all():
        told = answer.sent_to(alert)
        how = f"sent to {', '.join(told)}" if told else "sent to nobody yet" if not r.dry_run else "not sent"
        lines += [f"{'NEW' if new else 'still'}   {what_happened(alert, h.unit, answer.zone)}", f"        {how}"]
    for alert in r.quiet:
        lines.append(f"quiet   {what_happened(alert, h.unit, answer.zone)}")
        lines.append("        kept back: something was told of it a short while ago; told later if it still stands")
    channels = ", ".join(f"“{c}”" for c in dict.fromkeys(c for c, _, _ in r.would_send))
    for title, text in dict.fromkeys((t, m) for _, t, m in r.would_send):
        lines += ["", f"Would go to {channels}: {title}", *(f"  {line}" for line in text.splitlines() if line)]
    if h.warnings:
        lines += ["", *(f"Note: {w}" for w in h.warnings)]
    lines += ["", CAUTION_SILENCE, cautions.PROVISIONAL, cautions.NOT_A_WARNING]
    return "\n".join(lines)
