"""Figures as files, drawn by a browser: the drawing library is one for pages."""

from __future__ import annotations

import base64
from concurrent.futures import Future
from typing import Any

import plotly.graph_objects as go
from plotly.io import to_json

from dashboard.browser_tab import BrowserError, BrowserTab, find_browser

KINDS = ("png", "svg")
_DRAW = """Plotly.toImage({figure}, {{format: "{kind}", width: {width}, height: {height}, scale: {scale},
  imageDataOnly: true}})"""


def drawing_library() -> str:
    """The library as a script of a page: its text must not be able to end the element that holds it."""
    from plotly.offline import get_plotlyjs

    return get_plotlyjs().replace("</script", "<\\/script")


def begin_picture(
    tab: BrowserTab, figure: go.Figure | dict[str, Any], kind: str, size: tuple[int, int], *, points: int = 2
) -> Future[str]:
    """Have a figure drawn, width and height in pixels, on a page that holds the drawing library; returns at once.

    points  of a PNG to a pixel, each way
    """
    width, height = size
    scale = points if kind == "png" else 1
    text = to_json(figure, validate=False)
    return tab.begin(_DRAW.format(figure=text, kind=kind, width=width, height=height, scale=scale))


def picture_bytes(tab: BrowserTab, kind: str, begun: Future[str]) -> bytes:
    """The bytes of the file of a picture begun before. Raises BrowserError."""
    drawn = tab.wait(begun)
    return base64.b64decode(drawn) if kind == "png" else str(drawn).encode()


def picture_file(figure: go.Figure, kind: str, size: tuple[int, int]) -> bytes:
    """One figure as the bytes of a file, by a browser started for it. Raises BrowserError, also where there is none."""
    browser = find_browser()
    if browser is None:
        raise BrowserError("no browser was found to draw with")
    with BrowserTab(browser, f"<!doctype html><script>{drawing_library()}</script><body></body>") as tab:
        return picture_bytes(tab, kind, begin_picture(tab, figure, kind, size))
