"""A dashboard on the demo workspace and a real browser to look at it with."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_data" / "quillmere"
ARTEFACTS = ROOT / "test-artefacts"
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge", "microsoft-edge")
ARGUMENTS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-default-apps", "--disable-dev-shm-usage", "--mute-audio",
    # Pages live for seconds: translating what ran a few times into faster code takes longer than it saves.
    "--js-flags=--always-sparkplug --no-maglev --no-turbofan",
    # Each new window would draw two lists of suggestions below its address field, which nobody sees. The last such list
    # counts, so that those are named again which Playwright leaves out for steadiness.
    "--disable-features=WebUIOmniboxPopup,WebUIOmniboxAimPopup,DestroyProfileOnBrowserClose,HttpsUpgrades,MediaRouter,"
    "PaintHolding,ThirdPartyStoragePartitioning,OptimizationHints,AvoidUnnecessaryBeforeUnloadCheckSync,LensOverlay",
)  # fmt: skip
IDLE = '[data-testid="stApp"][data-test-script-state="notRunning"][data-test-connection-state="CONNECTED"]'
SETTLED = """() => { const q = s => document.querySelector(s);
  const busy = '[data-testid="stSkeleton"],[data-testid="stAppSkeleton"],[data-testid="stSpinner"]';
  return !q('[data-stale="true"]') && !q(busy)
    && [...document.querySelectorAll('[data-testid="stPlotlyChart"]')].every(e => e.querySelector('.main-svg'))
    && [...document.querySelectorAll('.pointed-picture')].every(e => e.querySelector('svg')); }"""
#: A cold deep link makes the page look for the server below its own address first; both answers are 404 by design.
PROBES = ("/_stcore/health", "/_stcore/host-config")
DESKTOP = {"viewport": {"width": 1280, "height": 800}}
PHONE = {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True, "device_scale_factor": 2}


def find_chromium() -> str | None:
    """A browser on this machine, or None."""
    asked = os.environ.get("BROWSER_PATH")
    return asked or next((found for name in NAMES if (found := shutil.which(name))), None)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """A headless Chromium; the tests are skipped where there is none, and fail in CI."""
    path = find_chromium()
    if path is None:
        reason = "no Chromium, Chrome or Edge was found on this machine"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, headless=True, args=list(ARGUMENTS))
        yield browser
        browser.close()


def free_port() -> int:
    """A port of this machine that nobody listens to."""
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


@contextmanager
def serving(workspace: Path, log: Path) -> Iterator[str]:
    """The dashboard on a workspace through the command line, as a person starts it; gives its address."""
    port = free_port()
    command = [sys.executable, "-m", "dashboard.cli", "serve", str(workspace), "--port", str(port)]
    with log.open("wb") as out:
        server = subprocess.Popen(command, stdout=out, stderr=subprocess.STDOUT, cwd=ROOT)
    address = f"http://127.0.0.1:{port}"
    try:
        until = time.monotonic() + 60
        while True:
            try:
                with urllib.request.urlopen(f"{address}/_stcore/health") as answer:
                    if answer.read() == b"ok":
                        break
            except (urllib.error.URLError, ConnectionError):
                pass
            if server.poll() is not None or time.monotonic() > until:
                pytest.fail(f"the dashboard did not start:\n{log.read_text()}")
            time.sleep(0.1)
        yield address
    finally:
        server.terminate()
        try:
            server.wait(10)
        except subprocess.TimeoutExpired:
            server.kill()
            server.wait(10)


@pytest.fixture(scope="session")
def dashboard_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a dashboard on the demo workspace, for tests that leave it as it is."""
    with serving(DEMO, tmp_path_factory.mktemp("server") / "log.txt") as address:
        yield address


@pytest.fixture(scope="session")
def _lent(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, str]]:
    place = tmp_path_factory.mktemp("lent")
    folder = Path(shutil.copytree(DEMO, place / "springs", ignore=shutil.ignore_patterns(".resurgence")))
    with serving(folder, place / "log.txt") as address:
        yield folder, address


