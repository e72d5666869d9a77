"""Yes or no typed on a terminal while a drive goes on: nothing waits for it.

A thread of its own reads lines, for reading blocks and the board must hear from us every second. Where
nobody sits at a terminal there is no answer.
"""

from __future__ import annotations

import queue
import sys
import threading
from collections.abc import Callable
from typing import TextIO

YES, NO = ("y", "yes"), ("n", "no")


def typed_answers(source: TextIO | None = None) -> Callable[[], bool | None]:
    """A function that gives the newest answer typed since the last call, None without one."""
    stream = source or sys.stdin
    if stream is None or not (source or stream.isatty()):
        return lambda: None
    lines: queue.SimpleQueue[str] = queue.SimpleQueue()

    def read() -> None:
        for line in stream:
            lines.put(line)

    threading.Thread(target=read, name="locum-answers", daemon=True).start()
    return lambda: newest(lines)


def newest(lines: queue.SimpleQueue[str]) -> bool | None:
    """The last line that is an answer; others are passed over."""
    answer = None
    while not lines.empty():
        word = lines.get().strip().lower()
        answer = True if word in YES else False if word in NO else answer
    return answer
