"""Sentences about many workspaces at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording import cautions
from dashboard.wording.numbers import count_of

if TYPE_CHECKING:
    from dashboard.answers.network import NetworkAnswer


def answer(a: NetworkAnswer) -> str:
    """The first sentence: how many outlets run, and what is not known."""
    words = [word for w in a.workspaces for word in w.words]
    running, dry = words.count("running"), words.count("dry")
    unread = sum(w.why is not None for w in a.workspaces)
    text = f"{count_of(len(words), 'outlet')} in {count_of(len(a.workspaces) - unread, 'workspace')}: {running} running, {dry} dry, "
    text += f"{len(words) - running - dry} not known"
    return f"{text}; {count_of(unread, 'workspace')} could not be read." if unread else f"{text}."


def as_text(a: NetworkAnswer) -> str:
    """The whole answer for a terminal."""
    lines = [answer(a)]
    for w in a.workspaces:
        if w.why is not None:
            lines += ["", f"{w.folder}: could not be read", *(f"  {part}" for part in w.why.splitlines())]
            continue
        width = max((len(title) for title, _ in w.lines), default=0)
        lines += ["", f"{w.title}, as of {w.as_of} ({w.folder})"]
        lines += [f"  {title:<{width}}   {line}" for title, line in w.lines]
    return "\n".join([*lines, "", cautions.PROVISIONAL, cautions.NOT_A_WARNING])
