"""Linear algebra without threads of its own.

All matrices here are small: threads that wait for one another on them take longer than the sums, and three times as
long where a browser or a second process has something to do too.
"""

from __future__ import annotations

import os

ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def use_one_thread() -> None:
    """For this process, before numpy is imported, and those it starts; what somebody has set stays."""
    for name in ONE_THREAD:
        os.environ.setdefault(name, "1")
