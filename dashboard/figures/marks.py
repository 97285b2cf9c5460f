"""Shapes and colours of the things shown: shape first, colour second. Each colour holds 3:1 on white and on dark."""

from __future__ import annotations

WATER = "#0072B2"
STOP = "#D55E00"
ANIMALS = "#009E73"
EXPECTED = "#CC79A7"
#: Other outlets, beside the one shown; 3:1 on white and on the dark page.
OTHERS = "#808080"

#: What a person saw of the surface: marker symbol and colour.
SURFACE_MARKS = {
    "running": ("triangle-up", WATER),
    "pooled": ("square", EXPECTED),
    "dry": ("x-thin", STOP),
}
FOUND_SYMBOL, NONE_FOUND_SYMBOL = "diamond", "diamond-open"
NOT_COUNTED_SYMBOL, NOT_SEARCHED_SYMBOL = "diamond-open-dot", "line-ns"
DRY_PATTERN = "/"
DASHES = ("dash", "dot", "dashdot", "longdash")


def tint(colour: str, opacity: float) -> str:
    """A colour as rgba."""
    r, g, b = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
    return f"rgba({r},{g},{b},{opacity:g})"
