"""The pictures of a page that read out a day, as the plain data that the browser gets."""

from __future__ import annotations

import json
from typing import Any

from streamlit.testing.v1 import AppTest


def pointed_of(at: AppTest) -> list[dict[str, Any]]:
    """All such pictures in the order of the page."""
    return [json.loads(element.proto.bytes) for element in at.get("bidi_component")]
