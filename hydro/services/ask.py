"""One page asked of a service, with patience: what may do better in a moment is tried again, within limits."""

from __future__ import annotations

import datetime
import email.utils
import json
import re
import sqlite3
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import requests

from hydro.services.access import KEY_HEADER, Access
from hydro.services.failure import ServiceError
from hydro.services.session import GOOD_CODES, TooLargeError
from hydro.sources.json_text import error_told

ATTEMPTS = 4
#: Waits between attempts [s]; a service's own Retry-After goes before them.
WAITS_S = (1.0, 4.0, 15.0)
#: A service that asks for a longer wait is left alone until then [s].
LONGEST_WAIT_S = 60.0
REDIRECTS = 3
USED_UP = "the service's allowance of requests is used up for now"
CONNECT_S, PIECE_S = 10.0, 60.0
#: How long a kept page answers the same question again: one that reaches the present, and one of closed years [s].
FRESH_S, CLOSED_S = 600, 6 * 3600
_AGAIN = frozenset({408, 425, 429, 500, 502, 503, 504})
_MOVED = frozenset({301, 302, 303, 307, 308})
_TAGS = re.compile(r"<[^>]*>|\s+")
_MOST_TOLD = 200


def utc_now() -> datetime.datetime:
    return datetime.datetime.now(datetime.UTC)


