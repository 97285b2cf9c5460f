"""An entry and what became of it, as the lines of the journal tell it one after another."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from dashboard.records.entry import Entry

WAITING, SAVED, UNDO_WAITING, UNDONE, DROPPED = "waiting", "saved", "undo waiting", "undone", "dropped"
CORRECTING = "correction waits"


@dataclass(frozen=True, kw_only=True)
class Kept:
    """An entry and what became of it.

    record    the row as it was (or is about to be) written, "" before the first try
    before    rows of the table with the same cells before the last try: tells a crash before writing from one after
    why       why it still waits, "" where that is not known
    changed   when its state changed last (UTC), and `changed_by` whom
    wanted    what a correction that is not in the file yet wants it to say, None where none waits
    target    the row that the correction is about to write, "" before the first try
    found     whether a person has seen that the row stands in the file otherwise than it was written
    versions  everything it has said, the present not included, oldest first
    """

    entry: Entry
    state: str = WAITING
    record: str = ""
    before: int = -1
    why: str = ""
    changed: str = ""
    changed_by: str = ""
    wanted: Mapping[str, str] | None = None
    target: str = ""
    found: bool = False
    versions: tuple[Mapping[str, str], ...] = ()

    def says(self, values: Mapping[str, str]) -> Kept:
        """The same entry with other values."""
        return replace(
            self, entry=replace(self.entry, values=values), versions=(*self.versions, self.entry.values), wanted=None,
            target="", found=False,
        )  # fmt: skip


def entered(entry: Entry) -> dict[str, object]:
    """The line that enters an entry, but for the time."""
    return {
        "event": "entered",
        "id": entry.id,
        "table": entry.table,
        "made": entry.made,
        "who": entry.who,
        "values": dict(entry.values),
    }


def lines_of(kept: Kept) -> list[dict[str, object]]:
    """The lines from which an entry that waits, or a correction that waits, can be taken up again."""
    if kept.state == WAITING:
        return [entered(kept.entry)]
    if kept.state != CORRECTING:
        return []
    by = {"id": kept.entry.id, "at": kept.changed, "who": kept.changed_by}
    seen = "found as" if kept.found else "about to write"
    return [
        entered(kept.entry),
        {"event": seen, "record": kept.record, "before": 0, **by},
        {"event": "written", **by},
        {"event": "correction asked", "values": dict(kept.wanted or {}), **by},
    ]


def replay(found: dict[str, Kept], line: dict[str, object]) -> None:
    """Let one line of the journal change what is known."""
    id, event = str(line["id"]), line["event"]
    if event == "entered":
        entry = Entry(
            id=id, table=str(line["table"]), made=str(line["made"]), who=str(line["who"]), values=_texts(line["values"])
        )  # fmt: skip
        found.setdefault(id, Kept(entry=entry))
        return
    kept = found[id]
    if event in ("about to write", "about to remove"):
        kept = replace(kept, record=str(line["record"]), before=int(str(line["before"])))
    elif event == "about to correct":
        kept = replace(kept, target=str(line["record"]), before=int(str(line["before"])))
    elif event == "found as":
        kept = replace(kept, record=str(line["record"]), found=True)
    elif event == "refused":
        kept = replace(kept, why=str(line["why"]))
    elif event in _BECOMES:
        if event == "corrected":
            kept = replace(kept.says(kept.wanted or kept.entry.values), record=kept.target or kept.record)
        elif event in ("changed", "taken from file"):
            kept = replace(kept.says(_texts(line["values"])), record=str(line.get("record", "")))
        elif event == "correction asked":
            kept = replace(kept, wanted=_texts(line["values"]), target="")
        elif event == "correction given up":
            kept = replace(kept, wanted=None, target="", found=False)
        elif event == "put back":
            kept = replace(kept, record="")
        kept = replace(
            kept,
            state=_BECOMES[str(event)],
            why="",
            before=-1 if event in _ANEW else kept.before,
            changed=str(line["at"]),
            changed_by=str(line.get("who", kept.changed_by)),
        )
    found[id] = kept


def _texts(values: object) -> dict[str, str]:
    if not isinstance(values, dict):
        raise TypeError("values by column are needed")
    return {str(k): str(v) for k, v in values.items()}


_BECOMES = {"written": SAVED, "undo asked": UNDO_WAITING, "removed": UNDONE, "dropped": DROPPED, "put back": WAITING,
            "undo given up": SAVED, "changed": WAITING, "correction asked": CORRECTING, "corrected": SAVED,
            "correction given up": SAVED, "taken from file": SAVED}  # fmt: skip
#: After these the number of like rows in the file says nothing any more.
_ANEW = ("put back", "undo asked", "changed", "correction asked", "corrected", "taken from file")
