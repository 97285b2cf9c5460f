"""What the pictures of individuals say."""

from __future__ import annotations

from dashboard.wording.numbers import count_of, whole

HERE, ELSEWHERE = "met here", "met at another outlet"
SEEN_AGAIN = "seen again"
SHARE_AXIS = "seen again, of 100 seen in the year before"
ROWS_KEY = "One row an animal: ● met at this outlet, ○ met at another; the line joins first and last sighting. Hatched: this outlet dry by discharge."
SHARES_KEY = (
    "One row a dry spell, named by its first dry day: ● share of the animals seen in the year before that were seen again, with its exact "
    "interval. Beside it: animals seen again of those seen before; days of search here until the next dry spell or until now."
)


def rows(title: str, n: int, of: int, which: str) -> str:
    """The picture of individuals for people who do not see it."""
    part = f"the last {whole(n)} of {whole(of)}" if n < of else whole(n)
    return f"When {part} animals were met, {which}, with the dry spells of {title} behind."


def shown_of(n: int, of: int) -> str:
    """How many of the animals the picture has room for."""
    return f"The {whole(n)} animals seen last, of {whole(of)}; the rows behind have all."


def shares(title: str, n: int) -> str:
    return f"Share of animals seen again after {count_of(n, 'dry spell')} at {title}, with intervals."


def again(seen: int, of: int, searches: int) -> str:
    """The numbers beside a share."""
    return f"{whole(int(seen))} of {whole(int(of))}<br>{count_of(int(searches), 'search', 'searches')}"
