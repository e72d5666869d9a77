"""The link breaks in the middle of a block: the next host is heard soon, and nothing half is played.

A host that comes anew knows nothing of the block and asks for the board's name. Whoever asks
something else first is heard when the block has been silent for two seconds.
"""

import binascii

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from every_order import blocks, message, plan
from locum_board import steps
from locum_board.framing import BLOCK_IDLE_MS, PAUSE_MS

OUT = steps.OUT
HEADERS = sorted(blocks())
OTHER = steps.plan_block(steps.pack_step(40, (7, OUT, OUT, OUT)) * 100)
"""A plan whose one value, 7, is no value of the plan on board."""


def cut(bench, header, block, share):
    """Send that share of a message; at least its block's first byte comes, and one is missing."""
    data = message(header, block)
    start = data.index(b"#") + 1
    end = start + max(1, int((len(data) - start - 2) * share))
    bench.engine.receive(data[:end], bench.now_ms)
    assert bench.engine.talk.framing.in_block()


@pytest.mark.parametrize("header", HEADERS)
@pytest.mark.parametrize("share", [0.0, 0.3, 0.999])
def test_a_new_host_is_answered_at_once(bench, header, share):
    """As ours begins: a line feed, what comes back thrown away, then the question."""
    cut(bench, header, blocks()[header], share)
    bench.run(200, keep_alive=False)
    bench.engine.receive(b"\n", bench.now_ms)
    bench.run(50, keep_alive=False)
    assert bench.ask("*IDN?").startswith("locum,")
    assert bench.ask("SYST:ERR?").startswith("-161,")


def test_any_other_question_is_answered_when_the_block_was_silent_for_two_seconds(bench):
    cut(bench, "LIST:DATA", OTHER, 0.5)
    bench.run(1000, keep_alive=False)
    assert bench.ask("FETC?") == ""
    bench.run(BLOCK_IDLE_MS, keep_alive=False)
    assert len(bench.ask("FETC?").split(",")) == 20
    assert bench.ask("SYST:ERR?").startswith("-161,")


def test_the_question_within_a_block_without_a_pause_is_payload(bench):
    payload = b"\x07\0\0\0*IDN?\n" + bytes(50)
    payload += binascii.crc32(payload).to_bytes(4, "little")
    data = message("CAL:DATA", payload)
    at = data.index(b"*IDN?")
    for part in (data[:at], data[at : at + 6], data[at + 6 :]):
        bench.engine.receive(part, bench.now_ms)
        bench.run(PAUSE_MS - 1, keep_alive=False)
    assert bench.ask("SYST:ERR?") == '0,"No error"'
    assert bench.hands.kept["cal"] == payload


def on_board(bench):
    """What the board has, by its own word."""
    return bench.ask("LIST:POIN?;CRC?;NAME?;:LADD:POIN?;CRC?;:CAL:CRC?")


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.sampled_from(["rest", "running"]),
    st.sampled_from(HEADERS),
    st.floats(0, 0.999),
    st.integers(0, 255),
)
def test_what_was_on_board_stays_and_is_what_is_played(new_bench, name, header, share, filler):
    bench = new_bench()
    bench.stand_in(code=100)
    assert bench.tell(message("LIST:DATA", plan())[:-1]) == '0,"No error"'
    bench.good("INIT")
    if name == "rest":
        bench.good("OUTP OFF")
    before = on_board(bench)
    block = OTHER if header.startswith("LIST") else bytes([filler]) * 4000
    cut(bench, header, block, share)
    bench.run(BLOCK_IDLE_MS, keep_alive=False)
    assert bench.ask("SYST:ERR?").startswith("-161,")
    assert on_board(bench) == before
    del bench.hands.log[:]
    if name == "rest":
        bench.good("CODE 100,32768,32768,32768")
        bench.good("INIT")
    bench.run(1000)
    assert bench.state == "running"
    played = {code for what, code in bench.hands.log if what == "wipers"}
    assert len(played) > 10
    assert played <= set(range(90, 111))


def test_without_a_plan_before_there_is_none_after(bench):
    cut(bench, "LIST:DATA", OTHER, 0.9)
    bench.run(BLOCK_IDLE_MS, keep_alive=False)
    bench.ask("*CLS")
    assert bench.ask("LIST:POIN?") == "0,0"
    bench.good("CODE 62,32768,32768,32768")
    assert bench.tell("INIT") == '204,"No plan"'
    assert bench.hands.words[0] & 0x1FF == 62


def test_a_slow_block_is_taken(bench):
    """A byte now and then keeps it alive."""
    data = message("LIST:DATA", OTHER)
    for start in range(0, len(data), 300):
        bench.engine.receive(data[start : start + 300], bench.now_ms)
        bench.run(BLOCK_IDLE_MS * 3 // 4, keep_alive=False)
    assert bench.ask("SYST:ERR?") == '0,"No error"'
    assert bench.ask("LIST:POIN?") == "100,100"
