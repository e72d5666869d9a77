"""One table of messages and answers, both ways; and the same bytes fed in any portions."""

import struct

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from locum_board import FIRMWARE, ladder, steps, words
from locum_board.framing import LINE_BYTES
from locum_board.status import Fault

NONE = '0,"No error"'
FIXTURE = [
    HealthCheck.function_scoped_fixture
]  # the fixture is a class; each example makes its own

# message, answer, error afterwards
MESSAGES = [
    ("*IDN?", f"locum,bench,T1,{FIRMWARE}/P1.0/1", NONE),
    ("*idn?", f"locum,bench,T1,{FIRMWARE}/P1.0/1", NONE),
    ("", "", NONE),
    (" ; ;", "", NONE),
    ("SYST:VERS?", "1999.0", NONE),
    ("SYSTem:VERSion?", "1999.0", NONE),
    (":system:version?", "1999.0", NONE),
    ("SYST:VERS?;VERS?", "1999.0;1999.0", NONE),
    ("SYST:ERR:COUN?;:SYST:VERS?", "0;1999.0", NONE),
    ("SYST:ERR:NEXT?", NONE, NONE),
    ("SYSTE:VERS?", "", '-113,"Undefined header;SYSTE:VERS?"'),
    ("SYST:VERS", "", '-113,"Undefined header;SYST:VERS"'),
    ("VERS?", "", '-113,"Undefined header;VERS?"'),
    ("*IDN? 1", "", '-108,"Parameter not allowed"'),
    ("NONSENSE;*ESE?", "0", '-113,"Undefined header;NONSENSE"'),
    ("OUTP", "", '-109,"Missing parameter"'),
    ("OUTP 1,2", "", '-108,"Parameter not allowed"'),
    ("OUTP PERHAPS", "", '-120,"Numeric data error;PERHAPS"'),
    ("OUTP?", "0", NONE),
    ("OUTP:STAT?", "0", NONE),
    ("CONT?", "THR", NONE),
    ("SOURCE:CONTACT?", "THR", NONE),
    ("OUTP:STAN?", "1200", NONE),
    ("OUTP:STAN 0", "", '-222,"Data out of range;0"'),
    ("OUTP:STAN 14401", "", '-222,"Data out of range;14401"'),
    ("OUTP:STAN 30 S", "", '-131,"Invalid suffix;30 S"'),
    ("OUTP:STAN 1e2;STAN?", "100", NONE),
    ("OUTP:STAN 99.5;STAN?", "100", NONE),
    ("OUTP:STAN -1", "", '-222,"Data out of range;-1"'),
    ("OUTP:STAN 1E99", "", '-222,"Data out of range;1E99"'),
    ("OUTP:STAN 1.2.3", "", '-120,"Numeric data error;1.2.3"'),
    ("SYST:COMM:TIM 2.5S;TIM?", "2.500", NONE),
    ("SYST:COMM:TIM 2000 MS;TIM?", "2.000", NONE),
    ("SYST:COMM:TIM 1", "", '-222,"Data out of range;1"'),
    ("RES:LIM:LOW 0.1KOHM;LOW?", "100.000", NONE),
    ("RES:LIM:HIGH 80 kohm;HIGH?", "80000.000", NONE),
    ("RES?", "9.91E37", NONE),
    ("RES 100", "", '202,"No ladder"'),
    ("CODE 1,2,3", "", '-109,"Missing parameter"'),
    ("CODE 257,0,0,0", "", '-222,"Data out of range;wiper word out of range"'),
    ("CODE 1,2,3,32768;CODE?", "1,2,3,32768,0", NONE),
    ("CODE 65536,0,0,0", "", '-222,"Data out of range;65536"'),
    ("INIT", "", '-213,"Init ignored;run plan refused in state rest"'),
    ("*TRG", "", '-211,"Trigger ignored;run plan refused in state rest"'),
    ("TRIG", "", '-211,"Trigger ignored;run plan refused in state rest"'),
    ("OUTP ON", "", '-221,"Settings conflict;stand in refused in state rest"'),
    ("LIST:DATA", "", '-109,"Missing parameter"'),
    ("LIST:DATA 5", "", '-104,"Data type error"'),
    ("LIST:DATA #15hello", "", '-224,"Illegal parameter value;length"'),
    ("LIST:DATA #0hello", "", '-161,"Invalid block data"'),
    ("LIST:DATA #15hellox", "", '-161,"Invalid block data"'),
    ("OUTP:STAN #15hello", "", '-168,"Block data not allowed"'),
    ("*ESE #H20", "", '-161,"Invalid block data"'),
    ("LIST:NAME \"a;b,c #1\";NAME?", '"a;b,c #1"', NONE),
    ("LIST:NAME abc", "", '-151,"Invalid string data"'),
    ("LIST:NAME \"" + "x" * 32 + "\"", "", '-151,"Invalid string data"'),
    ("SENS:LINE:KIND 2,PWM;KIND? 2", "PWM", NONE),
    ("SENS:LINE:KIND 2,SAW", "", '-224,"Illegal parameter value;SAW"'),
    ("SENS:LINE:KIND 7,PWM", "", '-222,"Data out of range;7"'),
    ("STAT:OPER:ENAB 256;ENAB?", "256", NONE),
    ("STAT:QUES?", "256", NONE),
    ("STAT:PRES;:STAT:OPER:ENAB?", "0", NONE),
    ("*ESE 60;*ESE?;*SRE 255;*SRE?", "60;191", NONE),
    ("*OPC?", "1", NONE),
    ("*WAI;*OPC?", "1", NONE),
    ("*TST?", "0", NONE),
    ("DIAG:RES:CAUS?", "0,0", NONE),
    ("DIAG:CONF?", "1023,4,6,10,66000,1500000,12050000,100750000,2000", NONE),
    ("DIAG:MAIN", "", '-241,"Hardware missing;no prompt here"'),
    ("MEAS:VOLT?", "3.5707", NONE),
    ("MEASURE:SCALAR:VOLTAGE:DC?", "3.5707", NONE),
    ("TRAC:LOST?;POIN?", "0;10", NONE),
    ("CAL:CRC?", "#H00000000", NONE),
    ("OUTP:PROT:CAUS?", '12,"power"', NONE),
    ("x" * 257, "", '-363,"Input buffer overrun"'),
    ("x" * 256, "", '-113,"Undefined header;' + "X" * 24 + '"'),
    ("\x01", "", '-101,"Invalid character"'),
    ("*IDN?\x00", "", '-101,"Invalid character"'),
]  # fmt: skip


