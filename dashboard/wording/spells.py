"""Sentences about dry spells."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording import cautions
from dashboard.wording.numbers import count_of, days, discharge, figures, long_date, short_date, volume

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.answers.answer import Header
    from dashboard.answers.spells import OutletSpells, SpellsAnswer

STATUS_WORDS = {
    "ended": "seen from start to end",
    "ongoing": "still dry on the last day of the record",
    "starts-in-gap": "started on a day without discharge",
    "ends-in-gap": "its end lies in a gap of the record",
    "starts-before-record": "dry when the record begins",
}


def answer(o: OutletSpells, header: Header) -> str:
    """The first sentence."""
    if o.dry is None or o.summary is None:
        return f"When {o.outlet.title} was dry cannot be said: {o.why}."
    s = o.summary
    if s.n_spells == 0:
        return (
            f"{o.outlet.title} was never dry in {count_of(s.record_days - s.unknown_days, 'day')} with a known state."
        )
    share = s.dry_days / max(s.record_days - s.unknown_days, 1)
    return (
        f"{o.outlet.title} was dry in {count_of(s.n_spells, 'spell')}, {count_of(s.dry_days, 'day')} in all "
        f"({figures(100 * share, 2)} % of the days with a known state), by discharge below "
        f"{discharge(o.dry.stop_level_m3s, header.unit)}."
    )


def details(o: OutletSpells, header: Header) -> list[str]:
    """What stands behind the first sentence."""
    if o.dry is None or o.summary is None:
        return []
    s, found = o.summary, []
    first, last = o.flow.frame.index[0], o.flow.frame.index[-1]
    found.append(f"Record: {long_date(first)} to {long_date(last)}, {count_of(s.record_days, 'day')}.")
    if s.unknown_days:
        found.append(
            f"On {count_of(s.unknown_days, 'day')} the state is not known: they count as neither dry nor running."
        )
    if o.dry.restart_level_m3s > o.dry.stop_level_m3s:
        found.append(
            f"Once dry it counts as dry until discharge reaches {discharge(o.dry.restart_level_m3s, header.unit)}."
        )
    if s.longest_days is not None:
        at_least = "at least " if s.longest_is_at_least else ""
        found.append(f"The longest spell lasted {at_least}{days(s.longest_days)}.")
    if s.median_days is not None and s.n_whole > 1:
        found.append(f"Half of the {s.n_whole} spells seen from start to end lasted {days(s.median_days)} or longer.")
    if len(o.joined) < len(o.spells):
        found.append(
            f"Joined over interruptions of up to {count_of(o.dry.join_days, 'running day')} they make "
            f"{count_of(len(o.joined), 'spell')}."
        )
    wrong = int(o.spells["seen_running"].sum())
    if wrong:
        found.append(
            f"{count_of(wrong, 'time')} somebody saw it running inside a dry spell: the level may be set too high."
        )
    return found


def spell_line(row: pd.Series, header: Header) -> str:
    """One spell as a line."""
    span = f"{short_date(row['first'])} to {short_date(row['last'])}"
    parts = [f"{span:<28}", f"{days(row['days']):<22}", f"lowest {discharge(row['minimum_m3s'], header.unit)}"]
    parts.append(f"short by {volume(row['deficit_m3'])}")
    if row["status"] != "ended":
        parts.append(STATUS_WORDS[row["status"]])
    if row["unknown_days"]:
        parts.append(f"{count_of(row['unknown_days'], 'unknown day')} beside it")
    if row["provisional_days"]:
        parts.append("provisional")
    return "  ".join(parts)


def as_text(result: SpellsAnswer) -> str:
    """The whole answer for a terminal."""
    h = result.header
    lines = [f"{h.title}, as of {h.as_of}"]
    for o in result.outlets:
        lines += ["", answer(o, h), *(f"  {sentence}" for sentence in details(o, h))]
        lines += [f"    {spell_line(row, h)}" for _, row in o.spells.iterrows()]
    lines += ["", cautions.PROVISIONAL]
    return "\n".join(lines)
