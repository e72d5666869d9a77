"""Ended from outside: a terminal that was closed, or an order to end.

The real sensor first, then the record is closed, then the program goes. Not left to the screens' loop: a
terminal that takes nothing more may hold that up for good.
"""

from __future__ import annotations

import os
import signal
import threading
from contextlib import suppress

from textual.app import App

from locum.jobs.desk import Desk

ENDED_S = 5.0
"""So long the record may take to be closed. [s]"""


def heed_signals(app: App[int], desk: Desk) -> None:
    """From now on SIGTERM and SIGHUP go home first; the exit code is then 128 and the signal's number."""

    def told_to_end(number: int, _frame: object) -> None:
        desk.close(ENDED_S)
        code = 128 + number
        if number != signal.SIGTERM:  # no terminal is left that could be put in order
            os._exit(code)
        with suppress(RuntimeError):
            app.call_later(app.exit, code)
        last = threading.Timer(ENDED_S, os._exit, (code,))
        last.daemon = True
        last.start()

    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):  # Windows has no SIGHUP
            signal.signal(getattr(signal, name), told_to_end)
