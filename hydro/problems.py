"""What is wrong with an input, said all at once and in terms of the user's own file."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One thing that is wrong.

    file      the file as the user named it ("" where there is none)
    row       1-based line of a text file or row of a sheet, or the key of a settings file; None = the whole file
    column    the column's name as the file writes it
    value     what was found, as text
    expected  what would have been accepted, or what to say to settle the question
    """

    file: str = ""
    row: int | str | None = None
    column: str | None = None
    value: str | None = None
    expected: str

    def as_json(self) -> dict[str, object]:
        """The contract's shape, with the file beside it."""
        return {
            "file": self.file,
            "row": self.row,
            "column": self.column,
            "value": self.value,
            "expected": self.expected,
        }


class InputError(Exception):
    """The input is wrong. `problems` holds every problem found, never only the first."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        if not self.problems:
            raise ValueError("an InputError needs at least one problem")
        super().__init__(describe(self.problems))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Problem, ...]]]:
        # As it is made: what an exception hands from one process to another by itself is only its message.
        return type(self), (self.problems,)


class SourceError(Exception):
    """A service could not be reached and no kept copy exists."""


def describe(problems: Sequence[Problem], limit: int = 200) -> str:
    """All problems as text, problems that differ only in their row drawn together.

    Rows beyond the first twelve of a group, and groups beyond `limit`, are counted rather than written out
    (the machine answer holds them all).
    """
    groups: dict[tuple[str, str | None, str | None, str], list[int | str | None]] = {}
    for p in problems:
        groups.setdefault((p.file, p.column, p.value, p.expected), []).append(p.row)
    lines = [f"{len(problems)} problem{'s' if len(problems) != 1 else ''}:"]
    for number, ((file, column, value, expected), rows) in enumerate(groups.items()):
        if number == limit:
            lines.append(f"  … and {len(groups) - limit} more kinds of problem")
            break
        where = [file] if file else []
        named = [r for r in rows if r is not None]
        if named:
            shown = ", ".join(str(r) for r in named[:12])
            more = f" and {len(named) - 12} more" if len(named) > 12 else ""
            is_key = isinstance(named[0], str)
            where.append(f"{'' if is_key else 'row '}{shown}{more}")
        if column is not None:
            where.append(f"column “{column}”")
        found = f"found “{value}”; " if value is not None else ""
        lines.append(f"  {', '.join(where)}{': ' if where else ''}{found}expected {expected}")
    return "\n".join(lines)
