"""Where the addresses of the channels are: in the environment, or in a file that only its owner may read.

An address usually holds a password. It is handed to the channel and nowhere else: never printed, never kept, never
part of a message or of an error.
"""

from __future__ import annotations

import os
import stat
import tomllib
from collections.abc import Mapping
from pathlib import Path


class NoAddressError(Exception):
    """An address is not there; the message says why, without anything secret in it."""


def address_of(name: str, environment: Mapping[str, str], secrets_file: Path | None) -> str:
    """The address under a name: from the environment first, then from the secrets file.

    Raises NoAddressError where there is none, and where the file may be read by others than its owner.
    """
    found = environment.get(name, "").strip()
    if found:
        return found
    if secrets_file is None:
        raise NoAddressError(f"the environment variable {name} is not set, and [watch] names no secrets_file")
    found = _secrets(secrets_file).get(name, "").strip()
    if not found:
        raise NoAddressError(f"neither the environment nor {secrets_file.name} has an address under the name {name}")
    return found


def _secrets(path: Path) -> dict[str, str]:
    """The file's names and addresses, read from the very file whose permissions were checked."""
    if os.name != "posix":
        raise NoAddressError("permissions of a secrets file cannot be checked on this system: use the environment")
    try:
        with path.open("rb") as handle:
            found = os.fstat(handle.fileno())
            if not stat.S_ISREG(found.st_mode):
                raise NoAddressError(f"{path.name} is not an ordinary file")
            if found.st_mode & 0o077:
                raise NoAddressError(
                    f"{path.name} may be read or changed by others (mode {stat.S_IMODE(found.st_mode):04o}): "
                    f"make it yours alone with chmod 600"
                )
            if found.st_uid not in (os.geteuid(), 0):
                raise NoAddressError(f"{path.name} belongs to another user")
            content = handle.read()
    except OSError as error:
        raise NoAddressError(f"{path.name} cannot be read: {error.strerror}") from None
    try:
        values = tomllib.loads(content.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError):
        # What the parser says could repeat a line, and with it a password.
        raise NoAddressError(f'{path.name} is not a TOML file of lines NAME = "address"') from None
    return {k: v for k, v in values.items() if isinstance(v, str)}
