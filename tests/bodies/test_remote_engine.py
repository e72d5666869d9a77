"""The same run on CPython here, on CPython and on MicroPython in another process: byte for byte."""

import shutil

import pytest

from locum.bodies.remote_engine import interpreter_path
from locum.bodies.virtual import VirtualBody
from locum.errors import LinkTrouble
from locum.link.conversation import command
from locum.virtual.analog import NetworkTruth
from locum_board import steps


def talk(new_rig, tiny_world, interpreter):
    """A drive with everything in it; all bytes that came back."""
    pattern = new_rig()
    body = VirtualBody(
        tiny_world(), NetworkTruth(pattern.sheet, 1), pattern.sheet, seed=1, interpreter=interpreter
    )
    world = body.world
    world.glitches.append((9_100, 9_340))
    world.edges += [(500 + 37 * k, 1 + k % 3, k // 3 & 1) for k in range(300)]
    world.marks.append(4321)
    rows = pattern.step(700, 2500.0) + pattern.step(150, 2500.0, contact=1)
    rows += pattern.step(300, 2450.0) + steps.pack_repeat(1, 3)
    messages = [
        b"*IDN?\n*RST\nSYST:ERR?\n", b"\x80\xff garbage \x00\n#9\n#12\nSYST:ERR?;ERR?;ERR?\n",
        b"SENS:LINE:KIND 2,PWM\n", command("LADD:DATA", payload=pattern.ladder()),
        b"SENS:RES:RANG 1,1\n", command("SOUR:CODE", *pattern.words(2500.0), 0, 7140, 4),
        b"DIAG:MEAS 30,32768,32768,32768,0,1,32\n", b"DIAG:MEAS?\n",
        command("SOUR:CODE", *pattern.words(2500.0), 0, 7140, 4), b"OUTP ON;:FETC?\n",
        command("LIST:DATA", payload=steps.plan_block(rows, flags=0)), b"INIT;*OPC?\n",
        *[b"FETC?\nTRAC:DATA?\n"] * 6, b"FOLL ON\n", *[b"FETC?\nTRAC:DATA?\n"] * 12,
        b"CONT OPEN,120\n", *[b"\n"] * 3, b"OUTP:RET\n", *[b"FETC?\nTRAC:DATA?\n"] * 6,
        b"SYST:ERR?;HELP:HEAD?\n",
    ]  # fmt: skip
    out = b""
    for message in messages:
        out += body.receive(message)
        body.advance(437)
    body.advance(8000)
    out += body.receive(b"FETC?\nTRAC:DATA?\nSTAT:QUES?;:STAT:OPER?;*STB?\n")
    body.close()
    return out


def test_twin_run_is_the_same_on_both_interpreters(new_rig, tiny_world):
    if not shutil.which("micropython"):
        try:
            interpreter_path("micropython")
        except LinkTrouble as trouble:
            pytest.skip(str(trouble))
    here = talk(new_rig, tiny_world, "")
    assert len(here) > 4000
    assert talk(new_rig, tiny_world, "python") == here
    assert talk(new_rig, tiny_world, "micropython") == here