@pytest.mark.parametrize(("message", "answer", "error"), MESSAGES, ids=lambda m: repr(m)[:30])
def test_message_table(bench, message, answer, error):
    assert bench.ask(message) == answer
    assert bench.ask("SYST:ERR?") == error
    assert bench.ask("SYST:ERR?") == NONE


@pytest.mark.parametrize(("message", "answer", "error"), MESSAGES, ids=lambda m: repr(m)[:30])
def test_message_table_byte_by_byte(bench, message, answer, error):
    out = b"".join(
        bench.engine.receive(bytes([byte]), bench.now_ms) for byte in message.encode() + b"\r\n"
    )
    assert out.decode().rstrip("\n") == answer
    assert bench.ask("SYST:ERR?") == error


def test_answers_end_in_a_bare_line_feed(bench):
    assert bench.engine.receive(b"*ESE?\r\n*ESE?\n", bench.now_ms) == b"0\n0\n"


def test_high_bytes_are_refused_before_decoding(bench):
    for byte in range(0x80, 0x100):
        assert bench.ask(b"*IDN?" + bytes([byte])) == ""
        assert bench.ask("SYST:ERR?") == '-101,"Invalid character"'


def test_queue_overflows_in_its_last_place(bench):
    for _ in range(40):
        bench.ask("BAD")
    assert bench.ask("SYST:ERR:COUN?") == "16"
    entries = [bench.ask("SYST:ERR?") for _ in range(16)]
    assert entries[:15] == ['-113,"Undefined header;BAD"'] * 15
    assert entries[15] == '-350,"Queue overflow"'


def test_rst_keeps_errors_and_enables_and_cls_clears(bench):
    bench.ask("*ESE 32")
    bench.ask("BAD")
    bench.ask("*RST")
    assert bench.ask("*STB?") == "36"
    assert bench.ask("*ESR?") == "160"  # power on, command error
    bench.ask("*CLS")
    assert bench.ask("*STB?") == "0"
    assert bench.ask("*ESE?") == "32"


