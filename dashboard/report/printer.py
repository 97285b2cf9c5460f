"""A page that a browser prints, its parts put into their places as they become ready."""

from __future__ import annotations

import base64
import json
from concurrent.futures import Future

from dashboard.browser_tab import BrowserError, BrowserTab

#: Elements read from a text this way run their scripts, as those of a file do.
_FILL = """document.getElementById({id}).replaceWith(
  (() => {{ const r = document.createRange(); r.selectNode(document.querySelector("main")); return r; }})()
  .createContextualFragment({text}))"""
#: Pictures not drawn, after what one still has to do in the page's own queue when its script is done.
_UNDRAWN = """new Promise(done => document.fonts.ready.then(() => setTimeout(() => setTimeout(() => done(
  [...document.querySelectorAll("figure")].filter(f => !f.querySelector("svg")).length)))))"""


class Printer(BrowserTab):
    """Draws the parts of a page while other parts are being worked out.

    Most of the time that a browser takes to print a report goes by before it prints: it starts up, reads the drawing
    library, draws. The page given at first has a `<template id=NAME>` inside `<main>` for every part to come.
    """

    def __init__(self, browser: str, page: str) -> None:
        self._parts: list[Future[None]] = []
        super().__init__(browser, page)

    def fill(self, name: str, text: str) -> None:
        """Put a part into its place; returns at once."""
        self._parts.append(self.begin(_FILL.format(id=json.dumps(name), text=json.dumps(text))))

    def print(self) -> bytes:
        """The PDF of the page with all parts filled so far. Raises BrowserError."""
        self.wait(*self._parts)
        undrawn = self.run(_UNDRAWN)
        if undrawn:
            raise BrowserError(f"{undrawn} pictures could not be drawn")
        asked = {"preferCSSPageSize": True, "printBackground": True, "generateTaggedPDF": True}
        pdf = base64.b64decode(self.command("Page.printToPDF", asked)["data"])
        if pdf[:5] != b"%PDF-":
            raise BrowserError("the browser printed nothing")
        return pdf
