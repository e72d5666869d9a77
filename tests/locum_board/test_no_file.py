"""No file is written while the board stands in, whatever it is told: flash stops everything else.

Writing a page of flash makes a Pico stand still for tens of milliseconds, in which no step is done
and the coil's pump gets no edge. So a body's ``store`` may be called at rest only.
"""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from every_order import blocks, every_order, message, plan
from locum_board import states

ORDERS = every_order()


class Flash:
    """Stands where the body's flash would be; notes in which state it was written to."""

    def __init__(self, bench):
        self.bench, self.written = bench, []
        bench.hands.store = self.store

    def store(self, name, data):
        player = self.bench.player
        self.written.append((name, player.state, player.relay_on, player.plan_running))
        return True


def running(bench):
    """Playing a plan, with all that could be stored on board."""
    bench.stand_in(code=100)
    assert bench.tell(message("LIST:DATA", plan())[:-1]) == '0,"No error"'
    bench.good("INIT")
    bench.run(20)
    assert bench.state == "running"
    return bench


@pytest.mark.parametrize("header", ORDERS)
def test_no_order_writes_while_a_plan_runs(bench, header):
    flash = Flash(running(bench))
    bench.engine.receive(ORDERS[header], bench.now_ms)
    assert flash.written == []


@pytest.mark.parametrize("name", ["holding", "running", "returning"])
@pytest.mark.parametrize("order", ["LIST:STORe", "CALibration:DATA"])
def test_what_would_be_stored_is_refused_while_standing_in(bench, name, order):
    header = next(spec for spec in ORDERS if spec.endswith(order))
    flash = Flash(bench.bring(name))
    bench.engine.receive(ORDERS[header], bench.now_ms)
    assert bench.ask("SYST:ERR?").startswith("-221,")
    assert flash.written == []
    assert bench.state == name


def test_at_rest_the_same_orders_do_write(bench):
    """Or the tests above would hold for a board that never stores anything."""
    flash = Flash(bench)
    assert bench.tell(message("CAL:DATA", blocks()["CAL:DATA"])[:-1]) == '0,"No error"'
    assert bench.tell(message("LIST:DATA", plan())[:-1]) == '0,"No error"'
    bench.good("LIST:STOR")
    assert [row[0] for row in flash.written] == ["cal", "plan"]


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(st.tuples(st.sampled_from(sorted(ORDERS)), st.integers(0, 60)), max_size=25))
def test_in_any_order_files_are_written_at_rest_only(new_bench, talk):
    bench = running(new_bench())
    flash = Flash(bench)
    for header, wait_ms in talk:
        bench.engine.receive(ORDERS[header], bench.now_ms)
        bench.run(wait_ms)
    for name, state, relay_on, plan_running in flash.written:
        assert state in (states.REST, states.READY), name
        assert not relay_on, name
        assert not plan_running, name


@pytest.mark.parametrize("header", ORDERS)
def test_every_order_is_one_that_the_board_understands(bench, header):
    """A message that is no message proves nothing above; -1xx is the board's "not understood"."""
    bench.engine.receive(ORDERS[header], bench.now_ms)
    assert not bench.ask("SYST:ERR?").startswith("-1")
