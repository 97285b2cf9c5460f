"""A list of tasks shared with a second process, so that both processors of a small computer have something to do."""

from __future__ import annotations

import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from typing import Any, TypeVar

from dashboard.side_by_side import single_threaded

About = TypeVar("About")
Task = TypeVar("Task")
Result = TypeVar("Result")


@contextmanager
def second_process(prepare: Callable[[], object]) -> Iterator[SecondProcess | None]:
    """One that starts up while this one reads files; None where there is one processor only.

    `prepare` is called there at once: a function of a module that imports what the tasks will need.
    """
    if (os.cpu_count() or 1) < 2:
        yield None
        return
    second = SecondProcess(prepare)
    try:
        yield second
    finally:
        second.close()


class SecondProcess:
    """The other process. What it finds comes back as it would be here; it ends with this one."""

    def __init__(self, prepare: Callable[[], object]) -> None:
        import multiprocessing

        # Started afresh: a copy of a process that has threads can stand still for ever.
        context = multiprocessing.get_context("spawn")
        self._line, other_end = context.Pipe()
        self._process = context.Process(target=_serve, args=(other_end, prepare), daemon=True)
        with single_threaded():
            self._process.start()
        other_end.close()

    def share(
        self,
        work: Callable[[About, Task], Result],
        about: About,
        tasks: Sequence[Task],
        begins: Callable[[Task], None] = lambda _: None,
        done: Callable[[Task, Result], None] = lambda *_: None,
    ) -> list[Result]:
        """`work(about, task)` of every task, in their order.

        This process takes the tasks from the front, the other from the back, until they meet; should the other die, all
        is done here. `work` is a function of a module; it, `about`, the tasks and the results can be pickled. `begins`
        is told the task begun, or waited for; `done` what was found, in the thread that has it. What a task, or `done`,
        raises is raised here.
        """
        left = deque(enumerate(tasks))
        found: dict[int, Result] = {}
        there: list[tuple[int, Task]] = []
        raised: list[BaseException] = []

        def give() -> None:
            ready: tuple[Task, Result] | None = None
            try:
                self._line.send((work, about, None))
                while not raised and (taken := _take(left.pop)) is not None:
                    there[:] = [taken]
                    self._line.send((None, None, taken[1]))
                    if ready is not None:
                        done(*ready)  # while the other process is at work again
                    error, result = self._line.recv()
                    if error is not None:
                        raised.append(error)
                        return
                    found[taken[0]] = result
                    there.clear()
                    ready = taken[1], result
                if ready is not None:
                    done(*ready)
            except (EOFError, OSError):  # it is gone, with the task that it had
                left.extend(there)
            except Exception as error:  # noqa: BLE001 - what cannot be sent or read; raised by the other thread
                raised.append(error)

        giver = threading.Thread(target=give, name="second-process", daemon=True)
        giver.start()
        try:
            while not raised:
                taken = _take(left.popleft)
                if taken is not None:
                    begins(taken[1])
                    found[taken[0]] = work(about, taken[1])
                    done(taken[1], found[taken[0]])
                    continue
                for _, waited in there[:]:
                    begins(waited)
                giver.join()  # before it ends it may give a task back
                if not left:
                    break
        except BaseException as error:
            raised.append(error)
            raise
        giver.join()
        if raised:
            raise raised[0]
        return [found[k] for k in range(len(tasks))]

    def close(self) -> None:
        """End it, whatever it is doing."""
        self._process.kill()
        self._process.join()
        self._line.close()


def _take(end: Callable[[], tuple[int, Task]]) -> tuple[int, Task] | None:
    """The task at one end of those left, None where another thread had the last one."""
    try:
        return end()
    except IndexError:
        return None


def _serve(line: Any, prepare: Callable[[], object]) -> None:
    """The other process, until the line is closed."""
    with suppress(ValueError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # an interrupt is for the process that the user sees
    prepare()
    with suppress(EOFError, OSError):
        work, about, _ = line.recv()
        while True:
            told, told_about, task = line.recv()
            if told is not None:
                work, about = told, told_about
                continue
            try:
                line.send((None, work(about, task)))
            except Exception as error:  # noqa: BLE001 - raised where the answer is wanted
                line.send((error, None))
