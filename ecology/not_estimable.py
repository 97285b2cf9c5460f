"""The answer “the data do not say”, with its reason."""

from __future__ import annotations


class NotEstimable(Exception):  # noqa: N818 - an answer about the data, not a fault
    """The data do not determine the number asked for. `reason` is a sentence a person can act on."""

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(reason)
