"""Judging by itself: facts by hand, no files."""

from __future__ import annotations

import datetime
import itertools
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from dashboard.watch.facts import OutletFacts
from dashboard.watch.judge import Told, judge
from dashboard.watch.rules import CHANCE, AlertRules
from hydro.outlet import Outlet
from hydro.units import Quantity

OUTLET = Outlet(id="a", title="A", flow="f", stops_below=Quantity(1.0, "m3/s"))
NOON = datetime.datetime(2020, 1, 10, 12, tzinfo=datetime.UTC)
RULES = AlertRules(outlet="a", chance=0.4, stopped=True, running_again=True, quiet_hours=24)
FACTS = OutletFacts(outlet="a", title="A", as_of="2020-01-10", reading_day="2020-01-09", reading_m3s=2.0)


def chances(values, rules=RULES):
    """On which of the days, each with one of the chances, the chance is told."""
    memory, told = {}, []
    for day, p in enumerate(values):
        reading = f"{datetime.date(2020, 1, 9) + datetime.timedelta(day)}"
        facts = replace(FACTS, probability_stopping=p, reading_day=reading)
        verdict = judge(OUTLET, rules, facts, memory, now=NOON + datetime.timedelta(days=day))
        memory = verdict.memory
        told += [day for a in verdict.raised if a.kind == CHANCE]
    return told


def test_a_chance_is_told_at_the_set_one_and_again_only_after_it_fell_to_three_quarters_of_it():
    assert chances([0.39, 0.40, 0.31, 0.41, 0.29, 0.45]) == [1, 5]
    assert chances([0.40, 0.29, 0.39, 0.40]) == [0, 3]


def test_a_chance_that_is_not_known_changes_nothing():
    assert chances([0.5, None, 0.5, None, 0.2, None, 0.5]) == [0, 6]


def test_a_state_that_is_not_known_changes_nothing():
    memory = {"state": Told(what="dry", event="x")}
    verdict = judge(OUTLET, RULES, replace(FACTS, state="unknown"), memory, now=NOON)
    assert (verdict.raised, verdict.standing, verdict.quiet) == ((), (), ())
    assert verdict.memory["state"] == memory["state"]


@given(st.lists(st.sampled_from(["running", "dry", "unknown"]), max_size=30), st.integers(0, 80))
def test_what_was_told_last_is_right_once_a_state_has_lasted_longer_than_the_quiet_time(states, quiet):
    """Whatever the outlet did, and never the same side twice in a row, nor sooner than the quiet time."""
    rules = replace(RULES, chance=None, quiet_hours=quiet)
    memory, told, now = {}, [], NOON
    settled = states + [s for s in states[-1:] if s != "unknown"] * 10
    for hour, state in enumerate(settled):
        now = NOON + datetime.timedelta(hours=12 * hour)
        facts = replace(FACTS, state=state, state_since=f"{now.date()}")
        verdict = judge(OUTLET, rules, facts, memory, now=now, known={a.id for _, a in told})
        memory = verdict.memory
        told += [(now, a) for a in verdict.raised]
    kinds = [a.kind for _, a in told]
    assert all(a != b for a, b in itertools.pairwise(kinds))
    assert all((b - a).total_seconds() >= 3600 * quiet for (a, _), (b, _) in itertools.pairwise(told))
    assert len({a.id for _, a in told}) == len(told)
    if settled and settled[-1] != "unknown" and kinds:
        assert kinds[-1] == ("stopped" if settled[-1] == "dry" else "running-again")
    if settled and settled[-1] == "dry":
        assert kinds


@given(st.lists(st.floats(0, 1), max_size=30))
def test_a_chance_is_never_told_twice_without_having_been_over(values):
    told = chances(values)
    for a, b in itertools.pairwise(told):
        assert min(values[a + 1 : b]) <= 0.75 * 0.4
