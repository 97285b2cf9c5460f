"""A report as files: the HTML always; PDF, pictures and slides where a browser can draw them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from dashboard.answers.csv_file import csv_bytes
from dashboard.browser_tab import BrowserError
from dashboard.figures.picture_file import KINDS
from dashboard.report.assemble import PARTS
from dashboard.report.html_page import report_html
from dashboard.report.saved import Saved
from dashboard.report.section import Report
from dashboard.report.sheets import Sheets, Wanted, printer_for
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
    wanted: Wanted | None = None,
    *,
    sheets: Sheets | None = None,
    step: Callable[[str], None] = lambda _: None,
) -> Saved:
    """Write `out` (an .html file) and beside it what is wanted (a PDF where nothing is said).

    sheets  this report's, where its parts were added as they became ready, for the same that is wanted

    Raises InputError where `out` is no name for an HTML file or cannot be written.
    """
    check_name(out)
    if sheets is None:
        wanted = wanted or Wanted()
        with printer_for(wanted) as printer:
            sheets = Sheets(report.unit, wanted, printer)
            sheets.add(PARTS[0], report.sections)
            return save_report(report, out, sheets=sheets, step=step)
    wanted = sheets.wanted
    step(words.STEPS["page"])
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        write_whole(out, report_html(report, sheets.made).encode())
    except OSError as error:
        raise InputError(
            [Problem(row="--out", value=str(out), expected=f"a place that can be written to ({error.strerror})")]
        ) from None
    left_out: list[str] = []
    made_pdf = deck = None
    pictures: list[Path] = []
    tables: list[Path] = []
    folder = out.with_name(f"{out.stem}-files")
    if wanted.pdf:
        step(words.STEPS["pdf"])
        made_pdf = _pdf(report, out.with_suffix(".pdf"), sheets, left_out)
    if wanted.files:
        folder.mkdir(exist_ok=True)
        for table in {t.name: t for s in report.sections for t in s.tables}.values():
            tables.append(folder / f"{table.name}.csv")
            tables[-1].write_bytes(csv_bytes(table.frame))
    if wanted.drawn and sheets.printer is None:
        left_out.append(words.no_pictures(words.NO_BROWSER))
    elif wanted.drawn:
        step(words.STEPS["pictures"])
        try:
            deck, pictures = _drawn(report, out.with_suffix(".pptx"), folder, sheets)
        except BrowserError as error:
            left_out.append(words.no_pictures(str(error)))
    return Saved(
        html=out, pdf=made_pdf, slides=deck, pictures=tuple(pictures), tables=tuple(tables), left_out=tuple(left_out)
    )


def _pdf(report: Report, path: Path, sheets: Sheets, left_out: list[str]) -> Path | None:
    path.unlink(missing_ok=True)
    why = words.NO_BROWSER
    if sheets.printer is not None:
        try:
            path.write_bytes(sheets.printed(report))
        except BrowserError as error:
            why = str(error)
        else:
            return path
    left_out.append(words.no_pdf(why))
    return None


def _drawn(report: Report, deck: Path, folder: Path, sheets: Sheets) -> tuple[Path, list[Path]]:
    """Slides, and every picture as files where they are wanted. Raises BrowserError."""
    plates = [(s, p) for s in report.sections for p in s.plates]
    write_whole(deck, report_slides(report, [(s, p, sheets.on_slide(p)) for s, p in plates]))
    pictures = []
    for _, plate in plates if sheets.wanted.files else ():
        for kind in KINDS:
            pictures.append(folder / f"{plate.drawing.name}.{kind}")
            pictures[-1].write_bytes(sheets.as_file(plate, kind))
    return deck, pictures
