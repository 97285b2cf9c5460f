"""Pairwise matches into individual ids: names of sightings or of supposed animals that are the same animal.

Matches are drawn together transitively: if A is B and B is C, then A is C. One wrong match joins two animals, so that
each animal carries its weakest link, the least confidence without which it would fall apart, and every pair that was
judged not the same but ends up in one animal is listed as a conflict.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from ecology.survey_columns import ColumnReader
from hydro.problems import InputError
from hydro.sources.text_table import read_text_table

_COLUMNS = ("first", "second")


@dataclass(frozen=True, eq=False, kw_only=True)
class MatchList:
    """Judged pairs: `frame` columns row, first, second (names), same (bool), confidence (0–1, NaN = not stated)."""

    frame: pd.DataFrame
    file: str


@dataclass(frozen=True, eq=False, kw_only=True)
class MatchedNames:
    """What the pairs say.

    `names` has a row a name: name, individual (the id of its animal), names_of_it (how many names the animal has),
    weakest_link (NaN where none of its confidences is stated, or it has one name).
    `conflicts` has a row a pair judged not the same that ended up in one animal: first, second, row, individual, chain
    (the names that join them). `unsure` has the pairs left out for too little confidence.
    """

    names: pd.DataFrame
    conflicts: pd.DataFrame
    unsure: pd.DataFrame

    def ids(self) -> dict[str, str]:
        """The id of the animal by name."""
        return dict(zip(self.names["name"], self.names["individual"], strict=True))


def read_match_list(path: Path, *, shown_as: str | None = None) -> MatchList:
    """Read a table with the columns `first`, `second`, and optionally `same` (yes | no; yes where blank) and
    `confidence` (0–1). Raises InputError with every problem."""
    file = shown_as or str(path)
    table = read_text_table(path)
    read = ColumnReader(table, file)
    if not read.require(_COLUMNS):
        raise InputError(read.problems)
    first, second = read.text("first"), read.text("second")
    for name, values in (("first", first), ("second", second)):
        read.wrong(name, (values == "").to_numpy(), "the name of a sighting or an animal")
    read.wrong("second", ((first == second) & (first != "")).to_numpy(), "another name than in the first column")
    same = read.choice("same", ("yes", "no"))
    confidence = read.number("confidence", least=0, most=1, meaning="a number from 0 to 1 or blank")
    if read.problems:
        raise InputError(read.problems)
    frame = pd.DataFrame(
        {"row": table.rows, "first": first, "second": second, "same": same != "no", "confidence": confidence}
    )
    return MatchList(frame=frame.reset_index(drop=True), file=file)


def match_names(matches: MatchList, *, least_confidence: float | None = None) -> MatchedNames:
    """Connected groups of names. An animal is called by its least name in the order of text.

    Matches with a stated confidence below `least_confidence` are left out; those without one are kept. Links are laid
    in order of confidence, so that the weakest link is that of the strongest chain.
    """
    frame = matches.frame
    sure = np.ones(len(frame), bool)
    if least_confidence is not None:
        sure = ~(frame["confidence"] < least_confidence).to_numpy(bool)
    links = frame[sure & frame["same"].to_numpy(bool)]
    links = links.sort_values("confidence", ascending=False, kind="stable", na_position="first")
    names = sorted(set(frame["first"]) | set(frame["second"]))
    parent = {name: name for name in names}
    weakest: dict[str, float] = dict.fromkeys(names, np.nan)
    tree: dict[str, list[str]] = {name: [] for name in names}

    def root(name: str) -> str:
        while parent[name] != name:
            parent[name] = parent[parent[name]]
            name = parent[name]
        return name

    for a, b, confidence in zip(links["first"], links["second"], links["confidence"], strict=True):
        one, other = root(a), root(b)
        if one == other:
            continue
        tree[a].append(b)
        tree[b].append(a)
        keep, gone = sorted((one, other))
        parent[gone] = keep
        weakest[keep] = float(np.fmin(np.fmin(weakest[keep], weakest[gone]), confidence))
    roots = [root(name) for name in names]
    size = pd.Series(roots).value_counts()
    table = pd.DataFrame(
        {
            "name": names,
            "individual": roots,
            "names_of_it": [int(size[r]) for r in roots],
            "weakest_link": [weakest[r] for r in roots],
        }
    )
    apart = frame[~frame["same"].to_numpy(bool)]
    rows = [
        {"first": a, "second": b, "row": row, "individual": root(a), "chain": " – ".join(_chain(tree, a, b))}
        for a, b, row in zip(apart["first"], apart["second"], apart["row"], strict=True)
        if root(a) == root(b)
    ]
    conflicts = pd.DataFrame(rows, columns=["first", "second", "row", "individual", "chain"])
    return MatchedNames(names=table, conflicts=conflicts, unsure=frame[~sure].reset_index(drop=True))


def _chain(tree: dict[str, list[str]], start: str, end: str) -> list[str]:
    """The names from one to the other along the links."""
    came_from = {start: start}
    queue = [start]
    for name in queue:
        for beyond in tree[name]:
            if beyond not in came_from:
                came_from[beyond] = name
                queue.append(beyond)
    path = [end]
    while path[-1] != start:
        path.append(came_from[path[-1]])
    return path[::-1]