def test_error_classes_set_their_bits(bench):
    for message, bit in (("BAD", 32), ("OUTP ON", 16), ("RES 5", 8)):
        bench.ask("*CLS")
        bench.ask(message)
        assert int(bench.ask("*ESR?")) & 0x3F == bit


def test_opc_waits_for_the_plan(bench, tools):
    bench.stand_in()
    bench.block("LIST:DATA", steps.plan_block(tools.step(500, 62), flags=0))
    bench.good("INIT")
    assert bench.ask("*OPC?") == ""
    answers = b""
    for _ in range(600):
        bench.now_ms += 1
        bench.engine.advance(bench.now_ms)
        answers += bench.engine.poll(bench.now_ms)
    assert answers == b"1\n"
    bench.good("INIT")
    bench.ask("*OPC?")
    assert bench.tell("*CLS") == NONE  # the query was interrupted, then all was cleared
    bench.good("INIT") if bench.state == "holding" else bench.good("ABOR")


def test_block_that_stops_coming_is_dropped_after_two_seconds(bench):
    bench.engine.receive(b"LIST:DATA #41000abc", bench.now_ms)
    assert bench.engine.talk.due_in(bench.now_ms + 500) == 1500
    bench.engine.poll(bench.now_ms + 1999)
    assert bench.engine.talk.framing.in_block()
    bench.engine.poll(bench.now_ms + 2000)
    bench.now_ms += 2000
    assert bench.ask("SYST:ERR?") == '-161,"Invalid block data"'


def test_too_long_a_block_is_swallowed_and_told(bench):
    payload = bytes(range(256)) * 200
    assert bench.block("LIST:DATA", payload) == '-223,"Too much data"'
    assert bench.ask("*ESE?") == "0"


def test_out_of_memory_is_told_and_the_talk_goes_on(bench, monkeypatch):
    def full():
        raise MemoryError

    monkeypatch.setattr(bench.engine.talk, "get_headers", full)
    assert bench.ask("SYST:HELP:HEAD?") == ""
    assert bench.ask("SYST:ERR?") == '-225,"Out of memory"'
    assert bench.ask("*ESE?") == "0"


def test_plan_and_ladder_by_hand_in_one_message_after_another(bench, tools):
    plan = steps.plan_block(tools.step(10, 60), plan_id=5)
    assert bench.block("LIST:DATA", plan) == NONE
    bench.good('LIST:NAME "warm-up"')
    assert bench.ask("LIST:NAME?;POIN?") == '"warm-up";1,1'
    block = tools.ladder()
    assert bench.block("LADD:DATA", block) == NONE
    assert bench.ask("LADD:POIN?") == "256"
    assert bench.ask("LADD:CRC?") == f"#H{int.from_bytes(block[-4:], 'little'):08X}"
    bench.good("RES 2500")
    assert bench.ask("RES?") == "2516.000"
    assert bench.ask("RES? MIN;RES? MAX") == "76.000;10276.000"
    assert bench.tell("RES 75") == '-222,"Data out of range;outside the ladder"'
    bench.good("RES:LIM:HIGH 3000")
    assert bench.tell("RES 3001") == '-222,"Data out of range;outside the limits set"'
    assert bench.ask("LIST:CRC?") == f"#H{int.from_bytes(plan[-4:], 'little'):08X}"


def test_damaged_ladder_leaves_the_old_one(bench, tools):
    block = tools.ladder()
    bench.block("LADD:DATA", block)
    bad = bytearray(block)
    bad[100] ^= 1
    assert bench.block("LADD:DATA", bytes(bad)) == '-161,"Invalid block data;crc"'
    rungs = block[ladder.HEADER_BYTES : -4]
    swapped = rungs[18:36] + rungs[:18] + rungs[36:]
    assert bench.block("LADD:DATA", ladder.ladder_block(swapped)).startswith("-224")
    assert bench.ask("LADD:POIN?") == "256"


def test_other_networks_plan_is_refused(bench, tools):
    import binascii
    import struct

    body = struct.pack("<I", 0xABCD1234) + b"tables"
    calibration = body + struct.pack("<I", binascii.crc32(body))
    assert bench.block("CAL:DATA", calibration) == NONE
    assert bench.ask("STAT:QUES:COND?") == "0"
    wrong = steps.plan_block(tools.step(10, 60), network_id=1)
    assert bench.block("LIST:DATA", wrong).startswith('207,"Other network')
    right = steps.plan_block(tools.step(10, 60), network_id=0xABCD1234)
    assert bench.block("LIST:DATA", right) == NONE


