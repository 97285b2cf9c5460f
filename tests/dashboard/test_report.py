"""The meeting report: the same answers as the pages, on paper, complete without a network or a browser."""

from __future__ import annotations

import datetime
import io
import json
import re
import threading
import time
from itertools import pairwise
from pathlib import Path

import pandas as pd
import pytest
from pptx.enum.shapes import MSO_SHAPE_TYPE

from dashboard import browser_tab
from dashboard.answers.explain import explain
from dashboard.answers.spells import spells
from dashboard.cli import main
from dashboard.report import save, sheets
from dashboard.report.assemble import make_report
from dashboard.report.html_page import report_html
from dashboard.report.printed import body
from dashboard.report.section import Plate, Report, Section, ShortTable
from dashboard.report.sections_drop import DropAsked
from dashboard.report.slides import fitting_size, report_slides, slide_drawing, taken
from dashboard.second_process import second_process
from dashboard.wording import cautions
from dashboard.wording import explain as explain_words
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as words
from dashboard.wording import spells as spell_words
from dashboard.workspace import load_workspace
from hydro.problems import InputError
from tests.dashboard.conftest import DEMO


@pytest.fixture(scope="module")
def demo() -> Report:
    return make_report(load_workspace(DEMO))


@pytest.fixture(scope="module")
def page(demo: Report) -> str:
    return report_html(demo)


def without_scripts(text: str) -> str:
    return re.sub(r"<script.*?</script>", "", text, flags=re.S)


def test_the_report_has_every_question_in_the_order_of_the_work(demo: Report) -> None:
    asked = list(dict.fromkeys(s.question for s in demo.sections))
    order = [words.IS_IT_RUNNING, words.WHEN_WAS_IT_DRY, words.WHERE_DOES_IT_STOP, words.DAYS_AHEAD,
             words.RETURN_LAGS, words.COUNTS_AND_FLOW, words.WHO_CAME_THROUGH]  # fmt: skip
    assert [q for q in asked if q in order] == order
    assert len(demo.summary) == 5


def test_the_answers_are_those_of_the_command_line(demo: Report) -> None:
    found = spells(load_workspace(DEMO))
    ledge = next(s for s in demo.sections if s.name == "spells-ledge")
    assert ledge.answer == spell_words.answer(found.outlets[0], found.header)


def test_the_same_workspace_gives_the_same_bytes_whoever_works_it_out(page: str) -> None:
    """Alone, or with a second process."""
    with second_process("dashboard.report.assemble") as second:
        assert second is not None, "this test needs two processors"
        assert report_html(make_report(load_workspace(DEMO), second=second)) == page


def test_nothing_is_asked_of_a_network(page: str) -> None:
    outside = re.findall(r'(?:src|href|action)="([^"]*)"', without_scripts(page))
    assert outside == []
    assert page.count("<script>") >= 1 and len(page) < 12_000_000


def test_every_picture_has_a_sentence_for_people_who_do_not_see_it(demo: Report, page: str) -> None:
    plates = [p for s in demo.sections for p in s.plates]
    assert len(plates) >= 12
    assert len(re.findall(r'<figure role="group" aria-label="[^"]{20,}"', page)) == len(plates)


def test_names_from_files_are_never_markup(demo: Report) -> None:
    section = Section(name="x", question="Q", answer="<b>&</b>", details=("<script>alert(1)</script>",))
    made = report_html(Report(**{**vars(demo), "title": "<i>T</i>", "sections": (section,)}))
    assert "&lt;b&gt;&amp;&lt;/b&gt;" in made and "<script>alert" not in made and "<i>T" not in made


def test_a_period_and_a_unit_can_be_chosen() -> None:
    first, last = pd.Timestamp("2022-01-01"), pd.Timestamp("2022-12-31")
    report = make_report(load_workspace(DEMO), first=first, last=last, outlets=("ledge",), unit="l/s")
    section = next(s for s in report.sections if s.name == "spells-ledge")
    printed = section.printed[0]
    assert printed.frame["first"].le(last).all() and printed.frame["last"].ge(first).all()
    assert "l/s" in report_html(report)
    assert not any(s.name.endswith("trough") for s in report.sections)
    with pytest.raises(ValueError, match="period"):
        make_report(load_workspace(DEMO), first=last, last=first)


def test_a_drop_is_explained_when_asked_and_its_days_are_checked(tmp_path: Path, capsys) -> None:
    days = (datetime.date(2025, 4, 1), datetime.date(2025, 9, 30))
    report = make_report(load_workspace(DEMO), outlets=("grotto", "headpool"),
                         drop=DropAsked(judged=days, outlets=("grotto",), control="headpool"))  # fmt: skip
    drop = next(s for s in report.sections if s.name == "drop")
    found = explain(load_workspace(DEMO), judged=days, outlets=("grotto",), control="headpool")
    assert drop.answer == explain_words.read_aloud(found) and drop.answer in report.summary
    assert len(drop.plates) == 2 and explain_words.DOES_NOT_SHOW in drop.details
    out = str(tmp_path / "r.html")
    assert main(["report", str(DEMO), "--out", out, "--explain", "2030-01-01/2030-02-01"]) == 2
    assert main(["report", str(DEMO), "--out", out, "--baseline", "2020-01-01/2020-02-01"]) == 2
    assert "--explain A/B" in capsys.readouterr().err and not (tmp_path / "r.html").exists()


