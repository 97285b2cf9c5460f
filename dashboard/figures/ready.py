"""A figure as the plain data that a browser draws: checked when it was drawn, and neither checked nor copied again."""

from __future__ import annotations

from typing import Any

from plotly.basedatatypes import BaseFigure


class ReadyFigure(BaseFigure):
    """Plain data in the place of a figure, for whatever shows figures through `to_dict`.

    A figure copies and encodes all its data each time it is shown, a dictionary is checked anew each time; this is
    handed on as it is and must not be changed. It can be shown and nothing else.
    """

    def __init__(self, data: dict[str, Any]) -> None:
        self._ready = data

    def to_dict(self) -> dict[str, Any]:
        return self._ready
