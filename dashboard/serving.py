"""Making the demo workspace and starting the dashboard on a workspace."""

from __future__ import annotations

import gc
import importlib
import logging
import os
import shutil
import threading
import time
from importlib.resources import as_file, files
from pathlib import Path

from dashboard.first_page import KEPT_AT
from dashboard.first_page_apart import Apart
from dashboard.people import SECRETS, check_listening, sign_in_configured
from dashboard.workspace_file import FILE_NAME
from hydro.problems import InputError, Problem

APP = Path(__file__).with_name("app.py")
WORKSPACE_VARIABLE = "RESURGENCE_WORKSPACE"
DEMO = "quillmere"
#: Nobody has come for so long: the workspace is read meanwhile [s].
LONGEST_WAIT = 10.0
#: What a page was sent is drawn by the browser before anything else is read [s].
_DRAWING = 1.5
_SHOWN = threading.Event()
#: The thread that reads while the browser starts.
_WARMING = "warm-up"
#: Views that the entry and the first page are made of.
_FIRST_VIEWS = ("by_title", "dry_months", "for_fingers", "parts", "plain_table", "shown", "take_away")
#: One blue for both themes: it keeps 5:1 against white text and 3:1 against the dark page.
_OPTIONS = {
    "server.headless": "true",
    "server.fileWatcherType": "none",
    "browser.gatherUsageStats": "false",
    "server.showEmailPrompt": "false",
    # No line of a page is shown because it stands alone; it also spares a second reading of every page's code.
    "runner.magicEnabled": "false",
    # A search through every object after each change of a page took two thirds of the server's time and kept its
    # last message waiting. Python collects by itself when there is something to collect (see `_settle_memory`).
    "runner.postScriptGC": "false",
    "client.toolbarMode": "viewer",
    "client.showErrorDetails": "none",
    # The grid's own export would write cells that a spreadsheet runs as formulas; the pages offer safe files.
    "client.disableDataExport": "true",
    "theme.light.primaryColor": "#0072B2",
    "theme.dark.primaryColor": "#0072B2",
    "theme.light.textColor": "#1f2328",
    "theme.light.grayTextColor": "#57606a",
    "theme.dark.grayTextColor": "#b3b1aa",
    "theme.headingFont": "serif",
    "theme.headingFontSizes": '["2.1rem", "1.6rem", "1.35rem", "1.2rem", "1rem", "1rem"]',
    "theme.headingFontWeights": "[600, 600, 600, 600, 600, 600]",
    "theme.baseRadius": "small",
    "theme.buttonRadius": "small",
    "theme.linkUnderline": "true",
}


def make_demo(folder: Path) -> bool:
    """Copy the invented demo workspace to `folder`; False where it is there already (nothing is overwritten)."""
    if (folder / FILE_NAME).is_file():
        return False
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError([Problem(file=str(folder), expected="a new or empty folder for the demo workspace")])
    with as_file(files("demo_data") / DEMO) as source:
        # What the tool keeps of its own beside the original is none of the demo's.
        shutil.copytree(source, folder, dirs_exist_ok=True, ignore=shutil.ignore_patterns(".resurgence"))
    return True


def serve(workspace: Path, host: str, port: int, *, trust_network: bool = False) -> int:
    """Run the dashboard on `workspace` until it is stopped.

    Raises InputError where it would listen beyond this machine without sign-in and was not told to.
    """
    check_listening(workspace, host, trust_network=trust_network)
    folder = workspace.resolve()
    os.environ[WORKSPACE_VARIABLE] = str(folder)
    # A folder opened for the first time: its page is begun before the libraries of the server are loaded.
    new = (folder / FILE_NAME).is_file() and not (folder / KEPT_AT).exists()
    apart = Apart(folder) if new else None
    from streamlit.web.cli import main

    shown = host if port == 0 else f"http://{host}:{port}"
    print(f"\nDashboard for {workspace}: {shown}  (stop with Ctrl+C)", flush=True)
    flags = [f"--{name}={value}" for name, value in {**_OPTIONS, "server.address": host, "server.port": port}.items()]
    if sign_in_configured(workspace):
        flags.append(f"--secrets.files={(workspace / SECRETS).resolve()}")
    # Until all is read nearly nothing becomes garbage: looking for it would be a tenth of the work. `_settle_memory`
    # has it looked for again.
    gc.disable()
    threading.Thread(target=_warm_up, args=(folder, apart), name=_WARMING, daemon=True).start()
    try:
        main(["run", str(APP), *flags], prog_name="resurgence")
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else 1
    return 0


def first_page_shown() -> None:
    """To be called when a page has been run: what it did not need can be read now."""
    _SHOWN.set()


def _warm_up(folder: Path, apart: Apart | None) -> None:
    """Have the first page ready when the browser is: whoever comes first waits less.

    Where no earlier run kept it, another process works it out. What that page does not show at first waits until it has
    been shown: both at once would take longer. Then the workspace is read, where the pages look for it.
    """
    try:
        if (folder / FILE_NAME).is_file():
            _read_ahead(folder, apart)
    finally:
        _settle_memory()


def _read_ahead(folder: Path, apart: Apart | None) -> None:
    # Outside a page the library warns at every kept answer that there is no page; it sets levels anew when it starts.
    logging.getLogger("streamlit.runtime.scriptrunner_utils.script_run_context").addFilter(_from_elsewhere)
    from dashboard import cache, cache_first_page

    if apart is None and cache_first_page.first_page(folder) is None:
        apart = Apart(folder)
    if apart is not None:
        cache_first_page.wait_for(apart)
    _import_for_pages()
    _wait_until_shown()
    if apart is not None:
        apart.go_on()
    loaded = cache.load(folder)
    if loaded.workspace is not None:
        cache_first_page.trip_check_of(loaded, loaded.workspace.unit, None)


def _wait_until_shown() -> None:
    if _SHOWN.wait(LONGEST_WAIT):
        time.sleep(_DRAWING)


def warming_up() -> bool:
    """Whether the server is still reading ahead, and will keep the first page by itself."""
    return any(thread.name == _WARMING for thread in threading.enumerate())


def _import_for_pages() -> None:
    """Import what the first page's own code does, and what the library imports for the icon beside its title."""
    importlib.import_module("PIL.Image")
    importlib.import_module("numpy")
    # Not the entry itself: its code is run anew for each look at a page.
    for name in ("start.dropped", "people", "trip_check", *(f"views.{v}" for v in _FIRST_VIEWS)):
        importlib.import_module(f"dashboard.{name}")


def _settle_memory() -> None:
    """Take what lives as long as the server (libraries, the workspace) out of all later searches for garbage."""
    gc.enable()
    gc.collect()
    gc.freeze()


def _from_elsewhere(record: logging.LogRecord) -> bool:
    """Whether a message was written by another thread than the one that warms up."""
    return record.threadName != _WARMING
