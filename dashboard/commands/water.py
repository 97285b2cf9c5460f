"""Commands: status, network, spells, threshold, outlook, alert levels, watch."""

from __future__ import annotations

import argparse

from dashboard.commands.asked import DONE, UNREACHABLE, WRONG_INPUT, load, show


def run_status(arguments: argparse.Namespace) -> int:
    workspace = load(arguments)
    import pandas as pd

    from dashboard.answers.status import status
    from dashboard.wording.status import as_text

    trip = None if arguments.trip is None else pd.Timestamp(arguments.trip)
    return show(status(workspace, outlets=arguments.outlet, trip=trip), as_text, arguments.json)


def run_network(arguments: argparse.Namespace) -> int:
    from dashboard.answers.network import network
    from dashboard.wording.network import as_text

    answer = network(arguments.root, as_of=arguments.as_of, trip=arguments.trip)
    show(answer, as_text, arguments.json)
    unread = [w for w in answer.workspaces if w.why is not None]
    if not unread:
        return DONE
    return UNREACHABLE if all(w.unreached for w in unread) else WRONG_INPUT


def run_spells(arguments: argparse.Namespace) -> int:
    from dashboard.answers.spells import spells
    from dashboard.wording.spells import as_text

    return show(spells(load(arguments), outlets=arguments.outlet), as_text, arguments.json)


def run_threshold(arguments: argparse.Namespace) -> int:
    from dashboard.answers.threshold import threshold
    from dashboard.wording.threshold import as_text

    answer = threshold(load(arguments), outlets=arguments.outlet, level=arguments.level, seed=arguments.seed)
    return show(answer, as_text, arguments.json)


def run_outlook(arguments: argparse.Namespace) -> int:
    from dashboard.answers.outlook import outlook
    from dashboard.wording.outlook import as_text

    answer = outlook(load(arguments), outlets=arguments.outlet, horizon=arguments.days, seed=arguments.seed)
    return show(answer, as_text, arguments.json)


def run_alert_levels(arguments: argparse.Namespace) -> int:
    from dashboard.answers.alert_levels import alert_levels, needs_of, tries_of
    from dashboard.wording.alert_levels_text import as_text

    needs = needs_of(
        lead_days=arguments.lead_days,
        hit_rate=arguments.hit_rate,
        miss_cost=arguments.miss_cost,
        horizon_days=arguments.horizon,
    )
    tries = tries_of(arguments.tries)
    answer = alert_levels(load(arguments), outlets=arguments.outlet, needs=needs, tries=tries)
    return show(answer, as_text, arguments.json)


def run_watch(arguments: argparse.Namespace) -> int:
    from dashboard.watch_command import run_watch

    return run_watch(arguments)
