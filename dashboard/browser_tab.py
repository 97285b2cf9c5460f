"""A page in a browser that is on the computer anyway: given as a text, told scripts, never seen."""

from __future__ import annotations

import asyncio
import json
import logging
import os
import signal
import subprocess
import threading
import time
from collections.abc import Sequence
from concurrent.futures import Future
from contextlib import suppress
from pathlib import Path
from typing import Any, Self

#: Longest that a browser may take for what it is asked at once, and to end [s].
_PATIENCE_S, _ENDING_S = 90.0, 10.0

#: A browser for people draws a page of news and lists of suggestions when it starts. Nobody sees them, and they are
#: more work than all else that it does to start.
_PLAIN = (
    "--disable-features=WebUIOmniboxPopup,WebUIOmniboxAimPopup,OptimizationHints,MediaRouter,LensOverlay",
    "--disable-background-networking",
    "--disable-default-apps",
    "about:blank",
)


class BrowserError(RuntimeError):
    """A browser that did not do what it was asked, and why, in words to go on with after “No PDF:”."""


def find_browser() -> str | None:
    """Path of a Chromium, Chrome or Edge; None where there is none."""
    try:
        from choreographer.browsers.chromium import Chromium
    except ImportError:
        return None
    return Chromium.find_browser(skip_local=False)


class BrowserTab:
    """A browser that starts and reads `page` while other things are done; end it by `close` in any case."""

    def __init__(self, browser: str, page: str) -> None:
        self._browser, self._page = browser, page
        self._opened: Any = None
        self._loop = asyncio.new_event_loop()
        self._loop.set_exception_handler(lambda *_: None)  # what goes wrong is said by `wait`
        self._thread = threading.Thread(target=self._loop.run_forever, name="browser", daemon=True)
        self._thread.start()
        self._session = asyncio.run_coroutine_threadsafe(self._open(), self._loop)

    def begin(self, script: str) -> Future[Any]:
        """Have a script run when the page and the scripts before are done; returns at once."""
        return asyncio.run_coroutine_threadsafe(self._run(script), self._loop)

    def run(self, script: str) -> Any:
        """The value of a script, where it is a promise that of its end. Raises BrowserError."""
        return self.wait(self.begin(script))

    def command(self, name: str, params: dict[str, Any]) -> Any:
        """The result of a command of the Chrome DevTools Protocol. Raises BrowserError."""
        return self.wait(asyncio.run_coroutine_threadsafe(self._command(name, params), self._loop))

    def wait(self, *begun: Future[Any]) -> Any:
        """The value of the last of them, when all have ended. Raises BrowserError."""
        name, value = Path(self._browser).name, None
        until = time.monotonic() + _PATIENCE_S
        try:
            for one in begun:
                value = one.result(max(0.0, until - time.monotonic()))
        except TimeoutError:
            raise BrowserError(f"{name} took longer than {_PATIENCE_S:g} s") from None
        except Exception as error:  # whatever a browser and its library can do wrong
            raise BrowserError(f"{name} failed ({type(error).__name__})") from error
        return value

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """End the browser."""
        if self._loop.is_closed():
            return
        with suppress(Exception):  # one that will not end, or is gone already
            asyncio.run_coroutine_threadsafe(self._close(), self._loop).result(_ENDING_S)
        process = getattr(self._opened, "subprocess", None)
        if process is not None and process.poll() is None:
            _kill(process)
        with suppress(Exception):
            asyncio.run_coroutine_threadsafe(_cancel_the_others(), self._loop).result(_ENDING_S)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(_ENDING_S)
        if not self._thread.is_alive():
            self._loop.close()

    async def _open(self) -> Any:
        from choreographer import Browser
        from choreographer.browsers.chromium import Chromium

        class Plain(Chromium):
            def get_cli(self) -> Sequence[str]:
                return [*super().get_cli(), *_PLAIN]

        # A browser that does not start is said where something is asked of it, once, in the tool's words.
        logging.getLogger("choreographer").setLevel(logging.CRITICAL)
        self._opened = Browser(self._browser, browser_cls=Plain, enable_extensions=False)
        await self._opened.open()
        session = (await self._opened.create_tab("about:blank")).get_session()
        await _run_in(session, f"document.open(); document.write({json.dumps(self._page)}); document.close()")
        return session

    async def _run(self, script: str) -> Any:
        return await _run_in(await asyncio.wrap_future(self._session), script)

    async def _command(self, name: str, params: dict[str, Any]) -> Any:
        session = await asyncio.wrap_future(self._session)
        return (await session.send_command(name, params=params))["result"]

    async def _close(self) -> None:
        with suppress(BaseException):
            self._session.cancel()
        if self._opened is not None:
            await self._opened.close()


async def _run_in(session: Any, script: str) -> Any:
    answer = await session.send_command(
        "Runtime.evaluate", params={"expression": script, "awaitPromise": True, "returnByValue": True}
    )
    if "error" in answer or "exceptionDetails" in answer["result"]:
        raise RuntimeError(str(answer)[:500])
    return answer["result"]["result"].get("value")


async def _cancel_the_others() -> None:
    others = asyncio.all_tasks() - {asyncio.current_task()}
    for task in others:
        task.cancel()
    await asyncio.gather(*others, return_exceptions=True)


def _kill(process: subprocess.Popen[bytes]) -> None:
    """End it with all the processes that it has started."""
    with suppress(ProcessLookupError):
        if hasattr(os, "killpg"):
            os.killpg(process.pid, signal.SIGKILL)  # its library gives it a group of its own
        else:
            process.kill()
    process.wait()
