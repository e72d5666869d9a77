"""Ctrl-C while standing in: once eases back, twice is the real sensor now."""

from __future__ import annotations

import signal
import threading
from types import FrameType


class Interrupts:
    """Counts Ctrl-C instead of raising; a context manager of the main thread."""

    def __init__(self) -> None:
        self.count = 0
        self._before = None

    def __enter__(self) -> Interrupts:
        if threading.current_thread() is threading.main_thread():
            self._before = signal.signal(signal.SIGINT, self._note)
        return self

    def __exit__(self, *_: object) -> None:
        """Once pressed it stays harmless: pressed again while the record is closed and the result
        is told, it must not lose either."""
        if self._before is not None and not self.count:
            signal.signal(signal.SIGINT, self._before)

    def _note(self, _number: int, _frame: FrameType | None) -> None:
        self.count += 1