@pytest.fixture
def lent(_lent: tuple[Path, str]) -> tuple[Path, str]:
    """A copy of the demo that a test may change, found by each test as the demo is, and its dashboard's address.

    One dashboard serves all these tests. It has to follow its files whatever is done to them, as it has to for people.
    """
    folder, _ = _lent
    for path in sorted(folder.rglob("*"), reverse=True):
        same = DEMO / path.relative_to(folder)
        if path.is_dir() and not (same.is_dir() and path.name != ".resurgence"):
            shutil.rmtree(path)
        elif path.is_file() and not (same.is_file() and same.read_bytes() == path.read_bytes()):
            path.unlink()
    for path in DEMO.rglob("*"):
        if path.is_file() and ".resurgence" not in path.parts and not (folder / path.relative_to(DEMO)).exists():
            shutil.copyfile(path, folder / path.relative_to(DEMO))
    return _lent


def settle(page: Any, timeout: float = 30_000) -> None:
    """Wait until nothing runs and every picture is drawn."""
    page.wait_for_selector(IDLE, state="attached", timeout=timeout)
    page.wait_for_function(SETTLED, timeout=timeout)


class Tab:
    """One browser tab on the dashboard: what it ran, what it received, and everything that went wrong in it."""

    def __init__(self, page: Any, address: str) -> None:
        self.page = page
        self.window = ("", "")
        self.anew(address)
        page.on("websocket", self._opened)
        page.on("console", self._console)
        page.on("pageerror", lambda e: self.wrong.append(("page error", str(e))))
        page.on("requestfailed", lambda r: self.wrong.append(("failed", r.url)))
        page.on("response", self._response)
        page.on("request", self._request)

    def anew(self, address: str) -> None:
        """Nothing ran, nothing was received and nothing went wrong so far, at this address."""
        self.address = address
        self.runs, self.received = 0, 0
        self.wrong: list[tuple[object, ...]] = []
        self._socket: Any = None

    def put_away(self) -> None:
        """Leave the dashboard: the session ends, and nothing that the browser kept for the page is left to the next."""
        if self.page.url.startswith("http"):
            self.page.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
            self.page.goto("about:blank")

    def _opened(self, socket: Any) -> None:
        self._socket = socket
        socket.on("framereceived", self._frame)

    def _frame(self, frame: str | bytes) -> None:
        from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

        if isinstance(frame, str):
            return
        self.received += len(frame)
        message = ForwardMsg.FromString(frame)
        done = (ForwardMsg.FINISHED_SUCCESSFULLY, ForwardMsg.FINISHED_FRAGMENT_RUN_SUCCESSFULLY)
        if message.WhichOneof("type") == "script_finished" and message.script_finished in done:
            self.runs += 1

    def _console(self, message: Any) -> None:
        if message.type == "error" and not str(message.location.get("url", "")).endswith(PROBES):
            self.wrong.append(("console", message.text))

    def _response(self, response: Any) -> None:
        if response.status >= 400 and not response.url.endswith(PROBES):
            self.wrong.append(("http", response.status, response.url))

    def _request(self, request: Any) -> None:
        if not request.url.startswith((self.address, self.address.replace("http", "ws"), "data:", "blob:")):
            self.wrong.append(("outside", request.url))

    def open(self, path: str) -> None:
        # A page that has not begun to run is idle too: wait for a run of its own.
        self._socket = None  # the page that goes takes its socket with it, and says nothing
        self.act(lambda: self.page.goto(f"{self.address}{path}"))

    def follow(self, page: str) -> None:
        """Go to another page of the open session by its link in the side bar, also where the side bar is closed."""
        link = self.page.get_by_test_id("stSidebarNav").get_by_role("link", name=page, exact=True, include_hidden=True)
        self.act(lambda: link.dispatch_event("click"))

    def reload(self) -> None:
        self._socket = None
        self.act(self.page.reload)

    def act(self, do: Callable[[], object], timeout: float = 60) -> None:
        """Do something that causes a run of the page, and return when that run is over and drawn."""
        before = self.runs
        do()
        self.until(before, timeout)

    def until(self, before: int, timeout: float = 60) -> None:
        """Return when more than `before` runs are over and what they made is drawn."""
        from playwright.sync_api import Error

        end = time.monotonic() + timeout
        while self.runs <= before:
            left = end - time.monotonic()
            if left <= 0:
                pytest.fail("nothing ran after the action")
            if self._socket is None or self._socket.is_closed():
                self.page.wait_for_timeout(20)
                continue
            # Looking every few milliseconds would take as much of the processor as a small page does.
            with suppress(Error):  # closed, or nothing for a second: the page may have opened another
                self._socket.wait_for_event("framereceived", lambda _: self.runs > before, timeout=1000 * min(left, 1))
        settle(self.page)

    def dress(self, scheme: str) -> None:
        """Change the scheme, light or dark, under an open page, as a device does at nightfall."""
        shade = "() => getComputedStyle(document.querySelector('[data-testid=\"stApp\"]')).backgroundColor"
        before = self.page.evaluate(shade)
        self.page.emulate_media(color_scheme=scheme)
        self.page.wait_for_function(f"before => ({shade})() !== before", arg=before)
        self.page.evaluate("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
        settle(self.page)

    def sideways(self) -> int:
        """How far the page can be moved sideways [px]."""
        return int(
            self.page.evaluate(
                """() => Math.max(...[document.scrollingElement, document.querySelector('[data-testid="stMain"]')]
                .map(e => e.scrollWidth - e.clientWidth))"""
            )
        )

    def picture(self, name: str, height: int) -> None:
        """The whole page as a PNG: the page scrolls inside itself, so the window is made tall."""
        ARTEFACTS.mkdir(exist_ok=True)
        size = self.page.viewport_size
        self.page.set_viewport_size({"width": size["width"], "height": height})
        self.page.wait_for_timeout(200)
        settle(self.page)
        self.page.screenshot(path=str(ARTEFACTS / f"{name}.png"), scale="css")
        self.page.set_viewport_size(size)


class Desk:
    """The browser windows of a run, one for each screen and scheme, and their tabs, which one test after another takes.

    A tab of its own for each test would be a process of its own, which translates megabytes of script again: that took
    more of the processor than all the pages' own work.
    """

    def __init__(self, chromium: Any) -> None:
        self.chromium = chromium
        self.windows: dict[tuple[str, str], Any] = {}
        self.free: dict[tuple[str, str], list[Tab]] = {}

    def take(self, screen: str, scheme: str, address: str) -> Tab:
        """A tab that nobody else has, on an empty page."""
        key = screen, scheme
        if key not in self.windows:
            settings = PHONE if screen == "phone" else DESKTOP
            self.windows[key] = self.chromium.new_context(
                **settings, color_scheme=scheme, reduced_motion="reduce", locale="en-GB", timezone_id="Europe/London",
                accept_downloads=True,
            )  # fmt: skip
        free = self.free.setdefault(key, [])
        t = free.pop() if free else Tab(self.windows[key].new_page(), address)
        t.window = key
        t.page.emulate_media(color_scheme=scheme)
        t.page.set_viewport_size((PHONE if screen == "phone" else DESKTOP)["viewport"])
        t.anew(address)
        return t

    def give_back(self, t: Tab) -> None:
        """Leave the page; a tab that cannot is closed."""
        from playwright.sync_api import Error

        try:
            t.put_away()
        except Error:
            t.page.close()
            return
        self.free[t.window].append(t)


@pytest.fixture(scope="session")
def desk(chromium: Any) -> Iterator[Desk]:
    """The windows and tabs of this run."""
    desk = Desk(chromium)
    yield desk
    for window in desk.windows.values():
        window.close()


@pytest.fixture
def tab(desk: Desk, dashboard_address: str) -> Iterator[Callable[..., Tab]]:
    """Lends tabs, each with a session of its own: `tab("phone", "dark")`."""
    taken = []

    def new(screen: str = "desktop", scheme: str = "light", address: str = dashboard_address) -> Tab:
        taken.append(desk.take(screen, scheme, address))
        return taken[-1]

    yield new
    for t in taken:
        desk.give_back(t)


def sidebar(page: Any) -> str:
    """Whether the side bar is open or closed."""
    return "closed" if page.get_by_test_id("stSidebar").get_attribute("data-collapsed") == "true" else "open"


def serious(page: Any) -> list[str]:
    """What axe-core (carried by the package axe-playwright-python) finds serious or critical by WCAG 2.1, A and AA."""
    from axe_playwright_python.sync_playwright import Axe

    rules = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"], "resultTypes": ["violations"]}
    return [
        f"{v['id']} ({v['impact']}): {n['target']} {n['html'][:160]} {n.get('failureSummary', '')[:200]}"
        for v in Axe().run(page, options=rules).response["violations"]
        if v["impact"] in ("serious", "critical")
        for n in v["nodes"]
    ]
