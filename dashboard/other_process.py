"""Another process that does what it is told, one thing after another.

The standard library's own would run the main module once more in it; in a server of pages that is the page.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from typing import Any, BinaryIO

from dashboard.one_thread import ONE_THREAD


class ProcessGoneError(RuntimeError):
    """The other process has ended; what it was told has not been done."""


class OtherProcess:
    """Starts at once and imports the module `prepared`, if one is named; ends by `close`, or with this process.

    It is no copy of this process, whose threads it would lack: it starts afresh, with the same path for modules.
    """

    def __init__(self, prepared: str = "") -> None:
        # Not by `-m`: that would look for the program in whatever folder this one was started in.
        code = f"import sys; sys.path[:] = {sys.path!r}; from dashboard.other_process import serve; serve({prepared!r})"
        # An interrupt is for the process that the user sees.
        apart: dict[str, Any] = {"start_new_session": True}
        if sys.platform == "win32":
            apart = {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP}
        self.process = subprocess.Popen(
            [sys.executable, "-P", "-c", code],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=os.environ | dict.fromkeys(ONE_THREAD, "1"),
            **apart,
        )

    def call(self, work: Callable[..., Any], *given: object) -> Any:
        """`work(*given)`, done there: a function of a module; what is given and found can be pickled.

        Raises what it raises there; ProcessGoneError where the process ends before it has answered.
        """
        self.tell(work, *given)
        return self.answer()

    def tell(self, work: Callable[..., Any], *given: object) -> None:
        """The first half of `call`: it is at work."""
        told = self.process.stdin
        assert told is not None
        said = pickle.dumps((work, given), protocol=pickle.HIGHEST_PROTOCOL)
        try:
            told.write(said)
            told.flush()
        except OSError as gone:
            raise self._gone() from gone

    def answer(self) -> Any:
        """The second half, waited for."""
        found = self.process.stdout
        assert found is not None
        try:
            error, result = pickle.load(found)
        except (EOFError, OSError, pickle.UnpicklingError) as gone:
            raise self._gone() from gone
        if error is not None:
            raise error
        return result

    def _gone(self) -> ProcessGoneError:
        return ProcessGoneError(f"process {self.process.pid} has ended")

    def close(self) -> None:
        """End it, whatever it is doing."""
        self.process.kill()
        self.process.wait()
        for line in (self.process.stdin, self.process.stdout):
            if line is not None:
                with suppress(OSError):  # what was never read there cannot be sent any more
                    line.close()


def serve(prepared: str) -> None:
    """The other process, until nobody can tell it anything any more."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what is printed there must not be taken for an answer
    if prepared:
        __import__(prepared)
    with suppress(EOFError, OSError):
        while True:
            _answer(sys.stdin.buffer, answers)


def _answer(told: BinaryIO, answers: BinaryIO) -> None:
    work, given = pickle.load(told)
    try:
        answer = pickle.dumps((None, work(*given)), protocol=pickle.HIGHEST_PROTOCOL)
    except Exception as error:  # noqa: BLE001 - raised where the answer is wanted
        answer = pickle.dumps((error, None))
    answers.write(answer)
    answers.flush()
