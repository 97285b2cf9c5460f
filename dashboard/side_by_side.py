"""Work on many things at once: processes where there are many, one after the other where there are few."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TypeVar

Task = TypeVar("Task")
Result = TypeVar("Result")

#: Fewer tasks than this are done before other processes have started up.
WORTH_IT = 24
#: Linear algebra on small matrices is slowed by threads that wait for one another, most of all in several processes.
_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def side_by_side(work: Callable[[Task], Result], tasks: Sequence[Task]) -> list[Result]:
    """`work` on every task, in the order of the tasks.

    `work` is a function of a module and the tasks can be pickled: from `WORTH_IT` tasks on they go to one process for
    each core. What a task raises is raised here.
    """
    cores = os.cpu_count() or 1
    if len(tasks) < WORTH_IT or cores < 2:
        return [work(task) for task in tasks]
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    # Started afresh: a copy of a process that has threads can stand still for ever.
    context = multiprocessing.get_context("spawn")
    with single_threaded(), ProcessPoolExecutor(max_workers=cores, mp_context=context) as pool:
        return list(pool.map(work, tasks, chunksize=max(1, len(tasks) // (8 * cores))))


@contextmanager
def single_threaded() -> Iterator[None]:
    """What the processes started inside inherit; this process itself is not changed."""
    before = {name: os.environ.get(name) for name in _ONE_THREAD}
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
