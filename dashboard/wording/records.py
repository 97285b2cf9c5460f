"""Words of the page on which visits are written down."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.wording.numbers import count_of, long_date, short_date

if TYPE_CHECKING:
    from dashboard.records.kept import Kept
    from dashboard.wording.tables import Columns
    from dashboard.workspace_settings import PermitSettings
    from hydro.problems import Problem

KINDS = {"visit": "A visit", "look": "Only: is it running?", "animal": "An animal handled"}
KIND = "What to write down"
SURFACES = {"running": "Running", "pooled": "Standing pools", "dry": "Dry"}
DONE = {"counted": "Searched and counted", "uncounted": "Searched, not counted", "not": "Not searched"}
LABELS = {
    "date": "Day",
    "time": "Time",
    "outlet": "Outlet",
    "surface": "The surface was",
    "searched": "What was done",
    "count": "Animals counted",
    "effort": "Effort",
    "adults": "of them adults",
    "juveniles": "of them juveniles",
    "gravid": "of them carrying eggs",
    "taxon": "Taxon",
    "water_temp_c": "Water temperature",
    "observers": "Who was there",
    "decon_product": "Gear cleaned with",
    "decon_dose": "Dose",
    "decon_minutes": "Minutes of contact",
    "note": "Note",
    "individual": "Mark or name of the animal",
    "stage": "Stage",
    "length_mm": "Length, mm",
    "match_confidence": "How sure the match is, 0 to 1",
    "held_minutes": "Minutes held",
}
CARRYING_EGGS = {"": "Not looked at", "yes": "Carrying eggs", "no": "No eggs"}
DEGREES = {"c": "°C", "f": "°F"}
WHO = "Your name"
WHO_HELP = "Goes into the journal beside what you write down."
SEND = "Write it down"
UNDO, TRY_AGAIN, PUT_BACK, LEAVE = "Take it out again", "Try again", "Put it back", "Leave it as it is in the file"
CORRECT, CORRECT_HEAD, WHICH = "Correct it", "Correct an entry", "Which entry"
SEND_CORRECTION, NO_CORRECTION = "Write the correction", "Leave it as it was"
REMOVE_ALL_THE_SAME = "Take it out as it stands now"
TAKE_FILE, ANOTHER_ROW = "The file is right", "That is another visit: put this one back beside it"
WRITE_CHOICE, CHOOSE_FIRST = "Write this to the file", "Both changed this: choose one."
THREE = "What the entry said, and what its row says now"
CLEANING = "Cleaning of gear"
STAGES = "Stages, temperature, people"
LATELY = "Written down here lately"
WAITING_HEAD = "Not in the file yet"
MISSING_HEAD = "No longer in the file"
MISSING = (
    "These were written to the file and are not there as written any more: somebody changed them, or saved an older copy "
    "over the file from a spreadsheet."
)
OPEN_ELSEWHERE = (
    "A spreadsheet seems to have the table open. Entries are written all the same; close it there without saving, or "
    "open it anew, before you change anything in it."
)
ONLY_RECORDERS = (
    "You can look at everything here. Writing visits down is for those whom workspace.toml names under [people] as recorders "
    "or keepers."
)
NO_TABLE = "The workspace names no visits, so nothing can be written down here yet: name a table under [surveys] first."
NO_CAPTURES = "workspace.toml names no table of captures: write captures = “captures.csv” under [surveys] first."
STATES = {
    "waiting": "waits",
    "saved": "in the file",
    "undo waiting": "removal waits",
    "undone": "taken out again",
    "dropped": "dropped",
    "correction waits": "correction waits",
}
JOURNAL: Columns = {
    "made": ("Sent (UTC)", "text"),
    "who": ("By", "text"),
    "what": ("What", "text"),
    "before": ("Before it was corrected", "text"),
    "state": ("State", "text"),
    "why": ("Why", "text"),
    "changed_by": ("Changed by", "text"),
}
CHANGED_ROW: Columns = {"what": ("", "text"), "was": ("As it was", "text"), "in_file": ("The file now", "text")}
CONFLICT: Columns = {**CHANGED_ROW, "yours": ("Yours", "text")}
HOLDING = "Keep animals wet and release them where they were found. The permit decides how long they may be held."


def effort_label(unit: str) -> str:
    return f"{LABELS['effort']}, {unit}"


def answer(last: pd.DataFrame, outlets: Mapping[str, str]) -> str:
    """The first sentence: the newest visit on record."""
    if last.empty:
        return "No visit is on record yet."
    row = last.iloc[-1]
    surface = f", surface {row['surface']}" if row["surface"] else ""
    found = "" if pd.isna(row["count"]) else f", {count_of(int(row['count']), 'animal')} counted"
    return f"The newest visit on record is of {long_date(row['date'])}, {outlets[row['outlet']]}{surface}{found}."


def permit(p: PermitSettings, day: pd.Timestamp) -> tuple[str, bool]:
    """What is known of the permit on a day, and whether it is in order."""
    if p.number is None and p.last is None:
        return "No permit is named in workspace.toml. Searching and handling may need one: ask before you go.", True
    name = f"Permit {p.number}" if p.number else "The permit"
    holder = f" of {p.holder}" if p.holder else ""
    if not p.covers(day.date()):
        span = " to ".join(f"{d:%Y-%m-%d}" for d in (p.first, p.last) if d is not None)
        return f"{name}{holder} does not cover {long_date(day)} (it is valid {span}).", False
    until = "" if p.last is None else f", valid to {long_date(pd.Timestamp(p.last))}"
    return f"{name}{holder}{until}.", True


def held_too_long(minutes: float, most: int) -> str:
    return f"{minutes:g} minutes held is longer than the {most} that workspace.toml gives for the permit."


def outcome(kept: Kept, file: str, titles: Mapping[str, str]) -> str:
    """What became of an entry, as a sentence; outlets by their `titles`."""
    what = summary(kept, titles)
    if kept.state == "saved":
        return f"In {file}: {what}."
    if kept.state in ("undone", "dropped"):
        return f"Taken out again: {what}."
    if kept.state == "correction waits":
        return f"Correction not in {file} yet: {what}; {kept.why}."
    if kept.state == "undo waiting":
        return f"Not taken out: {what}; {kept.why}."
    return f"Kept, not in {file} yet: {what}; {kept.why}. It is tried again whenever something is written down here."


def confirmed(kept: Kept, file: str, titles: Mapping[str, str]) -> str:
    """The same right after sending, by its first word saved or waiting."""
    return f"{'Saved' if settled(kept) else 'Waiting'}. {outcome(kept, file, titles)}"


def settled(kept: Kept) -> bool:
    """Whether the file says what was asked for, as far as it was."""
    return kept.state in ("saved", "undone", "dropped")


def as_written(kept: Kept, titles: Mapping[str, str]) -> str:
    by = f" by {kept.entry.who}" if kept.entry.who else ""
    made = pd.Timestamp(kept.entry.made)
    when = f"{short_date(made)} at {made:%H:%M} UTC"
    return f"{summary(kept, titles)}: written down on {when}{by}. What it said before stays in the journal."


def changed_on(line: int, file: str) -> str:
    return f"Somebody changed its row in {file} since: it is taken to be the one on line {line}. What shall it say?"


def cell(column: str, value: str) -> str:
    """One thing that an entry says, in words."""
    return {"yes": "Searched", "no": "Not searched"}.get(value, value) if column == "searched" else value or "nothing"


def from_file(column: str, value: str) -> str:
    return f"The file: {cell(column, value)}"


def from_you(column: str, value: str) -> str:
    return f"Yours: {cell(column, value)}"


def would_say(values: Mapping[str, str]) -> str:
    told = (f"{LABELS.get(k, k).lower()} {cell(k, v)}" for k, v in values.items() if v)
    return f"The row would say: {', '.join(told)}."


def summary(kept: Kept, titles: Mapping[str, str]) -> str:
    return said(kept.entry.values, titles)


def said(v: Mapping[str, str], titles: Mapping[str, str]) -> str:
    """The main things that an entry says."""
    rest = [v[k] for k in ("individual", "surface") if k in v]
    if "count" in v:
        rest.append(count_of(int(float(v["count"])), "animal"))
    return ", ".join([f"{long_date(pd.Timestamp(v['date']))}", titles.get(v["outlet"], v["outlet"]), *rest])


def not_kept(reason: str) -> str:
    return (
        f"NOT SAVED: {reason}. What you typed is still in the form: do not leave this page; copy it or try again when the "
        "cause is mended."
    )


def problem(p: Problem) -> str:
    label = LABELS.get(p.column or "", p.column or "")
    found = "" if not p.value else f" “{p.value}”"
    return f"{label}{found}: expected {p.expected}."


def history(kept: Sequence[Kept], titles: Mapping[str, str]) -> pd.DataFrame:
    """The latest entries first, for the table."""
    rows = [
        {
            "made": k.entry.made.replace("T", " ")[:16],
            "who": k.entry.who,
            "what": summary(k, titles),
            "before": "; ".join(said(v, titles) for v in k.versions),
            "state": STATES[k.state],
            "why": k.why,
            "changed_by": k.changed_by,
        }
        for k in reversed(kept)
    ]
    return pd.DataFrame(rows, columns=["made", "who", "what", "before", "state", "why", "changed_by"])
