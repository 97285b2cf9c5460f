"""Where a service is and whether it may be given a key. A key goes to no host that the key's owner did not choose.

Hosts come from the workspace (its [services] part) or from the environment; a key comes from the environment alone. A
workspace may have been made by somebody else, so a host that only the workspace names is never given a key.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Mapping
from dataclasses import dataclass, field
from urllib.parse import parse_qsl, quote, urlencode, urlsplit, urlunsplit

from hydro.services.failure import ServiceError

#: The header in which the US service takes a key.
KEY_HEADER = "X-Api-Key"
#: Parameters of an address that may hold a key: taken out of every address before it is asked.
KEY_PARAMETERS = frozenset({"api_key", "apikey", "api-key", "access_token", "key", "token"})
_PORTS = {"https": 443, "http": 80}


@dataclass(frozen=True, kw_only=True)
class Access:
    """A service's host (“https://…”, without a slash at its end) and the key that it may be given, if any."""

    host: str
    key: str | None = field(default=None, repr=False)

    def own_address(self, url: str) -> str:
        """An address of this host without any key in it. Raises ServiceError where it leads elsewhere."""
        if origin_of(url) != origin_of(self.host):
            other = urlsplit(url)
            where = f"{other.scheme}://{other.hostname}" if other.hostname else "an address without a host"
            raise ServiceError(f"the answer leads to another host ({where}), which is not followed")
        parts = urlsplit(url)
        query = [(k, v) for k, v in parse_qsl(parts.query, keep_blank_values=True)]
        if any(k.lower() in KEY_PARAMETERS for k, _ in query):
            kept = [(k, v) for k, v in query if k.lower() not in KEY_PARAMETERS]
            parts = parts._replace(query=urlencode(kept))
        return urlunsplit(parts._replace(fragment=""))

    def without_key(self, text: str) -> str:
        """A text of the service as it may be shown and kept."""
        if not self.key:
            return text
        for form in {self.key, quote(self.key, safe="")}:
            text = text.replace(form, "(key)")
        return text

    def holds_key(self, content: bytes) -> bool:
        """Whether what the service sent repeats the key."""
        return bool(self.key) and any(f.encode() in content for f in {str(self.key), quote(str(self.key), safe="")})


def origin_of(url: str) -> tuple[str, str, int | None]:
    """Scheme, host and port of an address. Raises ServiceError where it is none."""
    try:
        parts = urlsplit(url)
        return parts.scheme, (parts.hostname or "").casefold(), parts.port or _PORTS.get(parts.scheme)
    except ValueError:
        raise ServiceError("the answer leads to an address that is none") from None


def access(
    name: str,
    default_host: str,
    *,
    environment: Mapping[str, str],
    host_in_workspace: str | None = None,
    takes_key: bool = False,
) -> Access:
    """The access to the service `name` (“us”, …).

    RESURGENCE_US_HOST in the environment goes before the workspace's host, that before the default. The key of
    RESURGENCE_US_KEY is given to the default host and to the one that the environment names, over https (or to this
    machine itself).
    """
    named = environment.get(f"RESURGENCE_{name.upper()}_HOST") or None
    host = (named or host_in_workspace or default_host).rstrip("/")
    key = (environment.get(f"RESURGENCE_{name.upper()}_KEY") or "").strip() or None
    trusted = origin_of(host) == origin_of(default_host) or named is not None
    return Access(host=host, key=key if takes_key and trusted and _is_private_way(host) else None)


def is_host(text: str) -> bool:
    """Whether a text is “https://name”, with nothing behind the name but a port and a path."""
    try:
        parts = urlsplit(text)
        return (
            parts.scheme in _PORTS
            and bool(parts.hostname)
            and not (parts.query or parts.fragment or parts.username or parts.password)
            and (parts.port is None or parts.port > 0)
        )
    except ValueError:
        return False


def _is_private_way(host: str) -> bool:
    scheme, name, _ = origin_of(host)
    if scheme == "https" or name == "localhost":
        return True
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False
