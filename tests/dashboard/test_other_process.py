"""Another process: a fresh one, its answers kept apart from what it prints, gone when it is no longer wanted."""

from __future__ import annotations

import os
import sys
import types
from collections.abc import Iterator
from pathlib import Path

import pytest

from dashboard.one_thread import ONE_THREAD
from dashboard.other_process import OtherProcess, ProcessGoneError


def about_itself(word: str) -> tuple[str, int, dict[str, str | None], bool]:
    print("printed there", word)
    os.write(1, b"and past Python")
    return word, os.getpid(), {name: os.environ.get(name) for name in ONE_THREAD}, "colorsys" in sys.modules


def cannot() -> None:
    raise ValueError("not to be done")


def no_answer() -> object:
    return (n for n in [1, 2])


@pytest.fixture(scope="module")
def other() -> Iterator[OtherProcess]:
    # As in a server of pages: its main module must not be run there.
    before = sys.modules["__main__"]
    sys.modules["__main__"] = types.ModuleType("__main__")
    sys.modules["__main__"].__file__ = str(Path(__file__).with_name("no such page.py"))
    started = OtherProcess("colorsys")
    sys.modules["__main__"] = before
    yield started
    started.close()


def test_it_answers_with_what_it_has_imported_and_one_thread(other: OtherProcess, monkeypatch) -> None:
    monkeypatch.setenv("OMP_NUM_THREADS", "7")
    for word in ("one", "two"):
        said, process, threads, imported = other.call(about_itself, word)
        assert said == word and process == other.process.pid != os.getpid() and imported
        assert threads == dict.fromkeys(ONE_THREAD, "1")
    assert os.environ["OMP_NUM_THREADS"] == "7"


def test_what_it_raises_is_raised_here_and_it_goes_on(other: OtherProcess) -> None:
    with pytest.raises(ValueError, match="not to be done"):
        other.call(cannot)
    with pytest.raises(TypeError, match="cannot pickle"):
        other.call(no_answer)
    assert other.call(abs, -3) == 3


def test_one_that_has_ended_says_so() -> None:
    own = OtherProcess()
    with pytest.raises(ProcessGoneError, match=str(own.process.pid)):
        own.call(os._exit, 3)
    with pytest.raises(ProcessGoneError):
        own.call(abs, -3)
    own.close()
    assert own.process.poll() is not None
    own.close()
