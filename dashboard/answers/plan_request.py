"""What a plan is asked for: the purpose and the wishes that go with it, checked all together."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from ecology.return_watch import LONGEST_DAYS
from hydro.problems import InputError, Problem

Purpose = Literal["absence", "return", "trend"]
PURPOSES: tuple[Purpose, ...] = ("absence", "return", "trend")
#: How sure a plan is to be where nothing is said; for a decline it is the usual power (common practice, no source).
USUAL_SURE = {"absence": 0.95, "return": 0.9, "trend": 0.8}
USUAL_WITHIN, USUAL_DECLINE, USUAL_CYCLES = 14, 0.5, 5
#: Days of a watch where neither the lags nor the person say how long.
USUAL_WATCH = 180
MOST_CYCLES = 30
#: Which wishes go with which purpose (`sure` goes with all).
_GOES_WITH = {
    "detection": ("absence", "return"),
    "effort": PURPOSES,
    "allowed": PURPOSES,
    "prior": ("absence",),
    "within": ("return",),
    "watch": ("return",),
    "decline": ("trend",),
    "cycles": ("trend",),
    "cycles_before": ("trend",),
}
_RANGE = re.compile(r"\s*([0-9.]+)\s*(?:[-–]\s*([0-9.]+))?\s*")


@dataclass(frozen=True, kw_only=True)
class PlanRequest:
    """Checked wishes; None = not said.

    sure        chance that the plan is to give, for its purpose
    detection   (low, high) chance that one visit finds animals that are there; None = from the workspace's own visits
    effort      of a planned visit, in the workspace's unit
    prior       chance that animals are there before the first visit
    within      days within which a return is to be known
    watch       days after a restart for which the watch goes on
    decline     share by which later counts are lower
    allowed     visits that the permit or the people who look after the site allow: of the whole watch, or of all cycles
                after a decline
    cycles, cycles_before   flow cycles with visits after and before the decline
    """

    purpose: Purpose
    sure: float
    detection: tuple[float, float] | None = None
    effort: float | None = None
    allowed: int | None = None
    prior: float | None = None
    within: int = USUAL_WITHIN
    watch: int | None = None
    decline: float = USUAL_DECLINE
    cycles: int = USUAL_CYCLES
    cycles_before: int = USUAL_CYCLES


def plan_request(
    purpose: str,
    *,
    sure: float | None = None,
    detection: str | None = None,
    effort: float | None = None,
    allowed: int | None = None,
    prior: float | None = None,
    within: int | None = None,
    watch: int | None = None,
    decline: float | None = None,
    cycles: int | None = None,
    cycles_before: int | None = None,
) -> PlanRequest:
    """Wishes as a person writes them, `detection` as “0.4” or “0.3-0.6”.

    Raises InputError with everything that is wrong, wishes that do not go with the purpose included.
    """
    if purpose not in PURPOSES:
        raise InputError([Problem(row="--purpose", value=purpose, expected=f"one of {', '.join(PURPOSES)}")])
    said = {
        "detection": detection, "effort": effort, "allowed": allowed, "prior": prior, "within": within, "watch": watch,
        "decline": decline, "cycles": cycles, "cycles_before": cycles_before,
    }  # fmt: skip
    problems = [
        Problem(row=_option(name), value=f"{value}", expected=f"nothing here: it goes with {_listed(_GOES_WITH[name])}")
        for name, value in said.items()
        if value is not None and purpose not in _GOES_WITH[name]
    ]

    def check(name: str, value: float | None, good: bool, expected: str) -> None:
        goes = name == "sure" or purpose in _GOES_WITH[name]
        if value is not None and goes and not good:
            problems.append(Problem(row=_option(name), value=f"{value:g}", expected=expected))

    share = "a share between 0 and 1 such as 0.9"
    check("sure", sure, sure is not None and 0.0 < sure < 1.0, share)
    check("prior", prior, prior is not None and 0.0 < prior < 1.0, share)
    check("decline", decline, decline is not None and 0.0 < decline < 1.0, share)
    check("effort", effort, effort is not None and 0.0 < effort < 1e9, "an effort above 0")
    check("allowed", allowed, allowed is not None and 1 <= allowed <= 10_000, "a whole number of visits of 1 or more")
    days = f"whole days from 1 to {LONGEST_DAYS}"
    check("within", within, within is not None and 1 <= within <= LONGEST_DAYS, days)
    check("watch", watch, watch is not None and 1 <= watch <= LONGEST_DAYS, days)
    side = f"a whole number of flow cycles from 2 to {MOST_CYCLES}: one cycle does not show how cycles differ"
    check("cycles", cycles, cycles is not None and 2 <= cycles <= MOST_CYCLES, side)
    check("cycles_before", cycles_before, cycles_before is not None and 2 <= cycles_before <= MOST_CYCLES, side)
    found = None if detection is None else _range(detection)
    if detection is not None and found is None:
        expected = "a chance above 0 and at most 1, or a range of it, such as 0.4 or 0.3-0.6"
        problems.append(Problem(row="--detection", value=detection, expected=expected))
    if detection is not None and effort is not None and purpose != "trend":
        expected = "no effort beside a detection that is given: it holds for the visits as planned"
        problems.append(Problem(row="--effort", value=f"{effort:g}", expected=expected))
    if problems:
        raise InputError(problems)
    return PlanRequest(
        purpose=purpose,
        sure=USUAL_SURE[purpose] if sure is None else sure,
        detection=found,
        effort=effort,
        allowed=allowed,
        prior=prior,
        within=USUAL_WITHIN if within is None else within,
        watch=watch,
        decline=USUAL_DECLINE if decline is None else decline,
        cycles=USUAL_CYCLES if cycles is None else cycles,
        cycles_before=(USUAL_CYCLES if cycles is None else cycles) if cycles_before is None else cycles_before,
    )


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def _listed(purposes: tuple[str, ...]) -> str:
    return " and ".join(f"--purpose {p}" for p in purposes)


def _range(text: str) -> tuple[float, float] | None:
    """(low, high) of “0.4” or “0.3-0.6”; None where it is neither."""
    match = _RANGE.fullmatch(text)
    if match is None:
        return None
    try:
        low = float(match[1])
        high = low if match[2] is None else float(match[2])
    except ValueError:
        return None
    return (low, high) if 0.0 < low <= high <= 1.0 else None
