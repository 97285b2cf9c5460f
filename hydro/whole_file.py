"""A file written in one step: at any moment, and after any crash, the whole old file is there or the whole new one.

The content goes into a new file in the same folder, onto the disk, and takes the old file's place by one rename.
"""

from __future__ import annotations

import errno
import os
import re
import secrets
import stat
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

#: What a process that was killed left behind is removed by the next writing, once it is so old [s].
LEFT_BEHIND_S = 3600.0
_END = ".part"
#: Characters of the file's name in that of the new file: names have a greatest length.
_NAME_LENGTH = 40
#: On Windows a file that a virus scanner or an index looks at cannot be replaced for a moment.
_TRIES = 8 if os.name == "nt" else 1
_PAUSE_S = 0.05


class ProtectedFileError(PermissionError):
    """The file is protected against writing. A new file in its place would get around what somebody set on purpose."""


def write_whole(
    path: Path, content: bytes, *, still: Callable[[], bool] | None = None, mode: int | None = None
) -> bool:
    """Write `content` to `path` in one step; False, and nothing written, where `still` says False just before it.

    still   whether the file is as the caller knows it; asked as late as can be
    mode    permissions of a file that was not there; None = what the process gives any new file (its umask)

    A file that is there keeps its permissions, and its owner and group where the process may give files away; where
    the group cannot be kept it gets no more than everybody has. A symbolic link stays one and its target is
    written; other names of the same file (hard links) keep the old content. Raises OSError, with the old file in place
    and nothing left beside it; ProtectedFileError where the file is write-protected.
    """
    target = _target(path)
    before = _status(target)
    new, handle = _new_file(target, before)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
            out.flush()
            _like_before(out.fileno(), before, mode)
            os.fsync(out.fileno())
        if still is not None and not still():
            return False
        _rename(new, target)
    finally:
        with suppress(OSError):
            new.unlink()
    settle_folder(target.parent)
    return True


def settle_folder(folder: Path) -> None:
    """Make new names in a folder last through a power cut, where the system lets a folder be synchronised."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _target(path: Path) -> Path:
    """The file that is meant, behind any symbolic links."""
    target = Path(os.path.realpath(path))
    if target.is_symlink():
        raise OSError(errno.ELOOP, os.strerror(errno.ELOOP), str(path))
    return target


def _status(target: Path) -> os.stat_result | None:
    """What is there, None where nothing is. Raises OSError where it is no file that may be written."""
    try:
        found = target.stat()
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(found.st_mode):
        raise OSError(errno.EINVAL, "it is not an ordinary file", str(target))
    # An administrator may write everything; what nobody was to write is protected from them too.
    if not (found.st_mode & 0o222 and os.access(target, os.W_OK)):
        raise ProtectedFileError(errno.EACCES, "it is write-protected", str(target))
    return found


def _new_file(target: Path, before: os.stat_result | None) -> tuple[Path, int]:
    """An empty file beside the target and a handle to write it; nobody else can read it if few may read the target."""
    start = f".{target.name[:_NAME_LENGTH]}."
    _sweep(target.parent, start)
    new = target.with_name(f"{start}{secrets.token_hex(8)}{_END}")
    how = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    return new, os.open(new, how, 0o666 if before is None else 0o600)


def _sweep(folder: Path, start: str) -> None:
    """Remove what processes that were killed while they wrote have left."""
    pattern = re.compile(re.escape(start) + r"[0-9a-f]{16}" + re.escape(_END))
    with suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if pattern.fullmatch(entry.name) and time.time() - entry.stat().st_mtime > LEFT_BEHIND_S:
                Path(entry.path).unlink()


def _like_before(handle: int, before: os.stat_result | None, mode: int | None) -> None:
    """Permissions, owner and group of the file that is replaced; the given permissions where there was none."""
    if os.name != "posix":
        return
    if before is None:
        if mode is not None:
            os.fchmod(handle, mode)
        return
    kept, now = stat.S_IMODE(before.st_mode), os.fstat(handle)
    if (now.st_uid, now.st_gid) != (before.st_uid, before.st_gid):
        try:
            os.fchown(handle, before.st_uid, before.st_gid)
        except OSError:
            try:
                os.fchown(handle, -1, before.st_gid)
            except OSError:
                kept = kept & ~0o070 | (kept & 0o007) << 3
    os.fchmod(handle, kept)


def _rename(new: Path, target: Path) -> None:
    for attempt in range(1, _TRIES + 1):
        try:
            new.replace(target)
        except PermissionError:
            if attempt == _TRIES:
                raise
            time.sleep(_PAUSE_S * attempt)
        else:
            return
