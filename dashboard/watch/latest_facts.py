"""The facts of every outlet with rules as they are now: kept ones where nothing changed, else worked out anew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from dashboard.watch.facts import OutletFacts, gather
from dashboard.watch.inputs import inputs_of, past_settings
from dashboard.watch.memory import Remembered
from dashboard.watch.past import PastStates
from dashboard.workspace import Workspace, load_workspace
from dashboard.workspace_settings import WorkspaceFile
from hydro.problems import InputError, SourceError


@dataclass(frozen=True, eq=False, kw_only=True)
class LatestFacts:
    """Facts by outlet with the digests of their inputs, past states to keep, and outlets whose files cannot be read."""

    facts: Mapping[str, tuple[str, OutletFacts]]
    past: Mapping[str, PastStates]
    blind: set[str]
    unread: InputError | SourceError | None


def latest_facts(folder: Path, settings: WorkspaceFile, before: Remembered, day: pd.Timestamp) -> LatestFacts:
    """Those of the last pass where nothing they rest on has changed or the files cannot be read, else anew."""
    inputs = inputs_of(folder, settings, f"{day:%Y-%m-%d}")
    kept, stale = {}, []
    for id in settings.alerts:
        if id in before.facts and before.facts[id][0] == inputs[id]:
            kept[id] = before.facts[id]
        else:
            stale.append(id)
    if not stale:
        return LatestFacts(facts=kept, past={}, blind=set(), unread=None)
    loaded, unread = _loaded(folder, day, stale)
    past = {}
    for id in stale:
        if id in loaded:
            facts, states = gather(
                loaded[id], id, settings.alerts[id], before.past.get(id), past_settings(settings, id)
            )
            kept[id] = (inputs[id], facts)
            if states is not None:
                past[id] = states
        elif id in before.facts:
            kept[id] = before.facts[id]
    blind = {id for id in stale if id not in loaded}
    return LatestFacts(
        facts={id: kept[id] for id in settings.alerts if id in kept}, past=past, blind=blind, unread=unread
    )


def _loaded(
    folder: Path, day: pd.Timestamp, outlets: Sequence[str]
) -> tuple[dict[str, Workspace], InputError | SourceError | None]:
    """The workspace by outlet, and why it could not be read for those that are missing.

    A file that is wrong leaves only the outlets in the dark that depend on it.
    """
    try:
        whole = load_workspace(folder, as_of=day.date(), only=outlets)
        return dict.fromkeys(outlets, whole), None
    except (InputError, SourceError) as error:
        unread = error
    found = {}
    for id in outlets if len(outlets) > 1 else ():
        try:
            found[id] = load_workspace(folder, as_of=day.date(), only=[id])
        except (InputError, SourceError):
            continue  # what is wrong with it is part of what was wrong with all
    return found, unread
