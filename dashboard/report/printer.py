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
from contextlib import suppress
from pathlib import Path
from typing import Any

#: Longest that a report may take to draw and to print, and a browser to end [s].
_PATIENCE_S, _ENDING_S = 90.0, 10.0
#: Drawing ends in turns of the page's own queue after the last of the text has been read.
_WRITE_THE_REST = """new Promise(done => {{
  document.write({rest}); document.close();
  const drawn = () => setTimeout(() => setTimeout(done));
  if (document.readyState === "complete") drawn(); else addEventListener("load", drawn);
}})"""


class Printer:
    """A browser that is started, and reads the head of a page, while the rest of the page is being worked out.

    Half of the time that a browser takes to print a report goes by before the first of its own words is read: the
    browser starts up, and reads the drawing library. Made with the path of the browser and the page's text as far as it
    is known; `close` it in any case.
    """

    def __init__(self, browser: str, head: str) -> None:
        self._browser, self._head = browser, head
        self._opened: Any = None
        self._loop = asyncio.new_event_loop()
        self._loop.set_exception_handler(lambda *_: None)  # what goes wrong is said by `print`
        self._thread = threading.Thread(target=self._loop.run_forever, name="printer", daemon=True)
        self._thread.start()
        self._session = asyncio.run_coroutine_threadsafe(self._open(), self._loop)

    def __enter__(self) -> Printer:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def print(self, rest: str, pdf: Path) -> str | None:
        """Print the page whose text goes on with `rest`, once. None when done, else why not."""
        name = Path(self._browser).name
        try:
            session = self._session.result(_PATIENCE_S)
            data = asyncio.run_coroutine_threadsafe(self._print(session, rest), self._loop).result(_PATIENCE_S)
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
        await _run(session, f"document.open(); document.write({json.dumps(self._head)})")
        return session

    async def _print(self, session: Any, rest: str) -> bytes:
        await _run(session, _WRITE_THE_REST.format(rest=json.dumps(rest)))
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


async def _run(session: Any, script: str) -> None:
    answer = await session.send_command("Runtime.evaluate", params={"expression": script, "awaitPromise": True})
    if "error" in answer or "exceptionDetails" in answer["result"]:
        raise RuntimeError(str(answer)[:500])
