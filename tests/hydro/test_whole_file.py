"""A file in one step: whatever fails or dies, the whole old file or the whole new one, and nothing beside it."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
import textwrap
import threading
from pathlib import Path

import pytest

from hydro import whole_file
from hydro.whole_file import ProtectedFileError, write_whole

posix = pytest.mark.skipif(os.name != "posix", reason="permissions of files are those of POSIX systems")
OLD, NEW = b"date,outlet\n", b"date,outlet\n2024-06-20,ledge\n"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "visits.csv"
    path.write_bytes(OLD)
    return path


def names(path: Path) -> list[str]:
    return sorted(p.name for p in path.parent.iterdir())


def test_a_file_that_was_not_there_gets_the_rights_of_any_new_file(tmp_path: Path) -> None:
    (tmp_path / "usual").write_bytes(b"")
    assert write_whole(tmp_path / "new.csv", NEW) and (tmp_path / "new.csv").read_bytes() == NEW
    assert (tmp_path / "new.csv").stat().st_mode == (tmp_path / "usual").stat().st_mode


@posix
def test_rights_asked_for_are_those_of_a_new_file_only(path: Path) -> None:
    path.chmod(0o640)
    write_whole(path, NEW, mode=0o604)
    write_whole(path.with_name("new"), NEW, mode=0o604)
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert stat.S_IMODE(path.with_name("new").stat().st_mode) == 0o604


@posix
@pytest.mark.parametrize("mode", [0o600, 0o644, 0o660, 0o664, 0o755])
def test_rights_are_kept_whatever_the_umask(path: Path, mode: int) -> None:
    path.chmod(mode)
    before = os.umask(0o077)
    try:
        assert write_whole(path, NEW)
    finally:
        os.umask(before)
    assert path.read_bytes() == NEW and stat.S_IMODE(path.stat().st_mode) == mode
    assert names(path) == ["visits.csv"]


@posix
def test_a_secret_is_not_open_to_others_while_it_is_written(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path.chmod(0o600)
    seen = []
    monkeypatch.setattr(os, "fsync", lambda handle: seen.append(stat.S_IMODE(os.fstat(handle).st_mode)))
    write_whole(path, NEW)
    assert seen[0] == 0o600


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="only an administrator can give files away")
def test_owner_and_group_are_kept(path: Path) -> None:
    os.chown(path, 12345, 23456)
    write_whole(path, NEW)
    assert (path.stat().st_uid, path.stat().st_gid) == (12345, 23456)


@posix
def test_a_group_that_cannot_be_kept_gets_no_more_than_everybody(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path.chmod(0o664)
    found = path.stat()
    other = os.stat_result([found.st_mode, *found[1:4], found.st_uid + 1, found.st_gid + 1, *found[6:10]])

    def refused(handle: int, uid: int, gid: int) -> None:
        raise PermissionError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "fchown", refused)
    monkeypatch.setattr(whole_file, "_status", lambda target: other)
    write_whole(path, NEW)
    assert stat.S_IMODE(path.stat().st_mode) == 0o644


@posix
def test_a_link_stays_one_and_its_target_is_written(path: Path, tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    link, second = tmp_path / "elsewhere" / "link.csv", tmp_path / "elsewhere" / "second.csv"
    link.symlink_to("../visits.csv")
    second.symlink_to(link)
    assert write_whole(second, NEW)
    assert link.is_symlink() and second.is_symlink() and path.read_bytes() == NEW and not path.is_symlink()


@posix
def test_a_link_to_nothing_makes_its_target_and_links_in_a_circle_are_refused(tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to("target")
    write_whole(tmp_path / "link", NEW)
    assert (tmp_path / "link").is_symlink() and (tmp_path / "target").read_bytes() == NEW
    (tmp_path / "a").symlink_to("b")
    (tmp_path / "b").symlink_to("a")
    with pytest.raises(OSError, match="symbolic links"):
        write_whole(tmp_path / "a", NEW)


@posix
def test_a_protected_file_is_left_alone_even_by_an_administrator(path: Path) -> None:
    path.chmod(0o444)
    with pytest.raises(ProtectedFileError):
        write_whole(path, NEW)
    assert path.read_bytes() == OLD and names(path) == ["visits.csv"]


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    with pytest.raises(OSError, match="not an ordinary file"):
        write_whole(tmp_path / "folder", NEW)
    with pytest.raises(FileNotFoundError):
        write_whole(tmp_path / "missing" / "visits.csv", NEW)
    assert list(tmp_path.iterdir()) == [tmp_path / "folder"]


@posix
def test_a_folder_that_nothing_may_be_added_to_keeps_the_old_file(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path.parent.chmod(0o555)
    if os.geteuid() == 0:  # to whom no folder is closed
        opened = os.open

        def closed(at: Path, how: int, *rest: int) -> int:
            if how & os.O_CREAT:
                raise PermissionError(errno.EACCES, "Permission denied", str(at))
            return opened(at, how, *rest)

        monkeypatch.setattr(os, "open", closed)
    try:
        with pytest.raises(PermissionError):
            write_whole(path, NEW)
    finally:
        path.parent.chmod(0o755)
    assert path.read_bytes() == OLD and names(path) == ["visits.csv"]


@pytest.mark.parametrize("step", ["write", "close", "fsync", "rename", "still"])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EIO])
def test_whatever_step_fails_leaves_the_old_file_and_nothing_beside_it(
    path: Path, monkeypatch: pytest.MonkeyPatch, step: str, number: int
) -> None:
    def fails(*_: object) -> bool:
        raise OSError(number, os.strerror(number))

    if step in ("write", "close"):
        opened = os.fdopen

        class Full:
            def __init__(self, handle: int, how: str) -> None:
                self.file = opened(handle, how)
                self.write = fails if step == "write" else self.file.write
                self.flush, self.fileno = self.file.flush, self.file.fileno

            def __enter__(self) -> Full:
                return self

            def __exit__(self, *_: object) -> None:
                self.file.close()
                if step == "close":
                    fails()

        monkeypatch.setattr(os, "fdopen", Full)
    elif step == "fsync":
        monkeypatch.setattr(os, "fsync", fails)
    elif step == "rename":
        monkeypatch.setattr(Path, "replace", fails)
    with pytest.raises(OSError) as caught:
        write_whole(path, NEW, still=fails if step == "still" else None)
    assert caught.value.errno == number
    assert path.read_bytes() == OLD and names(path) == ["visits.csv"]


def test_a_device_that_is_full_in_truth_leaves_the_old_file(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """/dev/full of Linux takes nothing (full(4)): the error is the system's own, not ours."""
    if not Path("/dev/full").exists():
        pytest.skip("there is no /dev/full on this system")
    monkeypatch.setattr(
        whole_file, "_new_file", lambda target, before: (target.with_name("x"), os.open("/dev/full", 1))
    )
    monkeypatch.setattr(whole_file, "_like_before", lambda *_: None)
    with pytest.raises(OSError, match="No space left"):
        write_whole(path, NEW)
    assert path.read_bytes() == OLD and names(path) == ["visits.csv"]


