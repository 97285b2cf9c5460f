"""Handing one message to one channel: a messaging library, a web address that takes JSON, or a feed file.

Every attempt ends within a time limit. What comes back is success, or a reason in plain words without an address in it.
"""

from __future__ import annotations

import http.client
import json
import logging
import threading
import urllib.error
import urllib.request
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from dashboard.watch.feed import FeedError, write_feed
from dashboard.watch.rules import Channel, WatchSettings
from dashboard.watch.secrets import NoAddressError, address_of


@dataclass(frozen=True, kw_only=True)
class Message:
    """What is sent: an id that stays the same in every attempt, texts for people, and the same as data."""

    id: str
    title: str
    text: str
    at: str
    data: Mapping[str, object]


class NotSentError(Exception):
    """The attempt failed. `unknown`: it may have arrived all the same."""

    def __init__(self, why: str, *, unknown: bool = False) -> None:
        super().__init__(why)
        self.unknown = unknown


@dataclass(frozen=True, eq=False, kw_only=True)
class Sender:
    """Sends through the channels of one workspace.

    feed   all messages that a feed file holds, newest first; asked for when one is written
    """

    folder: Path
    title: str
    settings: WatchSettings
    environment: Mapping[str, str]
    feed: Callable[[], Sequence[Message]]

    def send(self, channel: Channel, message: Message) -> None:
        """One attempt. Raises NotSentError where it failed or took longer than the limit."""
        try:
            attempt = self._attempt(channel, message)
        except NoAddressError as error:
            raise NotSentError(str(error)) from None
        within(attempt, self.settings.send_limit_seconds)

    def _attempt(self, channel: Channel, message: Message) -> Callable[[], None]:
        limit = self.settings.send_limit_seconds
        if channel.how == "feed":
            messages = [message, *(m for m in self.feed() if m.id != message.id)]
            return lambda: _to_feed(self.folder / channel.named, self.folder, self.title, messages)
        secrets = self.settings.secrets_file
        address = address_of(channel.named, self.environment, None if secrets is None else self.folder / secrets)
        if channel.how == "json":
            return lambda: post_json(address, message, limit)
        return lambda: post_message(address, message)


def within(attempt: Callable[[], None], limit_seconds: float) -> None:
    """Run an attempt for at most so long [s]; one that goes on is not waited for. Raises NotSentError."""
    outcome: list[NotSentError | None] = []

    def run() -> None:
        try:
            attempt()
            outcome.append(None)
        except NotSentError as error:
            outcome.append(error)
        except Exception as error:  # noqa: BLE001 - what a library raises here would be printed, address and all
            outcome.append(NotSentError(f"the channel broke down ({type(error).__name__})", unknown=True))

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    thread.join(limit_seconds)
    if thread.is_alive() and not outcome:
        raise NotSentError(f"no answer within {limit_seconds:g} seconds", unknown=True)
    if outcome[0] is not None:
        raise outcome[0]


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    """A redirect would hand what is sent to somebody who was not named."""

    def redirect_request(self, *_: object) -> None:
        return None


def post_json(address: str, message: Message, limit_seconds: float) -> None:
    """POST the message's data as JSON; any answer of 200–299 is success.

    `Idempotency-Key` carries the message's id, so that a receiver can tell a repeated attempt from another alert.
    """
    if urlsplit(address).scheme not in ("http", "https"):
        raise NotSentError("the address does not start with https:// or http://")
    body = json.dumps(message.data, ensure_ascii=False, allow_nan=False).encode()
    headers = {"Content-Type": "application/json", "Idempotency-Key": message.id, "User-Agent": "resurgence"}
    try:
        request = urllib.request.Request(address, data=body, headers=headers, method="POST")
        with urllib.request.build_opener(_NoRedirect).open(request, timeout=limit_seconds) as answer:
            answer.read(1)
    except urllib.error.HTTPError as error:
        error.close()
        raise NotSentError(f"the web address answered with status {error.code}") from None
    except urllib.error.URLError as error:
        kind = type(error.reason).__name__ if isinstance(error.reason, Exception) else "no connection"
        raise NotSentError(f"the web address could not be reached ({kind})") from None
    except TimeoutError:
        raise NotSentError(f"no answer within {limit_seconds:g} seconds", unknown=True) from None
    except (OSError, http.client.HTTPException, ValueError) as error:
        raise NotSentError(f"the connection broke off ({type(error).__name__})", unknown=True) from None


def post_message(address: str, message: Message) -> None:
    """Hand the message to the messaging library, which knows e-mail, chats and SMS gateways by their addresses."""
    import apprise

    # Its log lines name hosts and users; nothing of an address may reach a log.
    log = logging.getLogger("apprise")
    log.propagate = False
    if not log.handlers:
        log.addHandler(logging.NullHandler())
    named = apprise.AppriseAsset(app_id="resurgence", app_desc="resurgence watch")
    channel = apprise.Apprise(asset=named)
    if not channel.add(address):
        raise NotSentError("the address is not one that the messaging library understands")
    if not channel.notify(title=message.title, body=message.text, body_format=apprise.NotifyFormat.TEXT):
        raise NotSentError("the channel did not take the message")


def _to_feed(path: Path, folder: Path, title: str, messages: Sequence[Message]) -> None:
    try:
        write_feed(path, folder, title, messages)
    except FeedError as error:
        raise NotSentError(str(error)) from None
