"""A slide a finding, for people who have to stand in front of a meeting.

Words stand on the left, the picture on the right as high as the slide: pictures of many rows need the height, and
letters have to be read from the last row of chairs. What else can be told about a finding is in the speaker's notes.
"""

from __future__ import annotations

import datetime
import io
import zipfile
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import plotly.graph_objects as go

from dashboard.figures.drawing import Drawing
from dashboard.figures.fewer_rows import fewer_rows
from dashboard.report.section import Plate, Report, Section
from dashboard.wording import report as words
from dashboard.wording.numbers import THIN

#: A date for everything that the file format wants one for: the same report gives the same bytes.
_LONG_AGO = (1980, 1, 1, 0, 0, 0)
#: Measures of a slide [inches].
_WIDTH, _HEIGHT, _EDGE = 13.333, 7.5, 0.45
_WORDS = 4.2
_ROOM = (_WIDTH - _WORDS - 3 * _EDGE, _HEIGHT - 2 * 0.4)
#: A picture is drawn at least so wide [px]: its 13 px letters are then 18 pt on the slide, on wider ones smaller.
_NARROWEST = 404
#: A picture is made higher than on a page by so much at most: beyond that it would be mostly empty. It is made lower by
#: so much at most to keep its letters large.
_TALLER, _LOWER = 1.55, 0.8
#: The highest that a picture of rows is drawn [px]: its 11 px letters are then 13.6 pt on the slide.
_HIGHEST = 390
#: About so many days are named along a time axis.
_DAYS_NAMED = 5
#: Letters of what stands beside a picture [pt].
_SMALL, _SMALLEST = 14, 12
#: Width of a letter in its heights, with what is lost at the ends of lines: plain and bold ones of a wide type, as seen
#: on rendered slides; the types that are put in its place elsewhere are narrower.
_PLAIN, _BOLD = 0.6, 0.68


def slide_picture_size(height: int) -> tuple[int, int]:
    """Width and height [px] at which a figure `height` px high on a page is drawn to fill its place on a slide."""
    fitting = round(_NARROWEST * _ROOM[1] / _ROOM[0])
    least = max(min(height, fitting), round(height * _LOWER))
    width = max(_NARROWEST, round(least * _ROOM[0] / _ROOM[1]))
    return width, max(least, min(round(width * _ROOM[1] / _ROOM[0]), round(height * _TALLER)))


def slide_drawing(drawing: Drawing) -> tuple[Drawing, tuple[int, int], str]:
    """The drawing as a slide shows it, its width and height there [px], and a sentence where rows are left out.

    What cannot be read from the back of a room is of no use there: of a picture of many rows the newest are shown.
    """
    kept, shown, of = fewer_rows(drawing, _HIGHEST)
    size = slide_picture_size(int(drawing.figure.layout.height))
    if of:
        height = int(kept.figure.layout.height)
        size = max(_NARROWEST, round(height * _ROOM[0] / _ROOM[1])), height
    figure = go.Figure(kept.figure)
    # Large letters leave room for fewer days along the time axis.
    if figure.layout.xaxis.nticks:
        figure.layout.xaxis.nticks = _DAYS_NAMED
    left_out = words.rows_left_out(shown, of) if shown < of else ""
    return replace(kept, figure=figure), size, left_out


def report_slides(report: Report, pictures: Sequence[tuple[Section, Plate, bytes]]) -> bytes:
    """A deck: what it is about and the findings in short, a slide a picture (PNG), what is not known and the cautions.

    The pictures are those that `slide_drawing` gives, at its sizes.
    """
    from pptx import Presentation
    from pptx.util import Inches

    deck = Presentation()
    deck.slide_width, deck.slide_height = Inches(_WIDTH), Inches(_HEIGHT)
    _first_slide(deck, report)
    told = None
    for section, plate, png in pictures:
        _finding(deck, section, plate, png, again=section is told)
        told = section
    _last_slide(deck, report)
    deck.core_properties.created = deck.core_properties.modified = datetime.datetime(*_LONG_AGO)
    deck.core_properties.title, deck.core_properties.author = words.title(report.title), "resurgence"
    out = io.BytesIO()
    deck.save(out)
    return _undated(out.getvalue())


