"""Work on many things at once: processes where there are many, one after the other where there are few."""

from __future__ import annotations

import os
import threading
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from typing import TypeVar

from dashboard.other_process import OtherProcess

Task = TypeVar("Task")
Result = TypeVar("Result")

#: Fewer tasks than this are done before other processes have started up.
WORTH_IT = 24


def side_by_side(work: Callable[[Task], Result], tasks: Sequence[Task]) -> list[Result]:
    """`work` on every task, in the order of the tasks.

    `work` is a function of a module and the tasks can be pickled: from `WORTH_IT` tasks on they go to one process for
    each core. What a task raises is raised here; ProcessGoneError where a process has ended before its task.
    """
    cores = os.cpu_count() or 1
    if len(tasks) < WORTH_IT or cores < 2:
        return [work(task) for task in tasks]
    left = deque(enumerate(tasks))
    found: dict[int, Result] = {}
    raised: list[Exception] = []

    def give(other: OtherProcess) -> None:
        while not raised:
            try:
                k, task = left.popleft()
            except IndexError:
                return
            try:
                found[k] = other.call(work, task)
            except Exception as error:  # noqa: BLE001 - raised below
                raised.append(error)

    with ExitStack() as processes:
        others = [OtherProcess() for _ in range(cores)]
        for other in others:
            processes.callback(other.close)
        givers = [threading.Thread(target=give, args=(other,), daemon=True) for other in others]
        for giver in givers:
            giver.start()
        for giver in givers:
            giver.join()
    if raised:
        raise raised[0]
    return [found[k] for k in range(len(tasks))]
