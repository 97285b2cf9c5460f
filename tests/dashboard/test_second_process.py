"""Tasks shared with a second process: the same answers in the same order, whatever becomes of it."""

from __future__ import annotations

import os
import signal
import threading
import time
from pathlib import Path

import pytest

from dashboard.second_process import SecondProcess, second_process


def together(about: tuple[int, Path], task: int) -> tuple[int, int]:
    """In the test's process it waits for the other to have come to a task of its own."""
    parent, sign = about
    if os.getpid() != parent:
        sign.touch()
    until = time.monotonic() + 60
    while not sign.exists() and time.monotonic() < until:
        time.sleep(0.01)
    return task * task, os.getpid()


def only_here(parent: int, task: int) -> int:
    """Ends the process that has it, unless that is the test's."""
    if os.getpid() != parent:
        os.kill(os.getpid(), signal.SIGKILL)
    return task


def wrong(_: None, task: int) -> int:
    if task == 3:
        raise ValueError("task 3 cannot be done")
    time.sleep(0.02)
    return task


def not_to_be_sent(wait: float, task: int) -> object:
    time.sleep(wait)
    return threading.Lock() if task == 5 else task


class Thing:
    """Sent by code of its own, as a frame is: other threads have their turn meanwhile."""

    def __reduce__(self) -> tuple[type[Thing], tuple[()]]:
        return Thing, ()


class Remembers:
    """Large, and it remembers what was asked of it, as an answer with cached properties does."""

    def __init__(self) -> None:
        self.known = {n: Thing() for n in range(100_000)}
        self.began_with = len(self.known)


def remembering(about: Remembers, task: int) -> int:
    until = time.monotonic() + 0.3
    while time.monotonic() < until:
        about.known[len(about.known)] = Thing()
    return task


@pytest.fixture(scope="module")
def second():
    with second_process("") as found:
        assert found is not None, "these tests need two processors"
        yield found


def test_both_processes_work_and_the_order_is_that_of_the_tasks(second: SecondProcess, tmp_path: Path) -> None:
    begun: list[int] = []
    found = second.share(together, (os.getpid(), tmp_path / "both"), range(12), begun.append)
    assert [square for square, _ in found] == [n * n for n in range(12)]
    assert len({process for _, process in found}) == 2
    here = [n for n, (_, process) in enumerate(found) if process == os.getpid()]
    assert here == list(range(len(here))) == begun[: len(here)], "this one takes them from the front"
    assert second.share(together, (os.getpid(), tmp_path / "both"), []) == []


def test_what_is_remembered_here_at_once_does_not_disturb_what_is_sent(second: SecondProcess) -> None:
    about = Remembers()
    assert second.share(remembering, about, [1, 2, 3]) == [1, 2, 3]
    assert len(about.known) > about.began_with


def test_what_another_thread_remembers_meanwhile_does_not_disturb_either(second: SecondProcess) -> None:
    about = Remembers()
    asking = threading.Thread(target=remembering, args=(about, 0))
    asking.start()
    assert second.share(remembering, about, [1]) == [1]
    asking.join()


def test_what_a_task_raises_there_is_raised_here(second: SecondProcess) -> None:
    with pytest.raises(ValueError, match="task 3 cannot be done"):
        second.share(wrong, None, [0, 1, 2, 3])


def test_a_task_that_raises_here_ends_the_work_at_once() -> None:
    with second_process("") as own, pytest.raises(ValueError, match="task 3"):
        assert own is not None
        own.share(wrong, None, [3, 0, 1, 2])


def test_a_process_that_dies_gives_its_task_back_and_does_no_harm_once_it_is_gone() -> None:
    with second_process("") as own:
        assert own is not None
        # The first task here is not begun before the process is gone that had the last one.
        begun: list[int] = []
        found = own.share(only_here, os.getpid(), range(6), lambda n: begun.append(n) or own.other.process.wait(60))
        assert own.other.process.poll() is not None and found == list(range(6)) and set(begun) == set(found)
        assert own.share(only_here, os.getpid(), [7]) == [7]


def test_what_cannot_be_sent_back_is_said(second: SecondProcess) -> None:
    with pytest.raises(TypeError, match="cannot pickle"):
        second.share(not_to_be_sent, 0.05, range(6))


def test_with_one_processor_there_is_none(monkeypatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    with second_process("") as own:
        assert own is None
