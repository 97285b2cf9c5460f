"""A list of tasks shared with a second process, so that both processors of a small computer have something to do."""

from __future__ import annotations

import os
import pickle
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

from dashboard.other_process import OtherProcess, ProcessGoneError

About = TypeVar("About")
Task = TypeVar("Task")
Result = TypeVar("Result")

#: How often, and how long after one another [s], something that changes is tried to be sent.
_TRIES, _PAUSE_S = 20, 0.05
#: In the other process: what all its tasks are about, sent once.
_kept: Any = None


@contextmanager
def second_process(prepared: str) -> Iterator[SecondProcess | None]:
    """One that starts up, and imports the module `prepared`, while this one reads files; None on one processor."""
    if (os.cpu_count() or 1) < 2:
        yield None
        return
    second = SecondProcess(prepared)
    try:
        yield second
    finally:
        second.close()


class SecondProcess:
    """The other process. What it finds comes back as it would be here; it ends with this one."""

    def __init__(self, prepared: str) -> None:
        self.other = OtherProcess(prepared)

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
        # Before anything is worked out here: what is remembered along the way would change it meanwhile.
        sent = _pickled(about)

        def give() -> None:
            ready: list[tuple[Task, Result]] = []
            try:
                self.other.call(_keep, sent)
                while not raised and (taken := _take(left.pop)) is not None:
                    there[:] = [taken]
                    self.other.tell(_on_kept, work, taken[1])
                    while ready:  # and the other process is at work
                        done(*ready.pop())
                    found[taken[0]] = self.other.answer()
                    there.clear()
                    ready.append((taken[1], found[taken[0]]))
                while ready:
                    done(*ready.pop())
            except ProcessGoneError:
                left.extend(there)  # it is gone, with the task that it had
            except Exception as error:  # noqa: BLE001 - raised by the other thread
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
        self.other.close()


def _take(end: Callable[[], tuple[int, Task]]) -> tuple[int, Task] | None:
    """The task at one end of those left, None where another thread had the last one."""
    try:
        return end()
    except IndexError:
        return None


def _pickled(about: object) -> bytes:
    """Tried again where somebody else's thread, as in a server of pages, remembers something in it at that moment."""
    for _ in range(_TRIES):
        try:
            return pickle.dumps(about, protocol=pickle.HIGHEST_PROTOCOL)
        except RuntimeError:  # a dictionary changed size during iteration
            time.sleep(_PAUSE_S)
    return pickle.dumps(about, protocol=pickle.HIGHEST_PROTOCOL)


def _keep(sent: bytes) -> None:
    global _kept
    _kept = pickle.loads(sent)


def _on_kept(work: Callable[[Any, Task], Result], task: Task) -> Result:
    return work(_kept, task)
