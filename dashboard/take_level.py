"""Writing a stop level into workspace.toml: one value on one line and, where it was learnt, beside it that it was.

`stops_below_learnt` holds the learnt level that was taken over. While `stops_below` is the same the level counts as
learnt; once a person writes or chooses another one it counts as set again, without anybody having to remember the
second key.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

from dashboard.settings_edit import (
    Attempt,
    LevelChange,
    LevelNotTakenError,
    behind_comment,
    first_that_gives,
    level_text,
    line_around,
    line_end,
    read_settings_text,
    write_change,
)
from dashboard.wording import take_level as words

__all__ = ["LevelChange", "LevelNotTakenError", "level_text", "plan_change", "write_change"]

KEY, LEARNT_KEY = "stops_below", "stops_below_learnt"
_VALUE_TEXT = r"""(?P<value>"(?:[^"\\\r\n]|\\.)*"|'[^'\r\n]*'|[-+0-9.eE_]+)"""
# A key, the equals sign, and a value on one line: a text in quotes or a number.
_VALUE = re.compile(rf"""(?:\b|["'])stops_below["']?[ \t]*=[ \t]*{_VALUE_TEXT}""")
_LEARNT = re.compile(rf"""(?:\b|["'])stops_below_learnt["']?[ \t]*=[ \t]*{_VALUE_TEXT}""")
_FLOW_LINE = re.compile(r"""^(?P<indent>[ \t]*)(?:flow|"flow"|'flow')[ \t]*=[^\r\n]*(?P<end>\r?\n|$)""", re.M)


def plan_change(folder: Path, outlet: str, new: str, *, today: date, sightings: int | None) -> LevelChange:
    """The change that sets `stops_below` of an outlet to the text `new`, without writing anything.

    The unit of `new` is the caller's choice; `today` and the number of `sightings` that the level was learnt from go
    into the comment. None stands for a level that a person chose: then nothing says that it was learnt. Raises
    LevelNotTakenError where the settings cannot be changed safely, or would then not be accepted.
    """
    found = read_settings_text(folder, outlet)
    wanted = copy.deepcopy(found.settings)
    table = wanted["outlets"][outlet]
    is_set, has_learnt = KEY in table, LEARNT_KEY in table
    table[KEY] = new
    because = "chosen by hand" if sightings is None else f"learnt from {sightings} sightings"
    if sightings is not None:
        table[LEARNT_KEY] = new
    if not is_set:
        attempts = _added(found.text, new, _comment(None, today, because), learnt=sightings is not None)
    elif sightings is None:
        attempts = _value_replaced(found.text, new, today, because)
    elif has_learnt:
        attempts = _both_replaced(found.text, new, today, because)
    else:
        attempts = _replaced(found.text, new, today, because)
    change = first_that_gives(found, wanted, attempts, outlet=outlet, new=new)
    if change is None:
        raise LevelNotTakenError(words.not_taken_by_hand(outlet, new))
    return change


def _comment(old: str | None, today: date, because: str) -> str:
    return f"# was {old or 'not set'} until {today:%Y-%m-%d}; {because}"


def _value_replaced(text: str, new: str, today: date, because: str) -> Iterator[Attempt]:
    """Each value in turn replaced, and nothing else."""
    for value in _VALUE.finditer(text):
        start, end = line_around(text, value.start())
        code, comment = behind_comment(text[value.end("value") : end], _comment(value["value"], today, because))
        after = f'{text[start : value.start("value")]}"{new}"{code}  {comment}'
        yield Attempt(
            text=text[:start] + after + text[end:],
            old=value["value"],
            line_before=text[start:end],
            line_after=after,
        )


def _replaced(text: str, new: str, today: date, because: str) -> Iterator[Attempt]:
    """Each value in turn replaced, with the second key on a line below it or, in a table on one line, behind it."""
    for value in _VALUE.finditer(text):
        start, end = line_around(text, value.start())
        code, comment = behind_comment(text[value.end("value") : end], _comment(value["value"], today, because))
        head = f'{text[start : value.start("value")]}"{new}"'
        quote = text[value.start()] if text[value.start()] in "\"'" else ""
        key = f"{text[start : value.start()]}{quote}{LEARNT_KEY}{quote}"
        below = f'{head}{code}  {comment}{line_end(text)}{key} = "{new}"'
        behind = f'{head}, {LEARNT_KEY} = "{new}"{code}  {comment}'
        for after in (below, behind):
            yield Attempt(
                text=text[:start] + after + text[end:],
                old=value["value"],
                line_before=text[start:end],
                line_after=after,
            )


def _both_replaced(text: str, new: str, today: date, because: str) -> Iterator[Attempt]:
    """Each pair of values in turn replaced."""
    for learnt in _LEARNT.finditer(text):
        half = f'{text[: learnt.start("value")]}"{new}"{text[learnt.end("value") :]}'
        yield from _value_replaced(half, new, today, because)


def _added(text: str, new: str, comment: str, *, learnt: bool) -> Iterator[Attempt]:
    """Lines added below each `flow = …` in turn."""
    for found in _FLOW_LINE.finditer(text):
        end = found["end"] or line_end(text)
        after = f'{found["indent"]}{KEY} = "{new}"  {comment}'
        if learnt:
            after += f'{end}{found["indent"]}{LEARNT_KEY} = "{new}"'
        head = text[: found.end()] if found["end"] else text[: found.end()] + end
        yield Attempt(text=head + after + end + text[found.end() :], old=None, line_before=None, line_after=after)
