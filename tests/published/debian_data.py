"""Open data that only packages of the Debian archive carry.

The package is fetched alone with `apt-get download` and unpacked with `dpkg-deb`, never installed; two small files of
it are kept in the cache folder (see `open_series`), and nothing is copied into this project.

  r-cran-glmmtmb   Salamanders: 644 counts of salamanders at 23 streams, some below surface mines (Price, Muncy, Bonner,
                   Drayer and Barton 2016, J. Appl. Ecol. 53:459–468; AGPL-3)
"""

from __future__ import annotations

import gzip
import os
import shutil
import struct
import subprocess
import tempfile
import zlib
from pathlib import Path

import numpy as np
import pandas as pd

from tests.published.open_series import RegistryUnreachableError, cache_folder

_PACKAGE = "r-cran-glmmtmb"
_INSIDE = Path("usr/lib/R/site-library/glmmTMB/data")
_FILES = ("Rdata.rdx", "Rdata.rdb")
#: What apt-get says where no archive answers, or where no list of packages was ever fetched from one.
_UNREACHABLE = ("Temporary failure", "Could not resolve", "Could not connect", "Failed to fetch", "Unable to locate",
                "No candidate", "Can't find a source")  # fmt: skip


def salamanders() -> pd.DataFrame:
    """Columns site, mined (yes, no), cover, sample, DOP, Wtemp, DOY, spp, count."""
    folder = _kept()
    index = r_object(gzip.decompress((folder / _FILES[0]).read_bytes()))
    offset, length = index["variables"]["Salamanders"]
    # A block is the length of what it holds, then that, compressed.
    block = (folder / _FILES[1]).read_bytes()[offset : offset + length]
    columns = r_object(zlib.decompress(block[4:]))
    return pd.DataFrame(columns)


def _kept() -> Path:
    """The folder with both files; fetched if it is not there, and moved into place in one step."""
    target = cache_folder() / _PACKAGE
    if target.is_dir():
        return target
    if shutil.which("apt-get") is None or shutil.which("dpkg-deb") is None:
        raise RegistryUnreachableError(f"{_PACKAGE} comes from the Debian archive, and there is no apt-get here")
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=target.parent, prefix="download-") as made:
        fresh = Path(made)
        if not _apt(fresh, "download", _PACKAGE):
            # The machine has no lists of packages: fetch them beside its own, which takes no rights.
            lists = ("-o", f"Dir::State::Lists={fresh}/lists", "-o", f"Dir::Cache={fresh}/cache")
            (fresh / "lists/partial").mkdir(parents=True)
            (fresh / "cache/archives/partial").mkdir(parents=True)
            _apt(fresh, *lists, "update")
            if not _apt(fresh, *lists, "download", _PACKAGE):
                raise RegistryUnreachableError(f"no Debian archive answers, and {_PACKAGE} is not kept")
        package = next(fresh.glob(f"{_PACKAGE}_*.deb"))
        subprocess.run(["dpkg-deb", "-x", str(package), str(fresh / "unpacked")], check=True, timeout=300)
        (fresh / "kept").mkdir()
        for name in _FILES:
            shutil.copy(fresh / "unpacked" / _INSIDE / name, fresh / "kept" / name)
        try:
            (fresh / "kept").rename(target)
        except OSError:  # another worker was first
            if not target.is_dir():
                raise
    return target


def _apt(folder: Path, *words: str) -> bool:
    """Whether apt-get did it; False where no archive could be asked, RuntimeError where it failed otherwise."""
    command = ["apt-get", "-q", "-o", "Acquire::Retries=2", "-o", "Acquire::http::Timeout=60", *words]
    done = subprocess.run(
        command, cwd=folder, capture_output=True, text=True, timeout=600, env=os.environ | {"LC_ALL": "C"}
    )
    if done.returncode == 0:
        return True
    said = done.stdout + done.stderr
    if any(sign in said for sign in _UNREACHABLE):
        return False
    raise RuntimeError(f"{' '.join(command)} failed:\n{said}")


def r_object(data: bytes) -> dict | list:
    """A list or table in R's binary serialisation (R Internals, section “Serialization Formats”): names to values.

    Numbers and words come as lists of their own, factors as lists of words. Anything else is refused.
    """
    if data[:2] != b"X\n":
        raise ValueError("not a serialisation in R's big-endian form")
    version = struct.unpack(">i", data[2:6])[0]
    at = 14
    if version == 3:  # the name of the native encoding follows
        at += 4 + struct.unpack(">i", data[14:18])[0]
    return _Reader(data, at).value()


class _Reader:
    """Walks the bytes once; symbols are kept, because later ones refer to them by number."""

    def __init__(self, data: bytes, at: int) -> None:
        self.data, self.at = data, at
        self.symbols: list[str] = []

    def integer(self) -> int:
        self.at += 4
        return struct.unpack(">i", self.data[self.at - 4 : self.at])[0]

    def array(self, kind: str, size: int) -> list:
        n = self.integer()
        self.at += n * size
        return np.frombuffer(self.data[self.at - n * size : self.at], kind).tolist()

    def value(self):  # one branch a type of R
        flags = self.integer()
        kind, attributes = flags & 0xFF, bool(flags & 0x200)
        if kind == 254:  # nothing
            return None
        if kind == 255:  # a symbol met before
            return self.symbols[(flags >> 8 or self.integer()) - 1]
        if kind == 1:  # a symbol
            self.symbols.append(self.value())
            return self.symbols[-1]
        if kind == 9:  # text
            n = self.integer()
            self.at += max(n, 0)
            return None if n < 0 else self.data[self.at - n : self.at].decode()
        if kind == 2:  # a chain of pairs
            pairs = {}
            while kind == 2:
                if attributes or not flags & 0x400:
                    raise ValueError("a chain with attributes or without names")
                name = self.value()
                pairs[name] = self.value()
                flags = self.integer()
                kind, attributes = flags & 0xFF, bool(flags & 0x200)
            return pairs
        if kind in (10, 13):  # yes or no, whole numbers
            found = self.array(">i4", 4)
        elif kind == 14:
            found = self.array(">f8", 8)
        elif kind in (16, 19):  # words, lists
            found = [self.value() for _ in range(self.integer())]
        else:
            raise ValueError(f"type {kind} of R is not read here")
        about = self.value() if attributes else {}
        if "levels" in about:
            return [about["levels"][code - 1] for code in found]
        return dict(zip(about["names"], found, strict=True)) if "names" in about else found