def test_the_key_of_a_level_names_no_level_tried_and_effort_has_its_unit(demo: Report, page: str) -> None:
    keys = {p.key for s in demo.sections if s.name.startswith("level-") for p in s.plates}
    assert keys == {figure_words.LEVEL_KEY_IN_REPORT} and "tried" not in figure_words.LEVEL_KEY_IN_REPORT
    assert "a level tried (dotted)" in figure_words.LEVEL_KEY
    assert '<th scope="col">Effort after, person-min</th>' in page


def test_cells_on_paper_are_short_and_blank_where_nothing_is_known() -> None:
    frame = pd.DataFrame({"a": [pd.Timestamp("2024-03-05"), pd.NaT], "b": [1.0, float("nan")], "c": [-0.51372, 1234.5],
                          "d": ["a" * 64, "word"]})  # fmt: skip
    columns = {"a": ("A", "day"), "b": ("B", "discharge"), "c": ("C", "number"), "d": ("D", "text"), "e": ("E", "text")}
    shown = body(ShortTable(title="", frame=frame, columns=columns), "l/s")
    assert shown == [["5 Mar 2024", "1\u202f000", "−0.514", "aaaaaaaaaaaa…"], ["", "", "1\u202f234", "word"]]


def test_without_a_browser_the_html_is_complete_and_says_how_to_print(
    demo: Report, tmp_path: Path, monkeypatch
) -> None:
    monkeypatch.setattr(sheets, "find_browser", lambda: None)
    saved = save.save_report(demo, tmp_path / "r.html", sheets.Wanted(files=True))
    assert saved.pdf is None and saved.slides is None and len(saved.left_out) == 2
    assert "print command" in saved.left_out[0]
    assert (tmp_path / "r.html").stat().st_size > 1_000_000
    assert {"dry-spells-ledge.csv", "count-terms.csv"} <= {p.name for p in saved.tables}


