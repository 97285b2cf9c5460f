"""A report as files: the HTML always; PDF, pictures and slides where a browser can draw them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from dashboard.answers.csv_file import csv_bytes
from dashboard.figures.drawing import Drawing
from dashboard.report.browser import draw, find_browser, write_pdf
from dashboard.report.html_page import PICTURE_PX, report_html
from dashboard.report.saved import Saved
from dashboard.report.section import Report
from dashboard.report.slides import report_slides, slide_drawing
from dashboard.wording import report as words
from hydro.problems import InputError, Problem
from hydro.whole_file import write_whole


def check_name(out: Path) -> None:
    """Raises InputError where `out` is no name for an HTML file."""
    if out.suffix.lower() not in (".html", ".htm"):
        raise InputError([Problem(row="--out", value=str(out), expected="a file name that ends in .html")])


def save_report(
    report: Report,
    out: Path,
    *,
    pdf: bool = True,
    slides: bool = False,
    files: bool = False,
    step: Callable[[str], None] = lambda _: None,
) -> Saved:
    """Write `out` (an .html file) and beside it what was asked for: a PDF; slides; tables and pictures (`files`).

    Raises InputError where `out` is no name for an HTML file or cannot be written.
    """
    check_name(out)
    step(words.STEPS["page"])
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        write_whole(out, report_html(report).encode())
    except OSError as error:
        raise InputError(
            [Problem(row="--out", value=str(out), expected=f"a place that can be written to ({error.strerror})")]
        ) from None
    browser = find_browser() if pdf or files or slides else None
    left_out: list[str] = []
    made_pdf = _pdf(out, browser, left_out, step) if pdf else None
    pictures: list[Path] = []
    tables: list[Path] = []
    deck = None
    folder = out.with_name(f"{out.stem}-files")
    if files:
        folder.mkdir(exist_ok=True)
        for table in {t.name: t for s in report.sections for t in s.tables}.values():
            tables.append(folder / f"{table.name}.csv")
            tables[-1].write_bytes(csv_bytes(table.frame))
    if (files or slides) and browser is None:
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


def _pdf(out: Path, browser: str | None, left_out: list[str], step: Callable[[str], None]) -> Path | None:
    step(words.STEPS["pdf"])
    path = out.with_suffix(".pdf")
    path.unlink(missing_ok=True)
    why = words.NO_BROWSER if browser is None else write_pdf(out, path, browser)
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
