"""A browser that is on the computer anyway, for a PDF of the report and its pictures as files."""

from __future__ import annotations

import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path

from dashboard.figures.drawing import Drawing

_PATIENCE_S = 90
_ARGUMENTS = ("--headless=new", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", "--no-first-run",
              "--disable-background-networking", "--disable-dev-shm-usage", "--run-all-compositor-stages-before-draw",
              "--virtual-time-budget=20000")  # fmt: skip


def find_browser() -> str | None:
    """Path of a Chromium, Chrome or Edge; None where there is none."""
    try:
        from choreographer.browsers.chromium import Chromium
    except ImportError:
        return None
    return Chromium.find_browser(skip_local=False)


def write_pdf(page: Path, pdf: Path, browser: str) -> str | None:
    """Print an HTML file to PDF. None when done, else why not; the report is complete without it."""
    with tempfile.TemporaryDirectory() as profile:
        command = [browser, *_ARGUMENTS, f"--user-data-dir={profile}", f"--print-to-pdf={pdf}", page.resolve().as_uri()]
        try:
            subprocess.run(command, capture_output=True, timeout=_PATIENCE_S, check=False)
        except (OSError, subprocess.TimeoutExpired) as error:
            return f"{type(error).__name__} while {Path(browser).name} was printing"
    if not pdf.is_file() or pdf.read_bytes()[:5] != b"%PDF-":
        return f"{Path(browser).name} printed nothing"
    return None


def draw(asked: Sequence[tuple[Drawing, Sequence[str], tuple[int, int]]]) -> list[dict[str, bytes]]:
    """Every drawing on white paper as the bytes of each kind of file asked for ("png", "svg"), one browser for all.

    Each comes with its kinds and its width and height [px]; a PNG has twice as many points each way.
    """
    import warnings

    import kaleido

    from dashboard.report.html_page import on_paper

    found: list[dict[str, bytes]] = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that settings of the server are those of its start
        kaleido.start_sync_server(silence_warnings=True)
        try:
            for d, kinds, (width, height) in asked:
                paper = on_paper(d.figure)
                size = {"width": width, "height": height}
                found.append({k: paper.to_image(format=k, scale=2 if k == "png" else 1, **size) for k in kinds})
        finally:
            kaleido.stop_sync_server(silence_warnings=True)
    return found
