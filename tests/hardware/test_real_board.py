"""What only a real board can show. Numbers printed here go into the checklist in hardware/README."""

import time

import pytest

from locum_board import steps

pytestmark = pytest.mark.hardware
OUT = steps.OUT
STEPS = 2000


def block(plan):
    return b"#%d%d" % (len(str(len(plan))), len(plan)) + plan


def plan_of(count, dt_ms):
    rows = b"".join(
        steps.pack_step(dt_ms, [90 + n % 8, 120 - n % 8, OUT, OUT]) for n in range(count)
    )
    return steps.plan_block(rows)


def test_it_passes_its_own_test(board):
    passed, text = board.self_test()
    print("\nself-test:", text)
    assert passed, text


def test_round_trips_are_quick_enough_to_poll_at_twenty_hertz(board):
    times = []
    for _ in range(200):
        began = time.perf_counter()
        board.fetch()
        times.append(time.perf_counter() - began)
    times.sort()
    print(f"\nround trip: median {times[100] * 1e3:.1f} ms, p99 {times[197] * 1e3:.1f} ms")
    assert times[197] < 0.05


@pytest.mark.parametrize(
    "rubbish", [b"\r\n", b"*IDN", bytes(range(128, 256)) * 8, b"#9\n", b"x" * 65536, b"\x03" * 5]
)
def test_garbage_is_an_error_and_nothing_more(board, rubbish):
    board.transport.write(rubbish + b"\n")
    assert board.identify().maker == "locum"


def test_a_block_cut_short_is_dropped(board):
    board.transport.write(b"LIST:DATA #5280321234")
    time.sleep(2.5)
    assert board.identify().maker == "locum"


def test_a_whole_plan_is_taken_within_three_seconds(board):
    plan = plan_of(STEPS, 100)
    began = time.perf_counter()
    board.upload_plan(plan, "bench")
    took = time.perf_counter() - began
    print(f"\n{STEPS} steps taken in {took:.2f} s")
    assert took < 3.0


def test_memory_that_is_left(board):
    print("\nfree heap:", board.ask("DIAG:MEM?"))


def test_steps_are_punctual_under_load(bench):
    """Polled at 20 Hz, drained, sampled at 1 kHz: the board's own count of late steps."""
    bench.upload_plan(plan_of(200, 20), "late")
    bench.run()
    for _ in range(80):
        bench.fetch()
        bench.drain()
        time.sleep(0.05)
    loop = bench.ask("DIAG:LOOP?")
    print("\nDIAG:LOOP?", loop)
    assert int(str(loop).split(",")[0]) <= 1, "worst lateness in milliseconds"


def test_a_host_that_stops_reading_delays_no_step(bench):
    bench.upload_plan(plan_of(200, 20), "stall")
    bench.run()
    bench.transport.write(b"TRAC:DATA? 100\n" * 30)
    time.sleep(2.5)
    bench.transport.read(1.0)
    bench.identify()
    assert int(str(bench.ask("DIAG:LOOP?")).split(",")[0]) <= 1


def test_standing_in_and_back(bench):
    bench.set_codes([100, 100, OUT, OUT])
    bench.stand_in()
    time.sleep(0.2)
    wanted = 5.0 * (36 + 1990) / (36 + 1990 + 2490)
    assert bench.fetch().node_0v1mv / 1e4 == pytest.approx(wanted, rel=0.2)
    bench.real_sensor_now()
    time.sleep(0.1)
    assert bench.fetch().node_0v1mv / 1e4 == pytest.approx(5.0 * 2000 / 4490, rel=0.05)
