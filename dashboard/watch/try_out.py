"""One message marked as a test through every channel; nothing is judged or remembered."""

from __future__ import annotations

import datetime
import uuid
from collections.abc import Mapping
from pathlib import Path

from dashboard.answers.answer import METHOD_VERSION
from dashboard.watch.memory import read_memory
from dashboard.watch.one_pass import sender_of
from dashboard.watch.send import Message, NotSentError
from dashboard.wording import alerts as words
from dashboard.wording import cautions
from dashboard.wording.watch import NO_CHANNEL_TO_TEST
from dashboard.workspace_file import FILE_NAME, read_workspace_file
from hydro.problems import InputError, Problem


def send_tests(folder: Path, environment: Mapping[str, str]) -> dict[str, str | None]:
    """Channel -> None where the test went out, else the reason. Raises InputError where no channel is set."""
    settings = read_workspace_file(folder)
    if not settings.watch.channels:
        raise InputError([Problem(file=FILE_NAME, row="watch.channels", expected=NO_CHANNEL_TO_TEST)])
    now = datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")
    title = f"{settings.title}: {words.TEST_TITLE}"
    text = "\n\n".join([words.TEST_TEXT, cautions.NOT_A_WARNING])
    id = f"test-{uuid.uuid4().hex[:12]}"
    data = {
        "id": id,
        "test": True,
        "workspace": settings.title,
        "title": title,
        "text": text,
        "method_version": METHOD_VERSION,
    }
    message = Message(id=id, title=title, text=text, at=now, data=data)
    sender = sender_of(folder, settings, environment, lambda: read_memory(folder))
    found: dict[str, str | None] = {}
    for channel in settings.watch.channels.values():
        try:
            sender.send(channel, message)
        except NotSentError as error:
            found[channel.id] = str(error)
        else:
            found[channel.id] = None
    return found
