"""Writing an alert level into workspace.toml: `level` in the table [outlets.ID.alerts], made where there is none."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Iterator
from contextlib import suppress
from datetime import date
from pathlib import Path

from dashboard.settings_edit import (
    Attempt,
    LevelChange,
    LevelNotTakenError,
    behind_comment,
    first_that_gives,
    line_around,
    line_end,
    read_settings_text,
)
from dashboard.wording import take_level as words

TABLE, KEY = "alerts", "level"
_VALUE = re.compile(r"""(?:\b|["'])level["']?[ \t]*=[ \t]*(?P<value>"(?:[^"\\\r\n]|\\.)*"|'[^'\r\n]*'|[-+0-9.eE_]+)""")
_HEADING = re.compile(r"^[ \t]*\[[^\[\r\n][^\r\n]*(?P<end>\r?\n|$)", re.M)


def plan_alert_level(folder: Path, outlet: str, new: str, *, today: date, because: str) -> LevelChange:
    """The change that sets the alert level of an outlet to the text `new`, without writing anything.

    `because` goes into the comment beside the level. Raises LevelNotTakenError where the settings cannot be changed
    safely, or would then not be accepted.
    """
    found = read_settings_text(folder, outlet)
    wanted = copy.deepcopy(found.settings)
    table = wanted["outlets"][outlet].setdefault(TABLE, {})
    if not isinstance(table, dict):
        raise LevelNotTakenError(words.alert_not_taken_by_hand(outlet, new))
    is_set = KEY in table
    table[KEY] = new
    attempts = _replaced if is_set else _added
    change = first_that_gives(found, wanted, attempts(found.text, outlet, new, today, because), outlet=outlet, new=new)
    if change is None:
        raise LevelNotTakenError(words.alert_not_taken_by_hand(outlet, new))
    return change


def _comment(old: str | None, today: date, because: str) -> str:
    return f"# was {old or 'not set'} until {today:%Y-%m-%d}; {because}"


def _replaced(text: str, outlet: str, new: str, today: date, because: str) -> Iterator[Attempt]:
    """Each value of a key `level` in turn replaced."""
    for value in _VALUE.finditer(text):
        start, end = line_around(text, value.start())
        code, comment = behind_comment(text[value.end("value") : end], _comment(value["value"], today, because))
        after = f'{text[start : value.start("value")]}"{new}"{code}  {comment}'
        yield Attempt(
            text=text[:start] + after + text[end:], old=value["value"], line_before=text[start:end], line_after=after
        )


def _added(text: str, outlet: str, new: str, today: date, because: str) -> Iterator[Attempt]:
    """A line below the heading of the outlet's own alerts, else a new table at the end of each section in turn."""
    line, end = f'{KEY} = "{new}"  {_comment(None, today, because)}', line_end(text)
    headings = list(_HEADING.finditer(text))
    for heading in headings:
        if _names(heading[0], "outlets", outlet, TABLE):
            head = text[: heading.end()] if heading["end"] else text[: heading.end()] + end
            yield Attempt(text=f"{head}{line}{end}{text[heading.end() :]}", old=None, line_before=None, line_after=line)
    for k, heading in enumerate(headings):
        if not _names(heading[0], "outlets", outlet):
            continue
        stop = headings[k + 1].start() if k + 1 < len(headings) else len(text)
        # Comments and blank lines before the next heading belong to that one.
        lines = text[heading.start() : stop].splitlines(keepends=True)
        while lines and (not lines[-1].strip() or lines[-1].lstrip().startswith("#")):
            lines.pop()
        at = heading.start() + len("".join(lines))
        head = text[:at] if text[:at].endswith("\n") else text[:at] + end
        after = f"[outlets.{_key(outlet)}.{TABLE}]{end}{line}"
        yield Attempt(text=f"{head}{end}{after}{end}{text[at:]}", old=None, line_before=None, line_after=after)


def _names(heading: str, *path: str) -> bool:
    """Whether a heading names this table."""
    with suppress(tomllib.TOMLDecodeError):
        found = tomllib.loads(heading)
        for name in path:
            if list(found) != [name]:
                return False
            found = found[name]
        return found == {}
    return False


def _key(name: str) -> str:
    """A key as TOML writes it: bare where it may be."""
    if re.fullmatch(r"[A-Za-z0-9_-]+", name):
        return name
    escaped = name.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
