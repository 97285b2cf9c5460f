"""XML of any size, read element by element, with nothing in it that could reach out or blow up.

lxml instead of the standard library: it reads a million points several times faster, and its limits can be set.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Sequence

from hydro.sources.decoding import Decoded, NotATableError

#: Elements are forgotten in batches of this many: one by one it would cost as much as reading them.
FORGET_EVERY = 500
XLINK = "{http://www.w3.org/1999/xlink}"
_ROOT = re.compile(r"<([A-Za-z_][\w.-]*(?::[\w.-]+)?)[\s/>]")


def xml_events(decoded: Decoded, starts: Sequence[str], ends: Sequence[str]) -> Iterator[tuple[str, object]]:
    """(“start” or “end”, element) for the tags named. Whoever reads forgets what is done with, see `forget`.

    Raises NotATableError for XML that is not whole, and for any document type or entity declaration: gauge data has
    none, and entities that expand into each other can fill any memory.
    """
    from lxml import etree  # only needed for XML

    data = decoded.data
    if b"<!DOCTYPE" in data or b"<!ENTITY" in data:
        raise NotATableError("XML without a document type and entities; they are not needed for data and can do harm")
    start = data.find(b"<")
    if start:
        data = data[start:]
    begins, wanted = set(starts), tuple(dict.fromkeys((*starts, *ends)))
    try:
        events = etree.iterparse(
            io.BytesIO(data),
            events=("start", "end") if begins else ("end",),
            tag=wanted,
            encoding="utf-8",
            resolve_entities=False,
            no_network=True,
            load_dtd=False,
            huge_tree=False,
            remove_comments=True,
            remove_pis=True,
            remove_blank_text=True,
        )
        for event, element in events:
            if event == "end" or element.tag in begins:
                yield event, element
    except etree.XMLSyntaxError as error:
        where = f"in line {error.lineno}" if error.lineno else "somewhere"
        raise NotATableError(f"XML that is whole; this breaks off or goes wrong {where} ({error.msg})") from error


def forget(parent: object) -> None:
    """Let go of all children of an element but the last, which the parser still needs."""
    del parent[:-1]  # type: ignore[attr-defined]


def root_name(head: str) -> str:
    """The name of the first element, as written; "" where there is none."""
    match = _ROOT.search(head)
    return match[1] if match else ""


def local(tag: object) -> str:
    """The name of a tag without its namespace."""
    return tag.rpartition("}")[2] if isinstance(tag, str) else ""
