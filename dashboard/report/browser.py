"""A browser that is on the computer anyway: where it is, and what it draws as files."""

from __future__ import annotations

from collections.abc import Sequence

from dashboard.figures.drawing import Drawing


def find_browser() -> str | None:
    """Path of a Chromium, Chrome or Edge; None where there is none."""
    try:
        from choreographer.browsers.chromium import Chromium
    except ImportError:
        return None
    return Chromium.find_browser(skip_local=False)


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
