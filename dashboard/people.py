"""Who may do what: viewers look, recorders also write visits down, keepers also change levels. No screen here.

On one's own machine, where nobody signs in, the person at the keyboard is a keeper. Where people sign in,
workspace.toml names recorders and keepers by their e-mail address; everybody else who can sign in is a viewer.
"""

from __future__ import annotations

import ipaddress
import tomllib
from collections.abc import Mapping
from pathlib import Path

from dashboard.workspace_settings import PeopleSettings
from hydro.problems import InputError, Problem

VIEWER, RECORDER, KEEPER = "viewer", "recorder", "keeper"
SECRETS = "secrets.toml"


def role_of(people: PeopleSettings, *, sign_in: bool, user: Mapping[str, object]) -> str | None:
    """The role of whoever is at a page; None = nobody has signed in where that is asked for.

    sign_in   whether people sign in at all
    user      what the sign-in says of them: is_logged_in, email, email_verified
    """
    if not sign_in:
        return KEEPER
    if user.get("is_logged_in") is not True:
        return None
    email = str(user.get("email") or "").casefold()
    # An address that its provider has not verified proves nothing.
    if not email or user.get("email_verified") is False:
        return VIEWER
    if email in people.keepers:
        return KEEPER
    return RECORDER if email in people.recorders else VIEWER


def may_write(role: str | None) -> bool:
    return role in (RECORDER, KEEPER)


def may_change_levels(role: str | None) -> bool:
    return role == KEEPER


def sign_in_configured(workspace: Path) -> bool:
    """Whether the workspace's secrets file has an [auth] part. Raises InputError where others can read the file."""
    path = workspace / SECRETS
    if not path.is_file():
        return False
    if path.stat().st_mode & 0o077:
        expected = f"a file that only its owner can read (chmod 600 {path})"
        raise InputError([Problem(file=str(path), value=f"{path.stat().st_mode & 0o777:o}", expected=expected)])
    try:
        return bool(tomllib.loads(path.read_text(encoding="utf-8")).get("auth"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(
            [Problem(file=str(path), expected=f"a TOML file in UTF-8; reading stopped: {error}")]
        ) from None


def check_listening(workspace: Path, host: str, *, trust_network: bool) -> None:
    """Refuse to listen beyond this machine without sign-in, unless told so. Raises InputError."""
    if stays_here(host) or trust_network or sign_in_configured(workspace):
        return
    raise InputError(
        [
            Problem(
                row="--host",
                value=host,
                expected="127.0.0.1 (this machine alone): anybody on the network could read and change everything. "
                f"Set up sign-in in {SECRETS} (see the README), or add --trust-network if everybody there may",
            )
        ]
    )


def stays_here(host: str) -> bool:
    """Whether an address is of this machine alone."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
