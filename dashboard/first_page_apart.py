"""The first page worked out by a process of its own while the server and the browser start.

A thread of the server would take turns with the one that hands the browser a hundred small files, and both would wait.
The page comes as text with the state of the files that it rests on; the server shows it only while that is theirs.
"""

from __future__ import annotations

import json
import subprocess
import sys
import threading
import time
from pathlib import Path

from dashboard.loaded import Loaded, revision
from dashboard.trip_check import TripCheck, trip_check_at_once

#: Drawing the rest of a page and keeping it takes a second; a process that has not ended by then is ended [s].
_LONGEST = 60.0


class Apart:
    """One such process: started at once, waited for by whoever wants the page."""

    def __init__(self, folder: Path) -> None:
        root = str(Path(__file__).parents[1])
        # Not by `-m`: that would look for the program in whatever folder the server was started in.
        code = f"import sys; sys.path.insert(0, {root!r}); from dashboard.first_page_apart import main; main()"
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-c", code, str(folder)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,  # what is wrong with a workspace is found again, and said, by the server
        )
        self.folder = folder
        self._found = threading.Event()
        self._page: tuple[str, TripCheck] | None = None
        threading.Thread(target=self._take, name="first-page", daemon=True).start()

    def _take(self) -> None:
        out = self._process.stdout
        line = b"" if out is None else out.readline()
        try:
            told = json.loads(line)
            self._page = (told["revision"], TripCheck.from_text(told["page"]))
        except (ValueError, KeyError, TypeError):
            self._page = None
        self._found.set()

    def page_of(self, folder: Path, name: str) -> TripCheck | None:
        """The page where it rests on this state of the files, waited for; None where it does not or there is none.

        The wait ends with the process: one that fails has no page.
        """
        if folder != self.folder:
            return None
        self._found.wait()
        return self._page[1] if self._page is not None and self._page[0] == name else None

    def go_on(self) -> None:
        """Have it draw what the page does not show at first and keep the whole for the next start, then end."""
        if self._process.stdin is not None:
            self._process.stdin.close()
        try:
            self._process.wait(_LONGEST)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()


def main() -> None:
    """The other process: the page as one line, then, told to go on, the whole page kept."""
    folder = Path(sys.argv[1])
    from dashboard.answers.status import status
    from dashboard.figures.outlet_pictures import last_days_still
    from dashboard.first_page import keep_status
    from dashboard.workspace import load_workspace

    name, now = revision(folder), time.time()
    workspace = load_workspace(folder)
    found = status(workspace)
    page = trip_check_at_once(workspace, found, workspace.unit, lambda o: last_days_still(workspace, o, workspace.unit))
    print(json.dumps({"revision": name, "page": page.as_text()}), flush=True)
    sys.stdin.read()  # ends when the server says so, or is gone
    keep_status(Loaded(revision=name, read_from=now, workspace=workspace), found)
