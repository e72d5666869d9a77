"""A flag that may be set from a signal's handler.

``threading.Event`` holds a lock while it is set: a handler that comes in the middle of that, as a second
order to end does when a terminal is closed, would wait for the code that it interrupted, for ever.
"""

from __future__ import annotations

import time

LOOK_S = 0.02


class Flag:
    """Set or not; what ``threading.Event`` offers, without a lock."""

    def __init__(self) -> None:
        self._is_set = False

    def is_set(self) -> bool:
        return self._is_set

    def set(self) -> None:
        self._is_set = True

    def clear(self) -> None:
        self._is_set = False

    def wait(self, timeout_s: float) -> bool:
        """Until it is set or so long [s]; whether it is set."""
        until_s = time.monotonic() + timeout_s
        while not self._is_set and (left_s := until_s - time.monotonic()) > 0:
            time.sleep(min(LOOK_S, left_s))
        return self._is_set
