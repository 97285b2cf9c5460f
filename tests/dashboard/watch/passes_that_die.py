"""Passes of the watch that are killed with SIGKILL, at a step or at a moment; run as a program of its own.

The program reads one line of JSON for each pass ({"folder", "environment", "now", "step", "seconds"}), forks, and lets
the child make the pass. With `step` the child kills itself at that step: before or after each note in the memory and
each sending. With `seconds` it is killed from outside after so long. It answers with one line: {"killed", "steps",
"seconds"}. Everything is imported once, so that a pass costs a fork and not a start of the interpreter.
"""

from __future__ import annotations

import datetime
import functools
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

#: Where a pass touches something that outlives it: class, method.
STEPS = (("MemoryFile", "cut_off"), ("MemoryFile", "keep"), ("MemoryFile", "intend"), ("MemoryFile", "sent"),
         ("MemoryFile", "failed"), ("Sender", "send"))  # fmt: skip


class Dying:
    """Passes in a program of their own; a context manager."""

    def __enter__(self) -> Dying:
        command = [sys.executable, "-m", "tests.dashboard.watch.passes_that_die"]
        root = Path(__file__).parents[3]
        environment = os.environ | {"PYTHONPATH": os.pathsep.join([str(root), os.environ.get("PYTHONPATH", "")])}
        self.program = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=root, env=environment
        )
        return self

    def __exit__(self, *_: object) -> None:
        self.program.stdin.close()
        self.program.wait(30)
        self.program.stdout.close()

    def run(
        self,
        folder: Path,
        environment: dict[str, str],
        now: datetime.datetime,
        *,
        step: int | None = None,
        seconds: float | None = None,
    ) -> dict[str, Any]:
        """One pass, killed at a step, after some seconds, or not at all."""
        order = {"folder": str(folder), "environment": environment, "now": now.isoformat(), "step": step,
                 "seconds": seconds}  # fmt: skip
        self.program.stdin.write(json.dumps(order) + "\n")
        self.program.stdin.flush()
        return json.loads(self.program.stdout.readline())


def counted(step: int | None) -> Callable[[], int]:
    """Make every step count itself and kill the process at number `step`; gives how many there were so far."""
    from dashboard.watch.memory import MemoryFile
    from dashboard.watch.send import Sender

    classes = {"MemoryFile": MemoryFile, "Sender": Sender}
    done = 0

    def tick() -> None:
        nonlocal done
        done += 1
        if done == step:
            os.kill(os.getpid(), signal.SIGKILL)

    def around(method: Callable[..., Any]) -> Callable[..., Any]:
        @functools.wraps(method)
        def wrapped(*args: Any, **named: Any) -> Any:
            tick()
            found = method(*args, **named)
            tick()
            return found

        return wrapped

    for name, method in STEPS:
        setattr(classes[name], method, around(getattr(classes[name], method)))
    return lambda: done


def main() -> None:
    import apprise  # noqa: F401 - the slow imports happen once, here

    from dashboard.watch.one_pass import run_pass

    for line in sys.stdin:
        order = json.loads(line)
        reader, writer = os.pipe()
        start = time.monotonic()
        child = os.fork()
        if child == 0:
            steps = counted(order["step"])
            run_pass(
                Path(order["folder"]),
                environment=order["environment"],
                now=datetime.datetime.fromisoformat(order["now"]),
            )
            os.write(writer, str(steps()).encode())
            os._exit(0)
        os.close(writer)
        if order["seconds"] is not None:
            time.sleep(order["seconds"])
            os.kill(child, signal.SIGKILL)  # a child that is done already waits for us, so the number is still its own
        _, status = os.waitpid(child, 0)
        steps = os.read(reader, 100).decode()
        os.close(reader)
        answer = {
            "killed": os.WIFSIGNALED(status),
            "steps": int(steps) if steps else None,
            "seconds": time.monotonic() - start,
        }
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
