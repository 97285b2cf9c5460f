"""A file replaced in one step: at any moment, and after any crash, the whole old file is there or the whole new one."""

from __future__ import annotations

import os
import shutil
import tempfile
from contextlib import suppress
from pathlib import Path


class CannotReplaceError(Exception):
    """The file stays as it is; the message says why, as the end of a sentence."""


def replace_file(path: Path, expected: bytes, made: bytes) -> bool:
    """Put the new content in place; False where the file does not hold `expected` any more.

    Raises CannotReplaceError.
    """
    if not (path.stat().st_mode & 0o222 and os.access(path, os.W_OK)):
        raise CannotReplaceError(f"{path.name} is write-protected")
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
    except OSError as error:
        raise CannotReplaceError(f"a new {path.name} cannot be made ({error.strerror})") from None
    new = Path(name)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(made)
            out.flush()
            os.fsync(out.fileno())
        shutil.copymode(path, new)
        if path.read_bytes() != expected:
            return False
        new.replace(path)
    except OSError as error:
        raise CannotReplaceError(f"{path.name} cannot be written ({error.strerror})") from None
    finally:
        new.unlink(missing_ok=True)
    with suppress(OSError):
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    return True
