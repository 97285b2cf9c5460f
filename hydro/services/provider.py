"""What a gauge service is: how it is asked and how its pages are laid out. One service a file beside this one."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from hydro.services.failure import ServiceError


@dataclass(frozen=True, kw_only=True, order=True)
class Stretch:
    """Days to be asked for, first and last inclusive (civil days of a daily series, UTC days of another)."""

    first: datetime.date
    last: datetime.date

    def halves(self) -> tuple[Stretch, Stretch] | None:
        """Two shorter stretches; None for a single day."""
        days = (self.last - self.first).days
        if days < 1:
            return None
        middle = self.first + datetime.timedelta(days=days // 2)
        return (
            Stretch(first=self.first, last=middle),
            Stretch(first=middle + datetime.timedelta(days=1), last=self.last),
        )


@dataclass(frozen=True, kw_only=True)
class Page:
    """One answer, taken apart.

    rows      one tuple of texts a value, in the order of the provider's columns; "" = nothing was written
    next_url  where the walk goes on; None = this was the last page
    full      as many rows as one answer may hold and no word of a next page: the answer may have been cut off
    total     rows that the whole walk should give, where the service says so
    """

    rows: list[tuple[str, ...]]
    next_url: str | None = None
    full: bool = False
    total: int | None = None


@dataclass(frozen=True, kw_only=True)
class Provider:
    """One service.

    name, host_name   as workspaces and settings name the service, and as settings name its host
    columns           of the kept table, in the service's own names, so that its reader reads it
    series            the columns that tell series apart; `time` beside them makes a value known
    approval, remark  columns that say how good a value is; the remark takes our own marks
    begins            where a record starts if nobody says a day
    recent_days       so many days back are asked again each time
    revision_days     so many are asked again once every `revision_every_days`
    split             stretches that one walk may cover, for any stretch
    first_url         where a walk starts: (host, station, stretch)
    read_page         a page from its JSON (numbers as texts) and its address. Raises ServiceError
    belongs           whether a row, by column, is of the station asked
    unit_of           unit of a station's values
    keeps_days        the service holds so many days back and no more; None = whole records
    list_url          where the service lists a station's series; None = it has no such list
    told_series       that list as the end of a sentence; "" = nothing in it helps. Raises ServiceError
    """

    name: str
    host_name: str
    default_host: str
    daily: bool
    takes_key: bool
    columns: tuple[str, ...]
    series: tuple[str, ...]
    time: str
    value: str
    approval: str
    remark: str
    modified: str | None
    begins: datetime.date
    recent_days: int
    revision_days: int
    revision_every_days: int
    split: Callable[[Stretch], list[Stretch]]
    first_url: Callable[[str, str, Stretch], str]
    read_page: Callable[[object, str], Page]
    belongs: Callable[[Mapping[str, str], str], bool]
    unit_of: Callable[[str], str]
    keeps_days: int | None = None
    list_url: Callable[[str, str], str] | None = None
    told_series: Callable[[object, str], str] = lambda document, station: ""

    def beginning(self, since: datetime.date | None, today: datetime.date) -> datetime.date:
        """The first day worth asking for: where the record is to start, unless the service holds no day so old."""
        begin = since or self.begins
        return begin if self.keeps_days is None else max(begin, today - datetime.timedelta(days=self.keeps_days))


def text_of(value: object) -> str:
    """A member of a JSON object as the kept table writes it: a list is joined by commas, an object gives its id."""
    if value is None:
        return ""
    if isinstance(value, list):
        return ", ".join(t for v in value if (t := text_of(v)))
    if isinstance(value, dict):
        return text_of(value.get("@id"))
    return " ".join(str(value).split())


def rows_of(document: object, member: str, columns: tuple[str, ...], inner: str | None = None) -> list[tuple[str, ...]]:
    """The rows in a list of objects. Raises ServiceError where there is no such list."""
    items = document.get(member) if isinstance(document, dict) else None
    if not isinstance(items, list):
        raise ServiceError(f"the answer is JSON of another kind (it holds no list “{member}”)", again=True)
    rows = []
    for item in items:
        facts = item.get(inner) if inner is not None and isinstance(item, dict) else item
        if not isinstance(facts, dict):
            raise ServiceError(f"the answer's list “{member}” holds something that is no value", again=True)
        rows.append(tuple(text_of(facts.get(c)) for c in columns))
    return rows


def count_in(document: object, member: str) -> int | None:
    """A count that the answer states."""
    text = text_of(document.get(member)) if isinstance(document, dict) else ""
    return int(text) if text.isdecimal() else None


def by_years(stretch: Stretch, years: int) -> list[Stretch]:
    """Stretches that end with a calendar year and hold at most `years` of them, newest first."""
    found, last = [], stretch.last
    while last >= stretch.first:
        first = max(stretch.first, datetime.date(max(last.year - years + 1, 1), 1, 1))
        found.append(Stretch(first=first, last=last))
        last = first - datetime.timedelta(days=1)
    return found
