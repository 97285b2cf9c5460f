"""What the first page says, as plain texts and pictures, so that it can be kept and shown before anything is read."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dashboard.answers.status import OutletStatus, StatusAnswer
    from dashboard.workspace import Workspace


@dataclass(frozen=True, kw_only=True)
class OutletCheck:
    """One outlet on the page.

    label      the outlet's name among the choices of outlets, which links go by
    line       the state's word, and the rest of its line
    has_picture  whether discharge is ever known
    picture    the last days as HTML around an SVG, which no library has to draw; None where it has not been drawn
    key        the key to the marks of the picture
    """

    outlet: str
    title: str
    label: str
    line: tuple[str, str]
    perennial: bool
    has_picture: bool
    picture: str | None
    key: str
    has_outlook: bool
    reasons: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class TripCheck:
    """The whole page in one unit: its first sentence and its outlets."""

    unit: str
    answer: str
    outlets: tuple[OutletCheck, ...]

    def as_text(self) -> str:
        return json.dumps(asdict(self), ensure_ascii=False)

    @classmethod
    def from_text(cls, text: str) -> TripCheck:
        """Raises ValueError, KeyError or TypeError where the text is not what `as_text` wrote."""
        data: dict[str, Any] = json.loads(text)
        outlets = [
            OutletCheck(**{**o, "line": tuple(o["line"]), "reasons": tuple(o["reasons"])}) for o in data["outlets"]
        ]
        return cls(unit=data["unit"], answer=data["answer"], outlets=tuple(outlets))


def first_open(outlets: Iterable[tuple[str, bool]]) -> str | None:
    """Which outlet's last days stand open when nobody has chosen; each as its id and whether it always runs."""
    return next((outlet for outlet, perennial in outlets if not perennial), None)


def trip_check_at_once(
    workspace: Workspace, found: StatusAnswer, unit: str, picture_of: Callable[[OutletStatus], str]
) -> TripCheck:
    """The page with no more pictures than stand open at first."""
    opened = first_open((id, o.perennial) for id, o in workspace.outlets.items())
    return trip_check(workspace, found, unit, lambda o: picture_of(o) if o.outlet == opened else None)


def trip_check(
    workspace: Workspace, found: StatusAnswer, unit: str, picture_of: Callable[[OutletStatus], str | None]
) -> TripCheck:
    """The page of a status; `picture_of` gives what `last_days_still` does, or None where it can wait."""
    from dashboard.figures.outlet_pictures import last_days_key
    from dashboard.wording import pages as words
    from dashboard.wording.status import line, reasons
    from dashboard.wording.status_page import status_summary, trip_words

    header, labels = replace(found.header, unit=unit), words.outlet_labels(workspace.outlets)
    outlets = []
    for o in found.outlets:
        # The trip has words of its own here, with the day of the week.
        state, *rest = line(replace(o, trip=None)).split("   ")
        if o.trip is not None:
            rest.append(trip_words(o))
        known = not workspace.flow_of(o.outlet).empty
        outlets.append(
            OutletCheck(
                outlet=o.outlet,
                title=o.title,
                label=labels[o.outlet],
                line=(f"{o.title}: {state}", " · ".join(rest)),
                perennial=workspace.outlets[o.outlet].perennial,
                has_picture=known,
                picture=picture_of(o) if known else None,
                key=last_days_key(o),
                has_outlook=o.ahead.why_none is None,
                reasons=tuple(reasons(o, header)),
            )
        )
    return TripCheck(unit=unit, answer=status_summary(found, workspace.as_of), outlets=tuple(outlets))
