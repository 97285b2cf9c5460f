"""A browser that prints the report to PDF, started while the report is being worked out."""

from __future__ import annotations

import asyncio
import base64
import json
import logging
import os
import signal
import subprocess
import threading
import time
from concurrent.futures import Future
from contextlib import suppress
from pathlib import Path
from typing import Any

#: Longest that a report may take to draw and to print, and a browser to end [s].
_PATIENCE_S, _ENDING_S = 90.0, 10.0
#: Elements read from a text this way run their scripts, as those of a file do.
_FILL = """document.getElementById({id}).replaceWith(
  (() => {{ const r = document.createRange(); r.selectNode(document.querySelector("main")); return r; }})()
  .createContextualFragment({text}))"""
#: Pictures not drawn, after what one still has to do in the page's own queue when its script is done.
_UNDRAWN = """new Promise(done => document.fonts.ready.then(() => setTimeout(() => setTimeout(() => done(
  [...document.querySelectorAll("figure")].filter(f => !f.querySelector("svg")).length)))))"""


class Printer:
    """A browser that starts, reads the head of a page and draws its parts while other parts are being worked out.

    Most of the time that a browser takes to print a report goes by before it prints: it starts up, reads the drawing
    library, draws. `page` is a whole page with a `<template id=NAME>` inside `<main>` for every part to come. End it by
    `close` in any case.
    """

    def __init__(self, browser: str, page: str) -> None:
        self._browser, self._page = browser, page
        self._opened: Any = None
        self._parts: list[Future[None]] = []
        self._loop = asyncio.new_event_loop()
        self._loop.set_exception_handler(lambda *_: None)  # what goes wrong is said by `print`
        self._thread = threading.Thread(target=self._loop.run_forever, name="printer", daemon=True)
        self._thread.start()
        self._session = asyncio.run_coroutine_threadsafe(self._open(), self._loop)

    def __enter__(self) -> Printer:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def fill(self, name: str, text: str) -> None:
        """Put a part into its place; returns at once."""
        self._parts.append(asyncio.run_coroutine_threadsafe(self._fill(name, text), self._loop))

    def print(self, pdf: Path) -> str | None:
        """Print the page with all parts filled so far. None when done, else why not."""
        name = Path(self._browser).name
        until = time.monotonic() + _PATIENCE_S
        try:
            for part in self._parts:
                part.result(max(0.0, until - time.monotonic()))
            printing = asyncio.run_coroutine_threadsafe(self._print(), self._loop)
            data = printing.result(max(0.0, until - time.monotonic()))
        except TimeoutError:
            return f"{name} took longer than {_PATIENCE_S:g} s"
        except Exception as error:  # noqa: BLE001 - whatever a browser can do wrong, the report is complete
            return f"{name} printed nothing ({type(error).__name__})"
        if data[:5] != b"%PDF-":
            return f"{name} printed nothing"
        pdf.write_bytes(data)
        return None

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

        # A browser that does not start is said where it is to print, once, in the tool's words.
        logging.getLogger("choreographer").setLevel(logging.CRITICAL)
        self._opened = Browser(self._browser)
        await self._opened.open()
        session = (await self._opened.create_tab("about:blank")).get_session()
        await _run(session, f"document.open(); document.write({json.dumps(self._page)}); document.close()")
        return session

    async def _fill(self, name: str, text: str) -> None:
        session = await asyncio.wrap_future(self._session)
        await _run(session, _FILL.format(id=json.dumps(name), text=json.dumps(text)))

    async def _print(self) -> bytes:
        session = await asyncio.wrap_future(self._session)
        undrawn = await _run(session, _UNDRAWN)
        if undrawn:
            raise RuntimeError(f"{undrawn} pictures were not drawn")
        answer = await session.send_command(
            "Page.printToPDF", params={"preferCSSPageSize": True, "printBackground": True, "generateTaggedPDF": True}
        )
        return base64.b64decode(answer["result"]["data"])

    async def _close(self) -> None:
        with suppress(BaseException):
            self._session.cancel()
        if self._opened is not None:
            await self._opened.close()


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


async def _run(session: Any, script: str) -> Any:
    """The value of a script, waited for where it is a promise."""
    answer = await session.send_command("Runtime.evaluate", params={"expression": script, "awaitPromise": True})
    if "error" in answer or "exceptionDetails" in answer["result"]:
        raise RuntimeError(str(answer)[:500])
    return answer["result"]["result"].get("value")
