"""Orders to end that come in the middle of one another, as when a terminal is closed."""

import signal
import sys
import threading
from types import SimpleNamespace

import pytest

from locum.jobs.desk import Desk, Setup
from locum.link.serve import _stop_by_signal
from locum.settings import Settings
from locum.ui import ended


def closing_a_desk():
    desk = Desk(Setup(), Settings())
    return lambda: desk.close(0.0), lambda: desk.wants_out(False)


def stopping_a_server():
    before = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    stop = _stop_by_signal()
    for number, handler in before.items():
        signal.signal(number, handler)
    return stop.set, stop.is_set


@pytest.mark.parametrize("told", [closing_a_desk, stopping_a_server])
def test_a_second_order_to_end_in_the_middle_of_the_first_waits_for_nothing(told):
    """A signal's handler may come between any two lines of what it interrupts."""
    end, is_ended = told()
    orders = []

    def at_every_line(frame, event, _argument):
        if event == "line" and frame.f_code.co_name == "set":
            orders.append(frame.f_lineno)
            sys.settrace(None)
            end()
            sys.settrace(at_every_line)
        return at_every_line

    def first_order():
        sys.settrace(at_every_line)
        end()
        sys.settrace(None)

    giving = threading.Thread(target=first_order, daemon=True)
    giving.start()
    giving.join(20.0)
    assert not giving.is_alive(), "it waits for itself"
    assert orders
    assert is_ended()


def test_an_order_to_end_waits_for_nothing_that_it_interrupted(monkeypatch):
    """The screens' thread may hold what the worker needs to bring the real sensor."""
    showing, exits, left = threading.Lock(), [], threading.Event()

    def close(_timeout_s):
        exits.append("home" if showing.acquire(timeout=20.0) else "the lock was never free")

    def leave(_exit, code):
        exits.append(code)
        left.set()

    before = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGHUP)}
    monkeypatch.setattr("os._exit", lambda _code: None)  # what comes where nothing else ends it
    ended.heed_signals(
        SimpleNamespace(exit=None, call_from_thread=leave), SimpleNamespace(close=close)
    )
    try:
        with showing:
            signal.raise_signal(signal.SIGTERM)
        assert left.wait(30.0)
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    for thread in threading.enumerate():
        if isinstance(thread, threading.Timer):
            thread.cancel()
            thread.join(20.0)
    assert exits == ["home", 128 + signal.SIGTERM]