def test_what_a_board_has_not_is_refused_by_name(bench, tools):
    bench.stand_in()
    bench.hands.abilities = 0
    assert bench.tell("CONT OPEN") == '-241,"Hardware missing;OPEN"'
    assert bench.tell("FOLL ON") == '-241,"Hardware missing;ohmmeter"'
    glitch = steps.plan_block(tools.step(10, 60, contact=2))
    assert bench.block("LIST:DATA", glitch) == '-241,"Hardware missing;SHORt"'


@settings(max_examples=150, deadline=None, suppress_health_check=FIXTURE)
@given(st.lists(st.binary(max_size=60), max_size=12))
def test_garbage_never_stops_the_talk_nor_moves_the_relay(new_bench, parts):
    bench = new_bench(settle=False)
    for part in parts:
        bench.engine.receive(part, bench.now_ms)
    bench.now_ms += 3000
    bench.engine.poll(bench.now_ms)
    bench.engine.receive(b"\n\n", bench.now_ms)
    bench.ask("*CLS")
    assert bench.ask("*ESE?") != ""
    assert bench.hands.energised == 0


PIECES = st.sampled_from(
    [
        b"OUTP ON",
        b"*IDN?",
        b";",
        b":",
        b"\n",
        b"#",
        b"LIST:DATA ",
        b"#15abcde",
        b"\r",
        b'"',
        b"'",
        b",",
        b" ",
        b"CODE 1,2,3,4",
        b"INIT",
        b"#9999999999",
        b"#0",
        b"\xff",
        b"FETC?",
        b"*RST",
        b"1e9",
        b"SYST:ERR?",
        b"TRAC:DATA? 3",
        b"-",
        b".",
    ]  # fmt: skip
)


@settings(max_examples=150, deadline=None, suppress_health_check=FIXTURE)
@given(st.lists(PIECES, max_size=25), st.data())
def test_answers_do_not_depend_on_how_bytes_are_portioned(new_bench, pieces, data):
    stream = b"".join(pieces) + b"\n*ESE?\nSYST:ERR?\n"
    whole, cut = new_bench(), new_bench()
    expected = whole.engine.receive(stream, whole.now_ms)
    found, at = b"", 0
    while at < len(stream):
        size = data.draw(st.integers(1, 9))
        found += cut.engine.receive(stream[at : at + size], cut.now_ms)
        at += size
    assert found == expected


@settings(max_examples=60, deadline=None, suppress_health_check=FIXTURE)
@given(
    st.lists(st.lists(st.integers(0, 65535), min_size=7, max_size=7), min_size=1, max_size=12),
    st.data(),
)
def test_any_block_is_refused_or_played_within_the_boards_means(new_bench, rows, data):
    """Random steps with a right check sum: the player never raises, wipers stay in range."""
    for row in rows:  # most rows near the legal, or nothing would ever be played
        if data.draw(st.booleans()):
            row[:] = [1 + row[0] % 300, *(w % 257 for w in row[1:5]), row[5], row[6] % 4 | 1 << 5]
        elif data.draw(st.booleans()):
            row[:] = [0, 1 + row[1] % 3, 1 + row[2] % 9, 0, 0, 0, steps.REPEAT]
    packed = b"".join(struct.pack("<7H", *row) for row in rows)
    bench = new_bench()
    verdict = bench.block("LIST:DATA", steps.plan_block(packed, flags=0))
    assert verdict in (NONE,) or verdict.startswith("-224")
    if verdict != NONE:
        return
    bench.good("INIT")
    bench.run(2000)
    for kind, value in bench.hands.log:
        assert kind != "wipers" or 0 <= value <= 256
    assert bench.hands.contact_kind in (0, 1, 2)


@given(st.text(alphabet="0123456789.+-eEkKohmOHMS ", max_size=14))
def test_a_decimal_is_what_python_makes_of_it_or_refused(text):
    try:
        value = words.integer(text, -(10**9), 10**9, scale=3)
    except Fault:
        return
    assert abs(value - float(text) * 1000) <= 0.5 + 1e-6


def test_line_limit_is_the_documented_one():
    assert LINE_BYTES == 256
