"""Pictures as files: by a browser where there is one, with a reason where there is none."""

from __future__ import annotations

import io
import os
import xml.etree.ElementTree as ET

import plotly.graph_objects as go
import pytest

from dashboard.browser_tab import BrowserError, BrowserTab, find_browser
from dashboard.figures import picture_file
from dashboard.figures.picture_file import begin_picture, drawing_library, picture_bytes

pytestmark = pytest.mark.browser
SIZE = 300, 150


def test_a_figure_is_drawn_at_its_size_and_what_cannot_be_drawn_is_said() -> None:
    from PIL import Image

    browser = find_browser()
    if browser is None:
        assert not os.environ.get("CI"), "the machine that builds has a browser"
        pytest.skip("no browser is found to draw with")
    figure = go.Figure(go.Bar(x=["a", "b"], y=[1, 2]), layout={"title": {"text": "</script> & <b>bold</b>"}})
    with BrowserTab(browser, f"<script>{drawing_library()}</script>") as tab:
        begun = {kind: begin_picture(tab, figure, kind, SIZE) for kind in picture_file.KINDS}
        with Image.open(io.BytesIO(picture_bytes(tab, "png", begun["png"]))) as png:
            assert png.size == (2 * SIZE[0], 2 * SIZE[1]) and len(set(png.convert("L").tobytes())) > 2
        svg = ET.fromstring(picture_bytes(tab, "svg", begun["svg"]))
        assert svg.tag == "{http://www.w3.org/2000/svg}svg" and svg.get("width") == str(SIZE[0])
        with pytest.raises(BrowserError, match=r"failed \(RuntimeError\)"):
            tab.run("no_such_thing()")
        assert tab.run("new Promise(done => setTimeout(() => done(2 + 3)))") == 5


def test_without_a_browser_the_reason_is_said(monkeypatch) -> None:
    monkeypatch.setattr(picture_file, "find_browser", lambda: None)
    with pytest.raises(BrowserError, match="no browser was found"):
        picture_file.picture_file(go.Figure(), "png", SIZE)