@dataclass(kw_only=True)
class Asker:
    """Asks one service through the cached session. Counts what it did.

    timeout_s    wait for a connection and for the next piece of an answer [s]
    sleep, now   for waits and times; tests bring their own
    progress     takes a sentence now and then; waits are said
    """

    session: Any
    access: Access
    timeout_s: tuple[float, float] = (CONNECT_S, PIECE_S)
    sleep: Callable[[float], None] = time.sleep
    now: Callable[[], datetime.datetime] = utc_now
    progress: Callable[[str], None] = lambda sentence: None
    requests: int = 0
    from_cache: int = 0
    used_up: bool = field(default=False)

    def ask(self, url: str, *, fresh_s: int = FRESH_S) -> tuple[object, str, datetime.datetime]:
        """The JSON at an address (numbers as texts), the address it came from, and when it came (UTC).

        Raises ServiceError.
        """
        url = self.access.own_address(url)
        for attempt in range(ATTEMPTS):
            try:
                return self._once(url, fresh_s)
            except ServiceError as failure:
                if not failure.again or attempt + 1 == ATTEMPTS:
                    raise
                wait = self._wait(failure, attempt)
                self.progress(f"{failure}; trying again in {wait:.0f} s")
                self.sleep(wait)
        raise AssertionError("the last attempt returns or raises")

    def _wait(self, failure: ServiceError, attempt: int) -> float:
        if failure.not_before is None:
            return WAITS_S[attempt]
        wait = (failure.not_before - self.now()).total_seconds()
        if wait > LONGEST_WAIT_S:
            raise failure
        return max(wait, 0.0)

    def _once(self, url: str, fresh_s: int) -> tuple[object, str, datetime.datetime]:
        for _ in range(REDIRECTS + 1):
            response = self._send(url, fresh_s)
            if response.status_code not in _MOVED:
                break
            # Only within the same host: an address elsewhere is refused here, and nothing is sent to it.
            url = self.access.own_address(requests.compat.urljoin(url, response.headers.get("Location", "")))
        else:
            raise ServiceError("the service sends from one address to the next without end", for_all=True)
        kept = bool(getattr(response, "from_cache", False))
        self.from_cache += kept
        if not kept:
            self._note_allowance(response.headers)
        document = self._document(response)
        came = getattr(response, "created_at", None) if kept else None
        return document, url, self.now() if came is None else came.replace(tzinfo=datetime.UTC)

    def _send(self, url: str, fresh_s: int) -> Any:
        headers = {KEY_HEADER: self.access.key} if self.access.key else {}
        # An allowance that is used up leaves what is kept: 504 is the cache's own word for “not here”.
        only_kept = self.used_up
        try:
            response = self.session.get(
                url,
                headers=headers,
                timeout=self.timeout_s,
                allow_redirects=False,
                expire_after=fresh_s,
                only_if_cached=only_kept,
            )
        except TooLargeError as error:
            raise ServiceError(f"the answer is larger than any gauge's ({error})") from None
        except requests.exceptions.Timeout as error:
            early = isinstance(error, requests.exceptions.ConnectTimeout)
            said = "could not be reached in time" if early else "is too slow"
            raise ServiceError(f"the service {said}", again=True, for_all=True) from None
        except (requests.exceptions.ChunkedEncodingError, requests.exceptions.ContentDecodingError):
            raise ServiceError("the answer broke off before its end", again=True) from None
        except requests.exceptions.SSLError:
            raise ServiceError("the service's certificate is not accepted", for_all=True) from None
        except requests.exceptions.ConnectionError:
            raise ServiceError("the service could not be reached", again=True, for_all=True) from None
        except requests.exceptions.RequestException as error:
            raise ServiceError(f"the address cannot be asked ({type(error).__name__})", for_all=True) from None
        except (sqlite3.Error, OSError) as error:
            raise ServiceError(f"pages cannot be kept here ({type(error).__name__})", for_all=True) from None
        if only_kept and response.status_code == 504:
            raise ServiceError(USED_UP, for_all=True)
        self.requests += not getattr(response, "from_cache", False)
        return response

    def _note_allowance(self, headers: Mapping[str, str]) -> None:
        left = headers.get("X-RateLimit-Remaining", "").strip()
        if left.isdecimal() and int(left) == 0:
            self.used_up = True

    def _document(self, response: Any) -> object:
        code, content = response.status_code, response.content
        if code not in GOOD_CODES:
            raise self._refusal(code, response)
        kind = response.headers.get("Content-Type", "").split(";")[0].strip().lower()
        if _looks_like_html(content):
            raise ServiceError("the answer is a web page instead of data", for_all=True)
        if "json" not in kind:
            raise ServiceError(f"the answer is of the kind “{kind or 'not said'}” instead of JSON")
        try:
            return json.loads(content, parse_float=str, parse_int=str, parse_constant=str)
        except (ValueError, RecursionError):
            raise ServiceError("the answer is JSON that breaks off or goes wrong", again=True) from None

    def _refusal(self, code: int, response: Any) -> ServiceError:
        told = self.access.without_key(_told(response.content))
        said = f"the service answered {code}" + (f": “{told}”" if told else "")
        if code in (401, 403):
            why = "the key may be wrong or expired" if self.access.key else "it may want a key"
            return ServiceError(f"{said} ({why})", for_all=True)
        if code == 404:
            return ServiceError(f"{said} (does the station exist there?)")
        not_before = _retry_after(response.headers.get("Retry-After", ""), self.now())
        return ServiceError(said, again=code in _AGAIN, for_all=code in _AGAIN, not_before=not_before)


def _looks_like_html(content: bytes) -> bool:
    head = content[:200].lstrip().lower()
    return head.startswith((b"<!doctype html", b"<html", b"<!--", b"<head", b"<body"))


def _told(content: bytes) -> str:
    """What a service wrote beside a code that is no success, in at most a line."""
    text = content[:20_000].decode("utf-8", "replace")
    try:
        told = error_told(json.loads(text))
    except (ValueError, RecursionError):
        told = None
    line = _TAGS.sub(" ", told or ("" if _looks_like_html(content) else text)).strip()[:_MOST_TOLD]
    return "".join(c for c in line if c.isprintable())


def _retry_after(text: str, now: datetime.datetime) -> datetime.datetime | None:
    """The instant of a header Retry-After: seconds, or a date."""
    if text.strip().isdecimal():
        return now + datetime.timedelta(seconds=min(int(text), 7 * 86_400))
    try:
        at = email.utils.parsedate_to_datetime(text)
    except (TypeError, ValueError):
        return None
    return at if at.tzinfo is not None else at.replace(tzinfo=datetime.UTC)
