"""A report as files: the HTML always; PDF, pictures and slides where a browser can draw them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from dashboard.answers.csv_file import csv_bytes
from dashboard.report.browser import draw, find_browser, write_pdf
from dashboard.report.html_page import PICTURE_PX, report_html
from dashboard.report.saved import Saved
from dashboard.report.section import Report
from dashboard.report.slides import report_slides
from dashboard.wording import report as words
from hydro.problems import InputError, Problem


def save_report(
    report: Report, out: Path, *, pdf: bool = True, files: bool = False, step: Callable[[str], None] = lambda _: None
) -> Saved:
    """Write `out` (an .html file) and beside it what was asked for: a PDF; pictures, tables and slides (`files`).

    Raises InputError where `out` is no name for an HTML file or cannot be written.
    """
    if out.suffix.lower() not in (".html", ".htm"):
        raise InputError([Problem(row="--out", value=str(out), expected="a file name that ends in .html")])
    step("page")
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        out.write_text(report_html(report), encoding="utf-8", newline="\n")
    except OSError as error:
        raise InputError(
            [Problem(row="--out", value=str(out), expected=f"a place that can be written to ({error.strerror})")]
        ) from None
    browser = find_browser() if pdf or files else None
    left_out: list[str] = []
    made_pdf = _pdf(out, browser, left_out, step) if pdf else None
    pictures: list[Path] = []
    tables: list[Path] = []
    slides = None
    if files:
        folder = out.with_name(f"{out.stem}-files")
        folder.mkdir(exist_ok=True)
        for table in {t.name: t for s in report.sections for t in s.tables}.values():
            tables.append(folder / f"{table.name}.csv")
            tables[-1].write_bytes(csv_bytes(table.frame))
        if browser is None:
            left_out.append(words.no_pictures(words.NO_BROWSER))
        else:
            step("pictures and slides")
            slides = _drawn(report, out, folder, pictures)
    return Saved(
        html=out, pdf=made_pdf, slides=slides, pictures=tuple(pictures), tables=tuple(tables), left_out=tuple(left_out)
    )


def _pdf(out: Path, browser: str | None, left_out: list[str], step: Callable[[str], None]) -> Path | None:
    step("PDF")
    path = out.with_suffix(".pdf")
    path.unlink(missing_ok=True)
    why = words.NO_BROWSER if browser is None else write_pdf(out, path, browser)
    if why is not None:
        left_out.append(words.no_pdf(why))
        return None
    return path


def _drawn(report: Report, out: Path, folder: Path, pictures: list[Path]) -> Path:
    """Pictures as PNG and SVG, and the deck made of them."""
    plates = [(s, p.drawing) for s in report.sections for p in s.plates]
    images = draw([d for _, d in plates], ("png", "svg"), PICTURE_PX)
    shown = []
    for (section, drawing), image in zip(plates, images, strict=True):
        for kind, data in image.items():
            pictures.append(folder / f"{drawing.name}.{kind}")
            pictures[-1].write_bytes(data)
        shown.append((section, image["png"], (PICTURE_PX, int(drawing.figure.layout.height))))
    path = out.with_suffix(".pptx")
    path.write_bytes(report_slides(report, shown))
    return path
