"""What searches say about detection at all, and what to print beside the numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ecology.missed_animals_searches import Histories, SpellSearches
from ecology.not_estimable import NotEstimable

#: Below these no detection is estimated. Ten searches at p = 0.5 leave p between about 0.2 and 0.8.
FEWEST_SPELLS = 5
FEWEST_SEARCHES_AFTER = 10
FEWEST_SPELLS_AFTER = 3
_CLEARLY_APART = 2.6  # standard errors between the shares found earlier and later: 1 in 100 by chance


@dataclass(frozen=True, eq=False, kw_only=True)
class AfterFirstFind:
    """Searches after first finds that count for detection.

    spells, searches, found   spells with such searches, the searches, and those that found animals again
    days                      whole days after the first find, one a search, in order
    found_by_search           whether each found
    left_out                  searches left out because they came too long after the first find
    missed_beside             passes of the day of a first find that found nothing before it: they missed as well, but
                              a share that counted them would be too low, because the day was chosen for its find
    """

    spells: int
    searches: int
    found: int
    days: np.ndarray
    found_by_search: np.ndarray
    left_out: int
    missed_beside: int = 0

    def all_found(self) -> bool:
        """Whether they are enough to speak of detection and none missed: then only a lower bound of it is known."""
        enough = self.searches >= FEWEST_SEARCHES_AFTER and self.spells >= FEWEST_SPELLS_AFTER
        return enough and self.found == self.searches and not self.missed_beside

    def least_detection(self, level: float) -> float:
        """The one-sided lower bound of detection at `level` where all found: (1 − level)^(1 ÷ searches).

        If all searches are alike. Source: Clopper and Pearson 1934, Biometrika 26:404–413, for n of n.
        """
        if not self.all_found():
            raise ValueError("a search missed, or there are too few: this bound is for searches that all found")
        return float((1.0 - level) ** (1.0 / self.searches))

    def earlier_and_later(self) -> tuple[tuple[int, int], tuple[int, int], float]:
        """(found, searches) in the earlier and in the later half of the days, and z of later against earlier.

        z > 0: later searches find more often; NaN where one half has no search or all agree.
        """
        if not self.searches:
            return (0, 0), (0, 0), np.nan
        late = self.days > np.median(self.days)
        n_late, k_late = int(late.sum()), int((late & self.found_by_search).sum())
        n_early, k_early = self.searches - n_late, self.found - k_late
        both = self.found / self.searches
        if not n_late or not n_early or both in (0.0, 1.0):
            return (k_early, n_early), (k_late, n_late), np.nan
        apart = k_late / n_late - k_early / n_early
        return (k_early, n_early), (k_late, n_late), apart / np.sqrt(both * (1 - both) * (1 / n_early + 1 / n_late))


def after_first_find(spells: Sequence[SpellSearches], within_days: float) -> AfterFirstFind:
    """The searches of `spells` after the first find of each, up to `within_days` after it."""
    days, found, used, left_out, missed_beside = [], [], 0, 0, 0
    for spell in spells:
        if not spell.found.any():
            continue
        first = int(np.argmax(spell.found))
        beside = int((spell.days[:first] == spell.days[first]).sum())
        missed_beside += beside
        after = spell.days[first + 1 :] - spell.days[first]
        counts = after <= within_days
        left_out += int((~counts).sum())
        used += bool(counts.any()) or beside > 0
        days.append(after[counts])
        found.append(spell.found[first + 1 :][counts])
    all_days = np.concatenate(days) if days else np.empty(0)
    all_found = np.concatenate(found) if found else np.empty(0, dtype=bool)
    order = np.argsort(all_days, kind="stable")
    return AfterFirstFind(
        spells=used,
        searches=int(all_days.size),
        found=int(all_found.sum()),
        days=all_days[order],
        found_by_search=all_found[order],
        left_out=left_out,
        missed_beside=missed_beside,
    )


def refuse_what_tells_nothing_of_detection(n_spells: int, after: AfterFirstFind) -> None:
    """NotEstimable where the searches after first finds are too few, or all found or all missed."""
    if n_spells < FEWEST_SPELLS:
        raise NotEstimable(
            f"{n_spells} {_plural(n_spells, 'spell has', 'spells have')} searches; detection and return are estimated "
            f"together from at least {FEWEST_SPELLS}."
        )
    searches = after.searches + after.missed_beside
    if searches < FEWEST_SEARCHES_AFTER or after.spells < FEWEST_SPELLS_AFTER:
        raise NotEstimable(
            f"{searches} {_plural(searches, 'search', 'searches')} in {after.spells} "
            f"{_plural(after.spells, 'spell', 'spells')} came after a first find and count for detection; at least "
            f"{FEWEST_SEARCHES_AFTER} in {FEWEST_SPELLS_AFTER} spells are needed to say how often a search misses."
        )
    if after.all_found():
        bound = after.least_detection(0.95)
        raise NotEstimable(
            f"All {after.searches} searches after a first find found animals: detection cannot be told from 1 (it is "
            f"above {bound:.2f} with 95 % confidence if all searches are alike), and first finds can be taken at face "
            "value to that extent."
        )
    if after.searches and not after.found:
        raise NotEstimable(
            f"None of the {after.searches} searches after a first find found animals again: they are rarely found, or "
            "they had left, and the searches cannot tell which."
        )


def refuse_what_does_not_spread(histories: Histories) -> None:
    """NotEstimable where, taking first finds at face value, one return time explains all spells or none is bounded."""
    low, high = histories.face_value()
    if np.all(low <= 0.0):
        raise NotEstimable(
            "In every spell animals can have been back from the first day on: only an upper bound is known."
        )
    if low.max() < high.min():
        raise NotEstimable(
            "One return time lies within every spell's interval: the searches do not say how the times spread."
        )


def doubts(
    spells: Sequence[SpellSearches],
    after: AfterFirstFind,
    within_days: float,
    *,
    estimated: bool,
    least_spread: bool,
    median: float | None,
) -> tuple[str, ...]:
    """Sentences that belong beside the fitted numbers.

    estimated     whether detection was, and not assumed
    least_spread  whether the lags came out with the least spread allowed
    median        None where there is none
    """
    said = []
    if estimated:
        window = "" if np.isinf(within_days) else f" up to {within_days:g} days"
        said.append(
            f"Detection comes from {after.searches} searches{window} after a first find, {after.found} of which found "
            "animals. Soon after a return fewer animals may be back and searches may miss more often: the corrected "
            "lag is then still late, though less than at face value. Animals that left again count as missed "
            "and make it too early."
        )
        early, late, z = after.earlier_and_later()
        if abs(z) > _CLEARLY_APART:
            way = (
                "detection grows with time, and the corrected lag is probably still late"
                if z > 0.0
                else "animals may be leaving again, and the corrected lag is probably too early"
            )
            said.append(
                f"Of the searches that came sooner after a first find {early[0]} of {early[1]} found animals, of the "
                f"later ones {late[0]} of {late[1]}: {way}."
            )
    if least_spread:
        said.append(
            "Missed animals alone could explain how the first finds differ: the searches do not say how the lags "
            "spread, and the least spread that is allowed (about a fifth of the median) was taken."
        )
    effort = np.concatenate([s.effort for s in spells])
    unknown = int(np.isnan(effort).sum())
    if unknown == effort.size:
        said.append("No effort is recorded: all searches count alike.")
    elif unknown:
        said.append(
            f"{unknown} of {effort.size} searches have no effort recorded and count as typical, "
            f"{float(np.nanmedian(effort)):g}."
        )
    if median is not None:
        beyond = sum(median > s.days[-1] + 1.0 for s in spells)
        if beyond > 0.5 * len(spells):
            said.append(
                f"In {beyond} of {len(spells)} spells the last search came before the median: it rests on the shape of "
                "the distribution."
            )
    unseen = sum(not s.found.any() for s in spells)
    if unseen:
        said.append(
            f"In {unseen} of {len(spells)} spells no search found animals; they are taken to return later or to have "
            "been missed, never to stay away for good."
        )
    uncertain = sum(s.restart_slack > 0.0 for s in spells)
    if uncertain:
        said.append(
            f"In {uncertain} of {len(spells)} spells the restart lies in a gap of the record; each day of the gap "
            "counts as equally likely."
        )
    return tuple(said)


def _plural(n: int, one: str, many: str) -> str:
    return one if n == 1 else many
