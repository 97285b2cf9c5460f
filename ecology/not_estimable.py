"""The answer “the data do not say”, with its reason."""

from __future__ import annotations


class NotEstimable(Exception):  # noqa: N818 - an answer about the data, not a fault
    """The data do not determine the number asked for. `reason` is a sentence a person can act on."""

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(reason)


class SeparatedError(NotEstimable):
    """A term parts zeros from counts (or no from yes): its estimate runs off to infinity."""


class DependentTermsError(NotEstimable):
    """A term is determined by others: their effects cannot be told apart."""
