"""Files that were handed to a page and are in no workspace yet: kept aside, and gone with their session."""

from __future__ import annotations

import hashlib
import shutil
import tempfile
import weakref
from dataclasses import dataclass
from pathlib import Path

from dashboard.start.dropped import safe_name


@dataclass(frozen=True, kw_only=True)
class Staged:
    """One file: `path` has a safe name, `digest` is the SHA-256 of its bytes."""

    path: Path
    digest: str

    @property
    def revision(self) -> str:
        return f"{self.path}:{self.digest}"

    @property
    def key(self) -> str:
        """Names this file's fields on the page: the same file handed over again finds its answers."""
        return self.digest[:12]


class Staging:
    """The files of one session. Its folder is removed when the session is forgotten or the program ends."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="resurgence-start-"))
        self.gauges: list[Staged] = []
        self.visits: Staged | None = None
        self.captures: Staged | None = None
        #: Grows with every file taken, so that the field that took it can be emptied.
        self.taken = 0
        self._gone = weakref.finalize(self, shutil.rmtree, self.folder, ignore_errors=True)

    def add_gauge(self, name: str, data: bytes) -> bool:
        """Keep a gauge file; False where one with the same bytes is there already."""
        digest = hashlib.sha256(data).hexdigest()
        if any(s.digest == digest for s in self.gauges):
            return False
        self.gauges.append(self._keep(name, data, digest, "gauge"))
        return True

    def set_visits(self, name: str, data: bytes) -> None:
        """Keep the table of visits in place of the one before."""
        self.visits = self._instead(self.visits, name, data, "visits")

    def set_captures(self, name: str, data: bytes) -> None:
        """Keep the table of captures in place of the one before."""
        self.captures = self._instead(self.captures, name, data, "captures")

    def _instead(self, old: Staged | None, name: str, data: bytes, otherwise: str) -> Staged:
        kept = self._keep(name, data, hashlib.sha256(data).hexdigest(), otherwise)
        if old is not None:
            shutil.rmtree(old.path.parent, ignore_errors=True)
        return kept

    def drop(self, file: Staged) -> None:
        """Leave a file out."""
        self.gauges = [s for s in self.gauges if s is not file]
        if self.visits is file:
            self.visits = None
        if self.captures is file:
            self.captures = None
        shutil.rmtree(file.path.parent, ignore_errors=True)

    def clear(self) -> None:
        """Leave out everything and remove it from the disk."""
        self.gauges, self.visits, self.captures = [], None, None
        self._gone()

    def _keep(self, name: str, data: bytes, digest: str, otherwise: str) -> Staged:
        self.taken += 1
        folder = self.folder / str(self.taken)  # a folder of its own: two files may have one name
        folder.mkdir()
        path = folder / safe_name(name, otherwise=otherwise)
        path.write_bytes(data)
        return Staged(path=path, digest=digest)
