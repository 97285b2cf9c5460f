"""Which days to ask for: what was never asked, the newest days, and from time to time those that may be revised."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from hydro.services.provider import Provider, Stretch

_DAY = datetime.timedelta(days=1)


def stretches_to_ask(
    provider: Provider,
    *,
    covered: Sequence[Stretch],
    last_value: datetime.date | None,
    begin: datetime.date,
    today: datetime.date,
    again_from: datetime.date | None = None,
    revision_due: bool = False,
) -> list[Stretch]:
    """Stretches for one walk each, newest first, so that the present is known before the past.

    covered      days whose values were asked for and came whole
    last_value   day of the newest value that is kept
    begin        where the record is to start
    again_from   everything from this day on is asked again
    """
    end = today + _DAY  # somewhere it is tomorrow already
    wanted = missing(Stretch(first=min(begin, today), last=today), covered)
    reached = max((s.last for s in covered), default=None)
    if reached is not None:
        back = provider.revision_days if revision_due else provider.recent_days
        # After an outage values may arrive late: the newest value counts, not the newest question.
        newest = reached if last_value is None else min(reached, last_value)
        start = newest - back * _DAY
        if not provider.daily:  # a year is several pages: a station that has ended is not asked for years each time
            start = max(start, reached - 2 * provider.revision_days * _DAY)
        wanted.append(Stretch(first=max(min(start, today), begin), last=today))
    if again_from is not None:
        wanted.append(Stretch(first=min(again_from, today), last=today))
    joined = join(wanted)
    return [
        part
        for s in reversed(joined)
        for part in provider.split(Stretch(first=s.first, last=end) if s.last == today else s)
    ]


def missing(wanted: Stretch, covered: Sequence[Stretch]) -> list[Stretch]:
    """The parts of a stretch that are not covered."""
    found, at = [], wanted.first
    for s in join(covered):
        if s.last < at or s.first > wanted.last:
            continue
        if s.first > at:
            found.append(Stretch(first=at, last=s.first - _DAY))
        at = max(at, s.last + _DAY)
    if at <= wanted.last:
        found.append(Stretch(first=at, last=wanted.last))
    return found


def join(stretches: Sequence[Stretch]) -> list[Stretch]:
    """The same days in as few stretches as can be, oldest first."""
    found: list[Stretch] = []
    for s in sorted(stretches):
        if found and s.first <= found[-1].last + _DAY:
            found[-1] = Stretch(first=found[-1].first, last=max(found[-1].last, s.last))
        else:
            found.append(s)
    return found
