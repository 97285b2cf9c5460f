"""Why a service gave no usable answer."""

from __future__ import annotations

import datetime


class ServiceError(Exception):
    """The message is the end of a sentence: “the service answered 403 …”.

    again       whether the same request may do better in a moment
    for_all     whether other stations of the same service would fail alike
    not_before  instant (UTC) before which the service wishes not to be asked; None = it did not say
    """

    def __init__(
        self,
        message: str,
        *,
        again: bool = False,
        for_all: bool = False,
        not_before: datetime.datetime | None = None,
    ) -> None:
        super().__init__(message)
        self.again, self.for_all, self.not_before = again, for_all, not_before
