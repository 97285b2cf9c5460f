"""A pass killed at any step: after the next one every alert was sent, none is marked sent that was not, at most one
arrived twice."""

from __future__ import annotations

import os

import pytest

from tests.dashboard.watch.kill_trials import Hook, kills, ready, trial
from tests.dashboard.watch.passes_that_die import Dying

pytestmark = pytest.mark.skipif(
    not hasattr(os, "fork"), reason="this system cannot fork, so a pass cannot be killed so"
)


def test_a_killed_pass_loses_nothing_and_doubles_one_message_at_most(tmp_path, mail_server, httpserver):
    hook = Hook()
    httpserver.expect_request("/hook").respond_with_handler(hook)
    address = httpserver.url_for("/hook")
    springs = ready(tmp_path / "springs")
    with Dying() as dying:
        # Two passes that are not killed: the first pays for what is loaded late, the second tells how long one takes.
        trial(springs, tmp_path / "first", dying, mail_server, hook, address, {})
        (tmp_path / "whole").mkdir()
        whole = ready(tmp_path / "whole" / "springs")
        measured = dying.run(whole.folder, {"MAIL": mail_server.address, "HOOK": address}, whole.now)
        assert not measured["killed"] and measured["steps"] > 40
        done = [
            trial(springs, tmp_path / f"trial-{i}", dying, mail_server, hook, address, kill)
            for i, kill in enumerate(kills(20, measured["steps"], measured["seconds"], seed=7))
        ]
    assert sum(t.killed for t in done) >= 15
    assert {t.raised for t in done} == {3}
    assert [t for t in done if not t.good] == []
    assert any(t.twice for t in done)  # the doubling that cannot be excluded does occur, so the trials reach it