def fitting_size(lines: Sequence[str], width: float, height: float, size: int, letter: float = _PLAIN) -> int:
    """The largest size of letters [pt], `size` at most, at which paragraphs fit a box [inches]; 9 at least."""
    return next((p for p in range(size, 9, -1) if taken(lines, width, p, letter) <= height), 9)


def taken(lines: Sequence[str], width: float, points: float, letter: float = _PLAIN) -> float:
    """The height [inches] of paragraphs in letters of `points`, `letter` times as wide, in a box `width` inches wide.

    A line is taken as 1.2 times as high as its letters (an assumption, no source).
    """
    letters = max(1, int((72 * width - 15) / (letter * points)))
    return (sum(-(-max(len(line), 1) // letters) * 1.2 * points + points / 3 for line in lines) + 8) / 72


def _first_slide(deck: Any, report: Report) -> None:
    wide = _WIDTH - 2 * _EDGE
    made = _titled(deck, report.title, (wide, 0.9), 40)
    about = words.period(report.first, report.last, report.as_of)
    _write(made, [about], (_EDGE, 1.25, wide, 0.5), 18)
    _write(made, report.summary, (_EDGE, 1.9, wide, 4.2), fitting_size(report.summary, wide, 4.2, 20))
    _caution(made, report.cautions[:2], (_EDGE, 6.25, wide, 0.85))


def _finding(deck: Any, section: Section, plate: Plate, png: bytes, *, again: bool) -> None:
    """One finding: its sentence, the picture with its key, a caution; a second picture of it has its own sentence."""
    from pptx.util import Emu, Inches

    title, said = plate.drawing.title, plate.drawing.alt if again else section.answer
    if again and said == section.answer:
        heading, rest = title, said
    else:
        # What follows the first sentence of a long answer is read better in smaller letters.
        heading, stop, rest = said.partition(". ")
        heading += stop.strip()
    _, drawn, left_out = slide_drawing(plate.drawing)
    known = f"{title} {said}"
    beside = [
        rest,
        left_out,
        "" if again else title,
        "" if section.about in known else section.about,
        section.question,
        plate.key,
    ]
    beside = [s for s in beside if s]
    foot = [*section.cautions[:1]]
    below = taken(foot, _WORDS - 0.1, 12) if foot else 0.0
    size, top, room, small = _shared_out(heading, beside, _HEIGHT - 2 * 0.4 - below)
    made = _titled(deck, heading, (_WORDS, top), size)
    _write(made, beside, (_EDGE, 0.4 + top, _WORDS, room), small)
    if foot:
        _caution(made, foot, (_EDGE, _HEIGHT - 0.4 - below, _WORDS, below))
    width, height = drawn
    share = min(Inches(_ROOM[0]) / width, Inches(_ROOM[1]) / height)
    size_of = Emu(int(width * share)), Emu(int(height * share))
    left = Inches(_WIDTH - _EDGE) - size_of[0]
    picture = made.shapes.add_picture(io.BytesIO(png), left, Inches(0.4), *size_of)
    picture._element.nvPicPr.cNvPr.set("descr", f"{plate.drawing.alt} {left_out}".strip())
    notes = [section.answer, *section.details, plate.key, *section.cautions]
    made.notes_slide.notes_text_frame.text = "\n".join(line for line in notes if line)


def _shared_out(heading: str, beside: Sequence[str], height: float) -> tuple[int, float, float, int]:
    """How a heading and the words below it share a height [inches]: size and height of either, the heading's first.

    The heading is made smaller until the words below it can be read.
    """
    for size in range(24, 14, -1):
        top = taken([heading], _WORDS, size, _BOLD)
        small = fitting_size(beside, _WORDS, height - top, _SMALL)
        if small >= _SMALLEST:
            break
    return size, top, height - top, small


def _last_slide(deck: Any, report: Report) -> None:
    """What is not known beside the cautions."""
    half = (_WIDTH - 3 * _EDGE) / 2
    made = _titled(deck, words.UNKNOWN, (half, 0.9), 32)
    told = list(report.unknown or [words.NOTHING_UNKNOWN])
    _write(made, told, (_EDGE, 1.35, half, 5.2), fitting_size(told, half, 5.2, 18))
    right = 2 * _EDGE + half
    _write(made, [words.CAUTIONS], (right, 0.4, half, 0.9), 32, bold=True)
    size = fitting_size(report.cautions, half - 0.2, 5.2, 16)
    _caution(made, report.cautions, (right, 1.35, half, taken(report.cautions, half - 0.2, size)), size)
    _write(made, [words.method(report.method_version)], (_EDGE, 6.75, _WIDTH - 2 * _EDGE, 0.4), 12)


def _titled(deck: Any, heading: str, box: tuple[float, float], size: int) -> Any:
    """A new slide with a heading that outlines and screen readers find, in a box of a width and height [inches]."""
    from pptx.enum.text import MSO_ANCHOR, MSO_AUTO_SIZE, PP_ALIGN
    from pptx.util import Inches

    made = deck.slides.add_slide(deck.slide_layouts[5])
    title = made.shapes.title
    title.left, title.top, title.width, title.height = (Inches(v) for v in (_EDGE, 0.4, *box))
    frame = title.text_frame
    frame.auto_size, frame.vertical_anchor = MSO_AUTO_SIZE.NONE, MSO_ANCHOR.TOP
    _fill(frame, [heading], fitting_size([heading], *box, size, _BOLD), bold=True)
    frame.paragraphs[0].alignment = PP_ALIGN.LEFT
    return made


def _write(
    slide: Any, lines: Sequence[str], box: tuple[float, float, float, float], size: int, *, bold: bool = False
) -> None:
    """Paragraphs in a box of left, top, width and height [inches]."""
    from pptx.util import Inches

    _fill(slide.shapes.add_textbox(*(Inches(v) for v in box)).text_frame, lines, size, bold=bold)


def _caution(slide: Any, lines: Sequence[str], box: tuple[float, float, float, float], size: int = 12) -> None:
    """Cautions, set apart by an upright line as everywhere."""
    from pptx.dml.color import RGBColor
    from pptx.enum.shapes import MSO_SHAPE
    from pptx.util import Inches

    left, top, width, height = box
    rule = slide.shapes.add_shape(MSO_SHAPE.RECTANGLE, Inches(left), Inches(top), Inches(0.05), Inches(height))
    rule.fill.solid()
    rule.fill.fore_color.rgb = RGBColor(0xD5, 0x5E, 0x00)
    rule.line.fill.background()
    rule.shadow.inherit = False
    _write(slide, lines, (left + 0.1, top, width - 0.1, height), size)


def _fill(frame: Any, lines: Sequence[str], size: int, *, bold: bool = False) -> None:
    from pptx.util import Pt

    frame.word_wrap = True
    for i, line in enumerate(lines):
        paragraph = frame.paragraphs[0] if i == 0 else frame.add_paragraph()
        run = paragraph.add_run()
        # A number keeps its sign beside it in a narrow box.
        run.text, run.font.size, run.font.bold = line.replace(" %", f"{THIN}%"), Pt(size), bold
        paragraph.space_after = Pt(size / 3)


def _undated(data: bytes) -> bytes:
    """The same archive with one date for all its parts."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(zipfile.ZipInfo(name, _LONG_AGO), old.read(name), zipfile.ZIP_DEFLATED)
    return out.getvalue()
