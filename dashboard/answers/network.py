"""Many workspaces at once: the state of every outlet in each, in processes where there are many."""

from __future__ import annotations

import datetime
import os
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import pandas as pd

from dashboard.answers.answer import METHOD_VERSION
from dashboard.answers.status import status
from dashboard.settings_values import FILE_NAME
from dashboard.side_by_side import side_by_side
from dashboard.workspace import load_workspace
from hydro.problems import InputError, Problem, SourceError


@dataclass(frozen=True, kw_only=True)
class OneWorkspace:
    """What one workspace answers.

    folder    its path below the root
    answer    as `status --json` gives it; None where `why` says why there is none
    lines     title and line of text of each outlet
    unreached whether a service without a kept copy is the reason
    """

    folder: str
    title: str
    as_of: str
    answer: dict[str, object] | None
    lines: tuple[tuple[str, str], ...] = ()
    words: tuple[str, ...] = ()
    why: str | None = None
    unreached: bool = False


@dataclass(frozen=True, kw_only=True)
class NetworkAnswer:
    """The answer to `network`: one entry a workspace, in the order of their paths."""

    root: str
    workspaces: tuple[OneWorkspace, ...]

    def as_json(self) -> dict[str, object]:
        return {
            "root": self.root,
            "workspaces": [
                {"folder": w.folder, **w.answer} if w.answer is not None else {"folder": w.folder, "why": w.why}
                for w in self.workspaces
            ],
            "method_version": METHOD_VERSION,
        }


def network(root: Path, *, as_of: datetime.date | None = None, trip: datetime.date | None = None) -> NetworkAnswer:
    """The state of every outlet in every workspace below `root`.

    One that cannot be read has its reason in place of an answer and keeps none of the others from theirs. Raises
    InputError where there is no workspace at all.
    """
    folders = workspaces_below(root)
    if not folders:
        raise InputError(
            [Problem(file=f"{root}", expected=f"a folder with workspaces ({FILE_NAME}) in it or below it")]
        )
    found = side_by_side(partial(_one, root, as_of, trip), folders)
    return NetworkAnswer(root=f"{root}", workspaces=tuple(found))


def workspaces_below(root: Path) -> list[Path]:
    """Folders with a workspace, `root` included. Hidden folders, links and what lies in a workspace are left out."""
    found = []
    for folder, below, files in os.walk(root):
        if FILE_NAME in files:
            found.append(Path(folder))
            below.clear()
        below[:] = sorted(name for name in below if not name.startswith("."))
    return sorted(found)


def _one(root: Path, as_of: datetime.date | None, trip: datetime.date | None, folder: Path) -> OneWorkspace:
    from dashboard.wording.status import line

    name = folder.relative_to(root).as_posix()
    nothing = partial(OneWorkspace, folder=name, title=name, as_of="", answer=None)
    try:
        workspace = load_workspace(folder, as_of=as_of)
        answer = status(workspace, trip=None if trip is None else pd.Timestamp(trip))
    except InputError as error:
        return nothing(why=f"{error}")
    except SourceError as error:
        return nothing(why=f"{error}", unreached=True)
    return OneWorkspace(
        folder=name,
        title=answer.header.title,
        as_of=answer.header.as_of,
        answer=answer.as_json(),
        lines=tuple((o.title, line(o)) for o in answer.outlets),
        words=tuple(o.word for o in answer.outlets),
    )
