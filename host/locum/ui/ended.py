"""Ended from outside: a terminal that was closed, or an order to end.

The real sensor first, then the record is closed, then the program goes. Not left to the screens' loop: a
terminal that takes nothing more may hold that up for good.
"""

from __future__ import annotations

import _thread
import os
import signal
import threading
from contextlib import suppress

from textual.app import App

from locum.jobs.desk import Desk

ENDED_S = 5.0
"""So long the record may take to be closed. [s]"""


def heed_signals(app: App[int], desk: Desk) -> None:
    """From now on SIGTERM and SIGHUP go home first; the exit code is then 128 and the signal's number.

    The handler itself only starts a thread: it may have come while the screens' thread held a lock that
    the way home needs, and must not wait for what it interrupted. Nor may starting the thread, which is
    why ``threading.Thread`` does not start it.
    """

    def go_home(number: int) -> None:
        desk.close(ENDED_S)
        code = 128 + number
        if number != signal.SIGTERM:  # no terminal is left that could be put in order
            os._exit(code)
        last = threading.Timer(ENDED_S, os._exit, (code,))
        last.daemon = True
        last.start()
        with suppress(RuntimeError):
            app.call_from_thread(app.exit, code)

    def told_to_end(number: int, _frame: object) -> None:
        _thread.start_new_thread(go_home, (number,))

    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):  # Windows has no SIGHUP
            signal.signal(getattr(signal, name), told_to_end)
