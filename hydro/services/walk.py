"""All pages of one stretch. A walk gives everything that was asked for or fails: half is never taken for a whole."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass

from hydro.services.ask import CLOSED_S, FRESH_S, Asker
from hydro.services.failure import ServiceError
from hydro.services.provider import Page, Provider, Stretch

#: No stretch of a gauge has more pages.
MOST_PAGES = 2_000


@dataclass(frozen=True, kw_only=True)
class Walked:
    """The rows of a stretch in the order they came; `retrieved` is when its oldest page came (UTC)."""

    rows: list[tuple[str, ...]]
    retrieved: datetime.datetime
    pages: int


def walk(provider: Provider, asker: Asker, station: str, stretch: Stretch, said: Callable[[int, int], None]) -> Walked:
    """Every value of a stretch. Raises ServiceError.

    `said` is told the number of pages and rows after each page. Where an answer is as long as answers can be and names
    no next page, it may have been cut off: the stretch is asked again in halves.
    """
    closed = (asker.now().date() - stretch.last).days > provider.revision_days
    fresh_s = CLOSED_S if closed else FRESH_S
    rows: list[tuple[str, ...]] = []
    retrieved: list[datetime.datetime] = []
    visited: set[str] = set()
    contents: set[int] = set()
    url: str | None = provider.first_url(asker.access.host, station, stretch)
    total: int | None = None
    page: Page | None = None
    while url is not None:
        if url in visited or len(visited) >= MOST_PAGES:
            raise ServiceError(f"the service's pages lead in a circle (after {len(visited)} of them)")
        visited.add(url)
        try:
            document, came_from, came = asker.ask(url, fresh_s=fresh_s)
            page = provider.read_page(document, came_from)
        except ServiceError as failure:
            if not visited - {url}:
                raise
            # Pages that came are kept: the next try goes on from here.
            raise ServiceError(
                f"{failure}, on page {len(visited)} of {stretch.first} to {stretch.last}",
                again=failure.again,
                for_all=failure.for_all,
                not_before=failure.not_before,
            ) from None
        content = hash(tuple(page.rows))
        if page.rows and content in contents:
            raise ServiceError(f"the service gives the same page again (page {len(visited)})")
        contents.add(content)
        _check_station(provider, page, station)
        rows += page.rows
        retrieved.append(came)
        total = page.total if page.total is not None else total
        said(len(visited), len(rows))
        url = None if page.next_url is None else asker.access.own_address(page.next_url)
    if page is not None and page.full:
        return _in_halves(provider, asker, station, stretch, said)
    if total is not None and len(rows) < total:
        raise ServiceError(f"the service gave {len(rows)} of the {total} values that it says there are")
    return Walked(rows=rows, retrieved=min(retrieved), pages=len(visited))


def _in_halves(
    provider: Provider, asker: Asker, station: str, stretch: Stretch, said: Callable[[int, int], None]
) -> Walked:
    halves = stretch.halves()
    if halves is None:
        raise ServiceError(f"the answer for {stretch.first} may have been cut off: it is as long as answers can be")
    parts = [walk(provider, asker, station, half, said) for half in halves]
    return Walked(
        rows=[row for part in parts for row in part.rows],
        retrieved=min(part.retrieved for part in parts),
        pages=sum(part.pages for part in parts),
    )


def _check_station(provider: Provider, page: Page, station: str) -> None:
    for row in page.rows:
        named = dict(zip(provider.columns, row, strict=True))
        if not provider.belongs(named, station):
            whose = " ".join(named[c] for c in provider.series if named[c])
            raise ServiceError(f"the answer holds values of something else: {whose}")
        if not _is_day(named[provider.time]):
            raise ServiceError(f"the answer holds a value without a time that can be read: “{named[provider.time]}”")


def _is_day(text: str) -> bool:
    try:
        datetime.date.fromisoformat(text[:10])
    except ValueError:
        return False
    return True
