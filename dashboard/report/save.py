"""A report as files: the HTML always; PDF, pictures and slides where a browser can draw them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from dashboard.answers.csv_file import csv_bytes
from dashboard.figures.drawing import Drawing
from dashboard.report.assemble import PARTS
from dashboard.report.browser import draw, find_browser
from dashboard.report.html_page import PICTURE_PX, page, report_html, rest_html, section_html, top_html
from dashboard.report.printer import Printer
from dashboard.report.saved import Saved
from dashboard.report.section import Report, Section
from dashboard.report.slides import report_slides, slide_drawing
from dashboard.wording import report as words
from hydro.problems import InputError, Problem
from hydro.whole_file import write_whole


def check_name(out: Path) -> None:
    """Raises InputError where `out` is no name for an HTML file."""
    if out.suffix.lower() not in (".html", ".htm"):
        raise InputError([Problem(row="--out", value=str(out), expected="a file name that ends in .html")])


#: Places of a report before its first and after its last section.
_TOP, _REST = "place-top", "place-rest"


@dataclass(frozen=True, eq=False)
class Sheets:
    """The texts of a report's sections, each made once: handed to the browser that prints, and kept for the file."""

    unit: str
    printer: Printer | None
    made: dict[str, str] = field(default_factory=dict)

    def add(self, part: str, sections: Sequence[Section]) -> None:
        """A part of the report is ready."""
        texts = {s.name: section_html(s, self.unit) for s in sections}
        self.made.update(texts)
        if self.printer is not None:
            self.printer.fill(f"place-{part}", "".join(texts.values()))


@contextmanager
def sheets_for(title: str, unit: str, *, pdf: bool) -> Iterator[Sheets]:
    """Sheets for a report of that title, with a browser that gets ready to print them where there is one and `pdf`."""
    browser = find_browser() if pdf else None
    if browser is None:
        yield Sheets(unit, None)
        return
    places = [f'<template id="{name}"></template>' for name in (_TOP, *(f"place-{p}" for p in PARTS), _REST)]
    with Printer(browser, page(title, places)) as printer:
        yield Sheets(unit, printer)


def save_report(
    report: Report,
    out: Path,
    *,
    pdf: bool = True,
    slides: bool = False,
    files: bool = False,
    sheets: Sheets | None = None,
    step: Callable[[str], None] = lambda _: None,
) -> Saved:
    """Write `out` (an .html file) and beside it what was asked for: a PDF; slides; tables and pictures (`files`).

    sheets  this report's, where its parts were added as they became ready

    Raises InputError where `out` is no name for an HTML file or cannot be written.
    """
    check_name(out)
    if sheets is None:
        with sheets_for(report.title, report.unit, pdf=pdf) as sheets:
            sheets.add(PARTS[0], report.sections)
            return save_report(report, out, pdf=pdf, slides=slides, files=files, sheets=sheets, step=step)
    step(words.STEPS["page"])
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        write_whole(out, report_html(report, sheets.made).encode())
    except OSError as error:
        raise InputError(
            [Problem(row="--out", value=str(out), expected=f"a place that can be written to ({error.strerror})")]
        ) from None
    left_out: list[str] = []
    made_pdf = None
    if pdf:
        step(words.STEPS["pdf"])
        made_pdf = _pdf(report, out.with_suffix(".pdf"), sheets.printer, left_out)
    pictures: list[Path] = []
    tables: list[Path] = []
    deck = None
    folder = out.with_name(f"{out.stem}-files")
    if files:
        folder.mkdir(exist_ok=True)
        for table in {t.name: t for s in report.sections for t in s.tables}.values():
            tables.append(folder / f"{table.name}.csv")
            tables[-1].write_bytes(csv_bytes(table.frame))
    if (files or slides) and find_browser() is None:
        left_out.append(words.no_pictures(words.NO_BROWSER))
    elif files or slides:
        step(words.STEPS["pictures"])
        plates = [(s, p) for s in report.sections for p in s.plates]
        heights = [int(p.drawing.figure.layout.height) for _, p in plates]
        pages = [(p.drawing, ("png", "svg"), (PICTURE_PX, h)) for (_, p), h in zip(plates, heights, strict=True)]
        shown = [(d, ("png",), size) for d, size, _ in (slide_drawing(p.drawing) for _, p in plates)]
        images = draw([*shown, *(pages if files else [])])
        pictures = _kept(pages, images[len(shown) :], folder) if files else []
        deck = out.with_suffix(".pptx")
        on_slides = [(s, p, image["png"]) for (s, p), image in zip(plates, images[: len(shown)], strict=True)]
        write_whole(deck, report_slides(report, on_slides))
    return Saved(
        html=out, pdf=made_pdf, slides=deck, pictures=tuple(pictures), tables=tuple(tables), left_out=tuple(left_out)
    )


def _pdf(report: Report, path: Path, printer: Printer | None, left_out: list[str]) -> Path | None:
    path.unlink(missing_ok=True)
    why: str | None = words.NO_BROWSER
    if printer is not None:
        printer.fill(_TOP, top_html(report))
        printer.fill(_REST, rest_html(report))
        why = printer.print(path)
    if why is not None:
        left_out.append(words.no_pdf(why))
        return None
    return path


def _kept(
    pages: Sequence[tuple[Drawing, object, object]], images: Sequence[dict[str, bytes]], folder: Path
) -> list[Path]:
    """Every picture as files."""
    found = []
    for (drawing, _, _), image in zip(pages, images, strict=True):
        for kind, data in image.items():
            found.append(folder / f"{drawing.name}.{kind}")
            found[-1].write_bytes(data)
    return found
