"""One message for every header of the board's tree, such as a host might send; for tests."""

from __future__ import annotations

import binascii

from locum_board import ladder, steps, tree, words

OUT = steps.OUT
CODES = (100, OUT, OUT, OUT)

ARGUMENTS = {
    "*ESE": "60",
    "*SRE": "60",
    "CAL:OFFS": "3",
    "CAL:RANG": "1500000,12050000,100750000",
    "CODE": "70,32768,32768,32768",
    "CONT": "OPEN,20",
    "DIAG:MEAS": "10,0,0,0,0,1,8",
    "FOLL": "ON",
    "FOLL:RATE": "200",
    "LIST:NAME": '"another"',
    "OUTP": "ON",
    "OUTP:RET:RATE": "900",
    "OUTP:STAN": "600",
    "OUTP:STAN:EXT": "600",
    "RES": "2500",
    "RES:LIM:HIGH": "9000",
    "RES:LIM:LOW": "100",
    "SENS:LINE:KIND": "2,PWM",
    "SENS:LINE:KIND?": "2",
    "SENS:QUI": "8,8",
    "SENS:RES:HOT": "200000",
    "SENS:RES:RANG": "1,1",
    "SENS:RES:SANE": "100000,90000000",
    "STAT:OPER:ENAB": "256",
    "STAT:QUES:ENAB": "256",
    "SYST:COMM:TIM": "4",
}


def plan(**settings) -> bytes:
    """A plan that goes on for as long as anybody looks, computer or not."""
    rows = b"".join(steps.pack_step(40, (90 + n, OUT, OUT, OUT)) for n in range(20))
    rows += steps.pack_repeat(20, steps.ENDLESS)
    return steps.plan_block(rows, flags=steps.RUN_ON_SILENCE, **settings)


def blocks() -> dict[str, bytes]:
    rungs = b"".join(
        ladder.pack_rung(36_000 + 40_000 * code, 160, (code, OUT, OUT, OUT), 0xFFFF, 0)
        for code in range(1, 200)
    )
    calibration = b"\x07\0\0\0" + bytes(range(200))
    return {
        "CAL:DATA": calibration + binascii.crc32(calibration).to_bytes(4, "little"),
        "LADD:DATA": ladder.ladder_block(rungs),
        "LIST:DATA": plan(),
        "LIST:DATA:APP": plan(plan_id=0, first_step=21, part=1, total_steps=42),
    }


def message(header: str, block: bytes) -> bytes:
    size = str(len(block)).encode()
    return header.encode() + b" #" + str(len(size)).encode() + size + block + b"\n"


def every_order() -> dict[str, bytes]:
    """By header as the tree has it; the line that a host would send."""
    found, given = tree.Tree(), blocks()
    orders = {}
    for spec in found.headers():
        brief = min(words.header_keys(spec), key=len)
        target = found.target(brief)
        assert target is not None
        if target.endswith(" block"):
            orders[spec] = message(brief, given[brief])
        else:
            orders[spec] = f"{brief} {ARGUMENTS.get(brief, '')}".strip().encode() + b"\n"
    return orders
