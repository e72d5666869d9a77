"""Ctrl-C while standing in: once eases back, twice is the real sensor now.

An order to end (SIGTERM) and a terminal that was closed (SIGHUP) count as twice: nobody is there any more
to watch a way home.
"""

from __future__ import annotations

import signal
import threading
from types import FrameType
from typing import Any

COUNTS = {"SIGINT": 1, "SIGTERM": 2, "SIGHUP": 2}
"""What each counts as; Windows has no SIGHUP."""


class Interrupts:
    """Counts Ctrl-C instead of raising; a context manager of the main thread."""

    def __init__(self) -> None:
        self.count = 0
        self._before: dict[int, Any] = {}

    def __enter__(self) -> Interrupts:
        if threading.current_thread() is threading.main_thread():
            numbers = [getattr(signal, name) for name in COUNTS if hasattr(signal, name)]
            self._before = {number: signal.signal(number, self._note) for number in numbers}
        return self

    def __exit__(self, *_: object) -> None:
        """Once pressed Ctrl-C stays harmless: pressed again while the record is closed and the result
        is told, it must not lose either."""
        for number, before in self._before.items():
            if number != signal.SIGINT or not self.count:
                signal.signal(number, before)

    def _note(self, number: int, _frame: FrameType | None) -> None:
        self.count += COUNTS[signal.Signals(number).name]