def test_a_browser_that_fails_is_said_and_the_report_stays(demo: Report, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(sheets, "find_browser", lambda: "/bin/false")
    saved = save.save_report(demo, tmp_path / "r.html")
    assert saved.pdf is None and "false failed" in saved.left_out[0] and (tmp_path / "r.html").exists()


def test_a_browser_that_never_answers_is_given_up_and_ended(demo: Report, tmp_path: Path, monkeypatch) -> None:
    asleep = tmp_path / "asleep"
    asleep.write_text(f"#!/bin/sh\necho $$ > {tmp_path}/process\nexec sleep 50\n")
    asleep.chmod(0o755)
    monkeypatch.setattr(sheets, "find_browser", lambda: str(asleep))
    monkeypatch.setattr(browser_tab, "_PATIENCE_S", 0.5)
    monkeypatch.setattr(browser_tab, "_ENDING_S", 0.5)
    saved = save.save_report(demo, tmp_path / "r.html")
    assert saved.pdf is None and "asleep took longer than 0.5 s" in saved.left_out[0]
    assert not [t for t in threading.enumerate() if t.name == "browser"]
    running = Path("/proc", (tmp_path / "process").read_text().strip(), "cmdline")
    until = time.monotonic() + 20
    while running.exists() and running.read_bytes() and time.monotonic() < until:
        time.sleep(0.02)  # a process takes a moment to die
    assert not running.exists() or running.read_bytes() == b"", "gone, or dead and not yet fetched by its parent"


def test_a_wrong_name_is_refused_before_anything_is_written(demo: Report, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"ends in \.html"):
        save.save_report(demo, tmp_path / "report.docx")
    assert list(tmp_path.iterdir()) == []


def test_words_of_a_slide_fit_their_box_or_are_at_their_smallest() -> None:
    assert fitting_size(["Short."], 12.1, 1.5, 24) == 24
    long = "A sentence of a finding that has to be read aloud before a meeting and goes on for a while. " * 6
    sizes = [fitting_size([long[:n]], 12.1, 1.5, 24) for n in (90, 180, 360, 540)]
    assert sizes == sorted(sizes, reverse=True) and sizes[-1] < 20
    # 12.1 inches are 871 pt: letters half as wide as high in the lines that 1.5 inches hold.
    assert -(-len(long) * 0.5 * sizes[-1] // 856) * 1.2 * sizes[-1] <= 108
    assert fitting_size([long * 20], 12.1, 1.5, 24) == 9


@pytest.fixture(scope="module")
def deck(demo: Report) -> tuple[list[tuple[Section, Plate]], bytes]:
    """What the slides of the demo show, in their order, and the deck; every picture is a white one of its size."""
    from PIL import Image

    plates = [(s, p) for s in demo.sections for p in s.plates]
    return plates, report_slides(demo, [(s, p, _white(Image, p)) for s, p in plates])


def _white(image, plate: Plate) -> bytes:
    out = io.BytesIO()
    _, (width, height), _ = slide_drawing(plate.drawing)
    image.new("1", (width // 10, height // 10), 1).save(out, "PNG")
    return out.getvalue()


def test_slides_have_a_finding_each_and_the_same_bytes(demo: Report, deck) -> None:
    from PIL import Image
    from pptx import Presentation

    plates, data = deck
    assert report_slides(demo, [(s, p, _white(Image, p)) for s, p in plates]) == data
    slides = list(Presentation(io.BytesIO(data)).slides)
    assert len(slides) == len(plates) + 2
    assert plates[0][0].answer in slides[1].shapes[0].text_frame.text
    headings = [s.shapes.title.text_frame.text for s in slides]
    assert len(set(headings)) == len(headings), "no two slides say the same"
    of_flow = [p.drawing.alt for s, p in plates if s.name == "counts"][1:]
    assert set(of_flow) < set(headings), "a second picture of a finding is led by its own sentence"
    spells = next(s for s, h in zip(slides, headings, strict=True) if h.startswith("Ledge outlet was dry"))
    shown = " ".join(s.text_frame.text for s in spells.shapes if s.has_text_frame)
    assert figure_words.HYDROGRAPH_KEY in shown and cautions.PROVISIONAL in shown
    assert "The longest spell lasted" in spells.notes_slide.notes_text_frame.text


def test_slides_can_be_read_across_a_room_and_nothing_lies_on_anything(deck) -> None:
    """Nothing smaller than 11 pt, pictures over half of the slide's width; common practice, no source for either."""
    from pptx import Presentation

    shown = Presentation(io.BytesIO(deck[1]))
    for slide in list(shown.slides)[1:-1]:
        boxes = [s for s in slide.shapes if s.has_text_frame and s.text_frame.text]
        assert min(r.font.size.pt for b in boxes for p in b.text_frame.paragraphs for r in p.runs) >= 11
        for b in boxes:
            lines = [p.text for p in b.text_frame.paragraphs]
            size = b.text_frame.paragraphs[0].runs[0].font.size.pt
            assert taken(lines, b.width.inches, size) <= b.height.inches + 0.05, lines
        [picture] = [s for s in slide.shapes if s.shape_type == MSO_SHAPE_TYPE.PICTURE]
        assert picture.width > shown.slide_width / 2 and picture._element.nvPicPr.cNvPr.get("descr")
        ends = sorted((b.top, b.top + b.height) for b in boxes)
        assert all(after[0] >= before[1] - 20_000 for before, after in pairwise(ends))
        assert all(b.left + b.width <= picture.left for b in boxes)
        assert ends[-1][1] <= shown.slide_height and picture.top + picture.height <= shown.slide_height


def test_letters_of_pictures_on_slides_are_of_12_points_and_those_below_them_of_16(deck) -> None:
    """Common practice, no source. A slide is 7.8 inches wide beside its words."""
    for _, plate in deck[0]:
        drawing, (width, height), left_out = slide_drawing(plate.drawing)
        points = min(72 * 7.78 / width, 72 * 6.7 / height)
        layout = drawing.figure.layout
        sizes = [layout[a].tickfont.size for a in layout if a.startswith(("xaxis", "yaxis"))]
        sizes += [a.font.size for a in layout.annotations if a.font.size]
        assert min(sizes) * points >= 12 and layout.xaxis.tickfont.size * points >= 16, plate.drawing.name
        rows = (plate.drawing.figure.layout.yaxis.ticktext or ()) if plate.drawing.least_row else ()
        assert bool(left_out) == (len(drawing.figure.layout.yaxis.ticktext or ()) < len(rows)), plate.drawing.name


def test_the_command_writes_the_report_and_says_so_in_json(tmp_path: Path, capsys, monkeypatch) -> None:
    monkeypatch.setattr(sheets, "find_browser", lambda: None)
    out = tmp_path / "deep" / "r.html"
    assert main(["report", str(DEMO), "--out", str(out), "--json", "--outlet", "trough"]) == 0
    assert json.loads(capsys.readouterr().out)["html"] == str(out)
    assert main(["report", str(DEMO), "--out", str(tmp_path / "r.txt")]) == 2
    with pytest.raises(SystemExit):
        main(["report", str(DEMO), "--out", str(out), "--period", "2024-02-01/2024-01-01"])
