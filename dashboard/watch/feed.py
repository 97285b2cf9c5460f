"""The alerts as an Atom feed in a file (RFC 4287), for any feed reader; written whole, so that nothing doubles."""

from __future__ import annotations

import re
import uuid
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from hydro.whole_file import write_whole

if TYPE_CHECKING:
    from dashboard.watch.send import Message

ATOM = "http://www.w3.org/2005/Atom"
GENERATOR = "resurgence watch"
#: The newest so many alerts are in the file.
ENTRIES = 100
_NOT_XML = re.compile(r"[^\t\n\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


class FeedError(Exception):
    """The file cannot be written; the message says why."""


def write_feed(path: Path, folder: Path, title: str, messages: Sequence[Message]) -> None:
    """Write the feed in one step. A file that is there and is no feed of ours is left alone."""
    try:
        before = path.read_bytes() if path.exists() else None
        if before is not None and GENERATOR.encode() not in before[:2000]:
            raise FeedError(f"{path.name} exists and is not a feed of this program; it was left as it is")
        # A feed is there to be read; and it keeps its name when the workspace moves.
        write_whole(path, feed_bytes(_name_in(before) or name_of(folder), title, messages), mode=0o644)
    except OSError as error:
        raise FeedError(f"{path.name} cannot be written: {error.strerror}") from None


def name_of(folder: Path) -> uuid.UUID:
    """The name of a feed that is written for the first time."""
    return uuid.uuid5(uuid.NAMESPACE_URL, folder.resolve().as_uri())


def _name_in(content: bytes | None) -> uuid.UUID | None:
    """The name that a feed has, None where it cannot be read."""
    try:
        found = None if content is None else ET.fromstring(content).findtext(f"{{{ATOM}}}id")
        return None if found is None else uuid.UUID(found)
    except (ET.ParseError, ValueError):
        return None


def feed_bytes(name: uuid.UUID, title: str, messages: Sequence[Message]) -> bytes:
    """The feed as XML. Its id is `name`; those of its entries follow from it and from the alerts, so that they stay the
    same from one writing to the next and are no other feed's."""
    ET.register_namespace("", ATOM)
    feed = ET.Element(f"{{{ATOM}}}feed")
    _add(feed, "id", name.urn)
    _add(feed, "title", title)
    _add(feed, "generator", GENERATOR)
    shown = list(messages)[:ENTRIES]
    _add(feed, "updated", max((m.at for m in shown), default="1970-01-01T00:00:00+00:00"))
    _add(_add(feed, "author", None), "name", GENERATOR)
    for m in shown:
        entry = _add(feed, "entry", None)
        _add(entry, "id", uuid.uuid5(name, m.id).urn)
        _add(entry, "title", m.title)
        _add(entry, "updated", m.at)
        _add(entry, "content", m.text).set("type", "text")
    return bytes(ET.tostring(feed, encoding="utf-8", xml_declaration=True))


def _add(parent: ET.Element, name: str, text: str | None) -> ET.Element:
    child = ET.SubElement(parent, f"{{{ATOM}}}{name}")
    # Signs that XML cannot hold would make the whole feed unreadable.
    child.text = None if text is None else _NOT_XML.sub("", text)
    return child
