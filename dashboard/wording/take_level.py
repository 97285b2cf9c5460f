"""Sentences about writing a learnt level into workspace.toml."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from hydro.problems import describe

if TYPE_CHECKING:
    from hydro.problems import Problem

USE_LEVEL = "Use this level"
USE_LEVEL_ASK, WRITE_IT, LEAVE_IT = "Use this level …", "Write it into workspace.toml", "Leave it as it is"
SAME_LEVEL = "The level set in the workspace is this one already."
USE_ALERT_LEVEL, USE_ALERT_LEVEL_ASK = "Use this alert level", "Use this alert level …"
SAME_ALERT_LEVEL = "The alert level set in the workspace is this one already."
NO_ALERT_LEVEL_TO_USE = "No alert level is recommended here, so there is none to take over."
WHAT_AN_ALERT_LEVEL_CHANGES = (
    "From then on this level is shown and judged as the one that is set, and every pass of the watch uses it. The old "
    "value stays in the file as a comment; nothing else is written. Whom to tell, and how, is for you to set up."
)
NOTHING_TO_USE = "There is no learnt level to use here."
WHAT_CHANGES = (
    "Every page, every command and every later alert uses the new level from then on. The old value stays in the file "
    "as a comment on the same line, and beside it is noted that the level was learnt; nothing else is written."
)
WHAT_CHANGES_BY_HAND = (
    "Every page, every command and every later alert uses the new level from then on. The old value stays in the file "
    "as a comment on the same line. The level counts as set by hand, not as learnt; nothing else is written."
)
THE_LINE_IS, THE_LINE_BECOMES, THE_LINE_ADDED = "The line now", "The line then", "The line that is added"
NOT_TAKEN_CHANGED = (
    "Nothing was written: workspace.toml has been changed since this page showed it. Look at the values again, then "
    "decide anew."
)


def old_and_new(old: str | None, new: str) -> str:
    """What “Use this level” would change."""
    return f"Stop level in workspace.toml: {old.strip(chr(34) + chr(39)) if old else 'not set'} → {new}."


def level_taken(old: str | None, new: str, file: str) -> str:
    """What was written."""
    before = f"; it was {old.strip(chr(34) + chr(39))} before" if old else "; none was set before"
    return f"Written to {file}: stops below {new}{before}. The old value stands beside it as a comment."


def not_taken_by_hand(outlet: str, new: str) -> str:
    """The file is written in a way that cannot be changed on one line."""
    return (
        f"Nothing was written: the level of “{outlet}” stands in workspace.toml in a way that cannot be changed safely "
        f'on one line. Set it by hand: stops_below = "{new}" under [outlets.{outlet}].'
    )


def alert_not_taken_by_hand(outlet: str, new: str) -> str:
    """The file is written in a way in which the alert level cannot be set on a line of its own."""
    return (
        f"Nothing was written: the settings of “{outlet}” stand in workspace.toml in a way that cannot be changed "
        f'safely. Set it by hand: level = "{new}" under [outlets.{outlet}.alerts].'
    )


def alert_old_and_new(old: str | None, new: str) -> str:
    """What using the recommended alert level would change."""
    return f"Alert level in workspace.toml: {old.strip(chr(34) + chr(39)) if old else 'not set'} → {new}."


def alert_taken(old: str | None, new: str, file: str) -> str:
    """What was written."""
    before = f"; it was {old.strip(chr(34) + chr(39))} before" if old else "; none was set before"
    return f"Written to {file}: alert at {new} or below{before}. The old value stands beside it as a comment."


def not_taken_unreadable(why: str) -> str:
    return f"Nothing was written: workspace.toml cannot be read ({why})."


def not_taken_protected(file: str) -> str:
    return f"Nothing was written: {file} is write-protected. Lift that first, or set the level by hand."


def not_taken_no_room(why: str) -> str:
    return f"Nothing was written: the folder of the workspace does not take a new file ({why})."


def not_taken_refused(problems: Sequence[Problem]) -> str:
    """The file would not be accepted with the new level."""
    lines = " ".join(f"{line.strip()}." for line in describe(problems).splitlines()[1:])
    return f"This level cannot be used as the file stands, and nothing was written: {lines} Change that in workspace.toml first."


ONLY_KEEPERS = "Taking a level over is for those whom workspace.toml names under [people] as keepers."
