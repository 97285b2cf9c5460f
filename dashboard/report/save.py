"""A report as files: the HTML always; PDF, pictures and slides where a browser can draw them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from dashboard.answers.csv_file import csv_bytes
from dashboard.report.browser import draw, find_browser, write_pdf
from dashboard.report.html_page import PICTURE_PX, report_html
from dashboard.report.saved import Saved
from dashboard.report.section import Report
from dashboard.report.slides import report_slides
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
        images = _images(report, ("png", "svg") if files else ("png",))
        if files:
            pictures = _kept(report, images, folder)
        deck = _deck(report, images, out.with_suffix(".pptx"))
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


def _images(report: Report, kinds: Sequence[str]) -> list[dict[str, bytes]]:
    return draw([p.drawing for s in report.sections for p in s.plates], kinds, PICTURE_PX)


def _kept(report: Report, images: Sequence[dict[str, bytes]], folder: Path) -> list[Path]:
    """Every picture as files."""
    found = []
    for plate, image in zip((p for s in report.sections for p in s.plates), images, strict=True):
        for kind, data in image.items():
            found.append(folder / f"{plate.drawing.name}.{kind}")
            found[-1].write_bytes(data)
    return found


def _deck(report: Report, images: Sequence[dict[str, bytes]], path: Path) -> Path:
    plates = [(s, p.drawing) for s in report.sections for p in s.plates]
    shown = [
        (section, image["png"], (PICTURE_PX, int(drawing.figure.layout.height)))
        for (section, drawing), image in zip(plates, images, strict=True)
    ]
    write_whole(path, report_slides(report, shown))
    return path