def test_a_file_that_is_another_by_now_is_not_written_over(path: Path) -> None:
    def still() -> bool:
        path.write_bytes(b"edited meanwhile")
        return path.read_bytes() == OLD

    assert not write_whole(path, NEW, still=still)
    assert path.read_bytes() == b"edited meanwhile" and names(path) == ["visits.csv"]


def test_a_file_held_open_for_a_moment_is_tried_again(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As on Windows, where a scanner that reads a file keeps it from being replaced."""
    rename, refusals = Path.replace, iter([True, True, False])

    def held(self: Path, target: Path) -> Path:
        if next(refusals):
            raise PermissionError(errno.EACCES, "held by another program")
        return rename(self, target)

    monkeypatch.setattr(Path, "replace", held)
    monkeypatch.setattr(whole_file, "_TRIES", 3)
    monkeypatch.setattr(whole_file, "_PAUSE_S", 0.0)
    assert write_whole(path, NEW) and path.read_bytes() == NEW


def test_the_content_is_on_the_disk_before_the_name_and_then_the_folder(path: Path, monkeypatch) -> None:
    done: list[str] = []
    rename, sync = Path.replace, os.fsync

    def synced(handle: int) -> None:
        done.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "file")
        sync(handle)

    def renamed(self: Path, target: Path) -> Path:
        done.append("rename")
        return rename(self, target)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(Path, "replace", renamed)
    write_whole(path, NEW)
    assert done == ["file", "rename", *(["folder"] if os.name == "posix" else [])]


_DYING = """
import os, signal, sys
from pathlib import Path
from hydro import whole_file
step, path = sys.argv[1], Path(sys.argv[2])
def die(*_): os.kill(os.getpid(), signal.SIGKILL)
if step == "fsync": os.fsync = die
elif step == "rename": Path.replace = die
elif step == "after": whole_file.settle_folder = die
whole_file.write_whole(path, b"n" * 1_000_000)
"""


@posix
@pytest.mark.parametrize(("step", "new"), [("fsync", False), ("rename", False), ("after", True)])
def test_killed_in_the_middle_leaves_one_whole_file_and_what_is_left_goes_later(path, step: str, new: bool) -> None:
    died = subprocess.run([sys.executable, "-c", textwrap.dedent(_DYING), step, str(path)], check=False)
    assert died.returncode == -signal.SIGKILL
    assert path.read_bytes() == (b"n" * 1_000_000 if new else OLD)
    left = [p for p in path.parent.iterdir() if p != path]
    assert len(left) == (0 if new else 1)
    (path.parent / ".visits.csv.old.part").write_bytes(b"somebody else's")
    write_whole(path, NEW)
    assert all(p.exists() for p in left), "another process may be writing it at this moment"
    for p in left:
        os.utime(p, (0, 0))
    os.utime(path.parent / ".visits.csv.old.part", (0, 0))
    write_whole(path, NEW)
    assert names(path) == [".visits.csv.old.part", "visits.csv"] and path.read_bytes() == NEW


def test_a_reader_only_ever_sees_a_whole_file(path: Path) -> None:
    contents = [bytes([c]) * (50_000 + c) for c in range(1, 11)]
    path.write_bytes(contents[0])
    over, seen = threading.Event(), set()

    def read() -> None:
        while not over.is_set():
            seen.add(path.read_bytes())

    reader = threading.Thread(target=read)
    reader.start()
    for content in contents:
        write_whole(path, content)
    over.set()
    reader.join()
    assert seen <= set(contents) and seen


def test_a_name_as_long_as_names_can_be_is_written(tmp_path: Path) -> None:
    path = tmp_path / ("ö" * 120 + ".csv")
    write_whole(path, NEW)
    write_whole(path, OLD)
    assert path.read_bytes() == OLD
