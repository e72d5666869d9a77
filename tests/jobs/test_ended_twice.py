"""Orders to end that come in the middle of one another, as when a terminal is closed."""

import signal
import sys
import threading

import pytest

from locum.jobs.desk import Desk, Setup
from locum.link.serve import _stop_by_signal
from locum.settings import Settings


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
