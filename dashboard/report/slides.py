"""A slide a finding, for people who have to stand in front of a meeting."""

from __future__ import annotations

import datetime
import io
import zipfile
from collections.abc import Sequence

from dashboard.report.section import Report, Section
from dashboard.wording import report as words

#: A date for everything that the file format wants one for: the same report gives the same bytes.
_LONG_AGO = (1980, 1, 1, 0, 0, 0)


def report_slides(report: Report, pictures: Sequence[tuple[Section, bytes, tuple[int, int]]]) -> bytes:
    """A deck: what it is about and the findings in short, a slide a picture (PNG, size in px), what is not known."""
    from pptx import Presentation
    from pptx.util import Emu, Inches, Pt

    deck = Presentation()
    deck.slide_width, deck.slide_height = Inches(13.333), Inches(7.5)
    blank = deck.slide_layouts[6]

    def slide(heading: str, size: int = 28):  # type: ignore[no-untyped-def]
        made = deck.slides.add_slide(blank)
        fitting = Pt(fitting_size([heading], 12.1, 1.5, size))
        _write(made, [heading], Inches(0.6), Inches(0.35), Inches(12.1), Inches(1.5), fitting, bold=True)
        return made

    first = slide(report.title, 40)
    about = words.period(report.first, report.last, report.as_of)
    _write(first, [about], Inches(0.6), Inches(1.4), Inches(12.1), Inches(0.6), Pt(18))
    in_short = Pt(fitting_size(report.summary, 12.1, 4.9, 18))
    _write(first, list(report.summary), Inches(0.6), Inches(2.1), Inches(12.1), Inches(4.9), in_short)
    for section, png, (width, height) in pictures:
        made = slide(section.answer, 24)
        room_x, room_y = Inches(12.1), Inches(4.7)
        share = min(room_x / width, room_y / height)
        size = Emu(int(width * share)), Emu(int(height * share))
        left = Emu(int((deck.slide_width - size[0]) / 2))
        made.shapes.add_picture(io.BytesIO(png), left, Inches(1.95), *size)
        below = " · ".join(s for s in (section.about, section.question) if s)
        lines = [below, *section.cautions[:1]]
        _write(made, lines, Inches(0.6), Inches(6.7), Inches(12.1), Inches(0.7), Pt(fitting_size(lines, 12.1, 0.7, 12)))
    unknown = slide(words.UNKNOWN)
    told = list(report.unknown or [words.NOTHING_UNKNOWN])
    _write(unknown, told, Inches(0.6), Inches(1.3), Inches(12.1), Inches(2.6), Pt(fitting_size(told, 12.1, 2.6, 16)))
    cautions = list(report.cautions)
    small = Pt(fitting_size(cautions, 12.1, 2.8, 14))
    _write(unknown, cautions, Inches(0.6), Inches(4.0), Inches(12.1), Inches(2.8), small)
    _write(unknown, [words.method(report.method_version)], Inches(0.6), Inches(6.9), Inches(12.1), Inches(0.4), Pt(11))
    deck.core_properties.created = deck.core_properties.modified = datetime.datetime(*_LONG_AGO)
    deck.core_properties.title, deck.core_properties.author = words.title(report.title), "resurgence"
    out = io.BytesIO()
    deck.save(out)
    return _undated(out.getvalue())


def fitting_size(lines: Sequence[str], width: float, height: float, size: int) -> int:
    """The largest size of letters [pt], `size` at most, at which paragraphs fit a box [inches]; 9 at least.

    A letter is taken as 0.55 of its height wide, a line as 1.2 high (assumptions for bold letters, no source).
    """
    for points in range(size, 9, -1):
        letters = max(1, int((72 * width - 15) / (0.55 * points)))
        taken = sum(-(-max(len(line), 1) // letters) * 1.2 * points + points / 3 for line in lines)
        if taken <= 72 * height - 8:
            return points
    return 9


def _write(slide, lines, left, top, width, height, size, *, bold: bool = False) -> None:  # type: ignore[no-untyped-def]
    """Paragraphs in a box."""
    frame = slide.shapes.add_textbox(left, top, width, height).text_frame
    frame.word_wrap = True
    for i, line in enumerate(lines):
        paragraph = frame.paragraphs[0] if i == 0 else frame.add_paragraph()
        run = paragraph.add_run()
        run.text, run.font.size, run.font.bold = line, size, bold
        paragraph.space_after = size // 3


def _undated(data: bytes) -> bytes:
    """The same archive with one date for all its parts."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(zipfile.ZipInfo(name, _LONG_AGO), old.read(name), zipfile.ZIP_DEFLATED)
    return out.getvalue()
