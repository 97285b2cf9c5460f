"""The one cached session through which services are asked. Pages are kept as they came, in SQLite beside the copies.

A kept page answers the same question again for a few minutes, so that a walk that was stopped goes on where it stopped;
what answers are made of is the merged copy (see `kept`), never a page that the cache might hand out in place of an
error. Nothing that holds a key is kept: the header is struck from what is stored, an answer that repeats the key is not
stored at all, and pages are kept as JSON, which no reader executes.
"""

from __future__ import annotations

import json
import sqlite3
import time
from collections.abc import Sequence
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import requests
import requests_cache
import urllib3
from requests.adapters import HTTPAdapter

from hydro.services.access import KEY_HEADER, KEY_PARAMETERS, Access

FILE_NAME = "pages.sqlite"
#: 206 is France's code for a page with more behind it.
GOOD_CODES = (200, 206)
#: Pages that came earlier are let go once the file is larger [bytes].
MOST_KEPT = 256 * 1024 * 1024
#: Wait for a whole answer [s].
WHOLE_S = 300.0
LARGEST = 256 * 1024 * 1024
_PIECE = 1 << 16
#: Names are compared letter by letter where keys are struck out: every way that ours could be written.
_STRUCK = sorted(
    {KEY_HEADER, KEY_HEADER.upper(), KEY_HEADER.lower(), "X-API-Key", "Authorization", "Proxy-Authorization", "Cookie"}
    | {form for p in KEY_PARAMETERS for form in (p, p.upper())}
)


class TooSlowError(requests.exceptions.ReadTimeout):
    """An answer that comes in small pieces for ever."""


class TooLargeError(requests.exceptions.RequestException):
    """An answer larger than any gauge's."""


class BoundedAdapter(HTTPAdapter):
    """Reads a whole answer within a time and a size; the limits of `requests` hold for each piece alone."""

    def __init__(self, whole_s: float, largest: int) -> None:
        super().__init__(max_retries=0)
        self.whole_s, self.largest = whole_s, largest

    def send(
        self,
        request: requests.PreparedRequest,
        stream: bool = False,
        timeout: float | tuple[float | None, float | None] | None = None,
        verify: bool | str = True,
        cert: str | tuple[str, str] | None = None,
        proxies: dict[str, str] | None = None,
    ) -> requests.Response:
        until = time.monotonic() + self.whole_s
        response = super().send(request, stream=True, timeout=timeout, verify=verify, cert=cert, proxies=proxies)
        pieces, size = [], 0
        try:
            while piece := response.raw.read1(_PIECE, decode_content=True):
                pieces.append(piece)
                size += len(piece)
                if size > self.largest:
                    raise TooLargeError(f"more than {self.largest >> 20} MB", request=request)
                if time.monotonic() > until:
                    raise TooSlowError(f"not whole after {self.whole_s:g} s", request=request)
        except requests.exceptions.RequestException:
            raise  # our own limits; they are OSErrors too
        except urllib3.exceptions.ReadTimeoutError as error:
            raise TooSlowError(f"{error}", request=request) from None
        except (urllib3.exceptions.HTTPError, OSError) as error:
            raise requests.exceptions.ChunkedEncodingError(f"{error}", request=request) from None
        finally:
            response.raw.close()
            response.raw.release_conn()
        response._content = b"".join(pieces)
        response._content_consumed = True
        return response


def open_session(folder: Path, accesses: Sequence[Access], *, whole_s: float = WHOLE_S) -> requests_cache.CachedSession:
    """The session whose pages are kept in `folder`. Keys of the `accesses` are not stored."""

    def may_be_kept(response: Any) -> bool:
        return response.status_code in GOOD_CODES and is_whole(response.content) and not _repeats_a_key(response)

    def _repeats_a_key(response: Any) -> bool:
        told = response.content + json.dumps(dict(response.headers)).encode() + str(response.url).encode()
        return any(a.holds_key(told) for a in accesses)

    folder.mkdir(parents=True, exist_ok=True)
    remove_broken(folder / FILE_NAME)
    session = requests_cache.CachedSession(
        folder / FILE_NAME,
        backend="sqlite",
        serializer="json",
        allowable_codes=GOOD_CODES,
        allowable_methods=("GET",),
        ignored_parameters=_STRUCK,
        filter_fn=may_be_kept,
        stale_if_error=False,
    )
    for scheme in ("https://", "http://"):
        session.mount(scheme, BoundedAdapter(whole_s, LARGEST))
    session.headers["Accept"] = "application/json, application/geo+json"
    session.headers["User-Agent"] = "resurgence (gauge reading for field surveys)"
    if (folder / FILE_NAME).stat().st_size > MOST_KEPT:
        session.cache.delete(expired=True)
    return session


def is_whole(content: bytes) -> bool:
    """Whether an answer is JSON from its first sign to its last."""
    try:
        return isinstance(json.loads(content), dict)
    except (ValueError, RecursionError):
        return False


def remove_broken(path: Path, *, wait_s: float = 5.0) -> None:
    """A file of pages that is broken is begun anew: nothing but pages is in it."""
    if not path.exists():
        return
    try:
        with closing(sqlite3.connect(path, timeout=wait_s)) as db:
            db.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.OperationalError:
        return  # somebody else is at it: not broken
    except sqlite3.DatabaseError:
        with suppress(OSError):
            path.unlink()
