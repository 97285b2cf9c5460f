"""What a report becomes part by part, while other parts are being worked out: texts, printed pages, drawn pictures."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass, field

from dashboard.browser_tab import find_browser
from dashboard.figures.drawing import Drawing
from dashboard.figures.picture_file import KINDS, begin_picture, picture_bytes
from dashboard.report.assemble import PARTS
from dashboard.report.html_page import PICTURE_PX, on_paper, page, rest_html, section_html, top_html
from dashboard.report.printer import Printer
from dashboard.report.section import Plate, Report, Section
from dashboard.report.slides import slide_drawing
from dashboard.wording import report as words

#: Places of a report before its first and after its last section.
_TOP, _REST = "place-top", "place-rest"
#: Points to a pixel of a slide's picture: small as it is for its letters' sake, it fills a wall.
_ON_A_WALL = 3


@dataclass(frozen=True, eq=False, kw_only=True)
class Wanted:
    """Which files are made beside the HTML file: a PDF; slides; tables and pictures (`files`)."""

    pdf: bool = True
    slides: bool = False
    files: bool = False

    @property
    def drawn(self) -> bool:
        """Whether pictures are wanted as files of their own or on slides, which come with them."""
        return self.slides or self.files


@dataclass(frozen=True, eq=False)
class Sheets:
    """Every section's text, made once: for the browser that prints, and for the file. The browser draws meanwhile."""

    unit: str
    wanted: Wanted
    printer: Printer | None
    made: dict[str, str] = field(default_factory=dict)
    _on_slides: dict[Plate, Future[str]] = field(default_factory=dict)
    _as_files: dict[tuple[Plate, str], Future[str]] = field(default_factory=dict)

    def add(self, part: str, sections: Sequence[Section]) -> None:
        """A part of the report is ready."""
        texts = {s.name: section_html(s, self.unit) for s in sections}
        self.made.update(texts)
        if self.printer is None:
            return
        if self.wanted.pdf:
            self.printer.fill(f"place-{part}", "".join(texts.values()))
        if self.wanted.drawn:
            for plate in (p for s in sections for p in s.plates):
                drawing, size, _ = slide_drawing(plate.drawing)
                self._on_slides[plate] = self._begin(drawing, "png", size, _ON_A_WALL)
        if self.wanted.files:
            for plate in (p for s in sections for p in s.plates):
                size = PICTURE_PX, int(plate.drawing.figure.layout.height)
                for kind in KINDS:
                    self._as_files[plate, kind] = self._begin(plate.drawing, kind, size, 2)

    def _begin(self, drawing: Drawing, kind: str, size: tuple[int, int], points: int) -> Future[str]:
        assert self.printer is not None
        return begin_picture(self.printer, on_paper(drawing.figure), kind, size, points=points)

    def printed(self, report: Report) -> bytes:
        """The PDF, when all parts have been added. Raises BrowserError."""
        assert self.printer is not None
        self.printer.begin(f"document.title = {json.dumps(words.title(report.title))}")
        self.printer.fill(_TOP, top_html(report))
        self.printer.fill(_REST, rest_html(report))
        return self.printer.print()

    def on_slide(self, plate: Plate) -> bytes:
        """A picture as its slide shows it (PNG), where slides or files are wanted. Raises BrowserError."""
        assert self.printer is not None
        return picture_bytes(self.printer, "png", self._on_slides[plate])

    def as_file(self, plate: Plate, kind: str) -> bytes:
        """A picture as a file of its own, where files are wanted. Raises BrowserError."""
        assert self.printer is not None
        return picture_bytes(self.printer, kind, self._as_files[plate, kind])


@contextmanager
def printer_for(wanted: Wanted) -> Iterator[Printer | None]:
    """A browser that gets ready for a report where one is needed and there is one."""
    browser = find_browser() if wanted.pdf or wanted.drawn else None
    if browser is None:
        yield None
        return
    places = [f'<template id="{name}"></template>' for name in (_TOP, *(f"place-{p}" for p in PARTS), _REST)]
    with Printer(browser, page("", places)) as printer:
        yield printer
