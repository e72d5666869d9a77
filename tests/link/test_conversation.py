"""Bytes to answers: whole, in any portions, with bytes left over, and what is not ours."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from locum.errors import LinkTrouble
from locum.link.conversation import Conversation, block, command

COMMANDS = [
    (("*IDN?",), None, b"*IDN?\n"),
    (("SOUR:CODE", 1, 2, 3, 4), None, b"SOUR:CODE 1,2,3,4\n"),
    (("LIST:DATA",), b"ab\n#", b"LIST:DATA #14ab\n#\n"),
    (("X", 1), b"", b"X 1,#10\n"),
]


@pytest.mark.parametrize(("words", "payload", "wire"), COMMANDS)
def test_commands_on_the_wire(words, payload, wire):
    assert command(*words, payload=payload) == wire


def test_a_command_is_one_ascii_line():
    with pytest.raises(ValueError, match="one line"):
        command("A\nB")
    with pytest.raises(ValueError, match="ascii"):
        command("Ä")


ANSWERS = [
    (b"0\n", ["0"]),
    (b"1;2\r\n3\n", ["1;2", "3"]),
    (b"\n\n0,\"No error\"\n", ['0,"No error"']),
    (b"#15hello\n7\n", [b"hello", "7"]),
    (b"#210\n123456789\nx\n", [b"\n123456789", "x"]),
    (b"#10\n", [b""]),
    (b"unfinished", []),
    (b"#H1A2B3C4D\n7\n", ["#H1A2B3C4D", "7"]),
    (b"#3999abc", []),
    (b"#", []),
]  # fmt: skip


def answers(conversation):
    found = []
    while (answer := conversation.maybe_answer()) is not None:
        found.append(answer)
    return found


@pytest.mark.parametrize(("wire", "expected"), ANSWERS)
def test_answers_whole_and_byte_by_byte(wire, expected):
    whole = Conversation()
    whole.feed(wire)
    assert answers(whole) == expected
    slow, found = Conversation(), []
    for byte in wire:
        slow.feed(bytes([byte]))
        found += answers(slow)
    assert found == expected


@pytest.mark.parametrize(
    "wire",
    [b"\x80\n", b"a\x00b\n", b"#0abc\n", b"#x\n", b"#15helloX", b"#9999999999\n", b"x" * 5000],
)
def test_what_is_not_ours_is_said_to_be(wire):
    conversation = Conversation()
    conversation.feed(wire)
    with pytest.raises(LinkTrouble, match="protocol"):
        answers(conversation)
    conversation.feed(b"fine\n")
    assert conversation.maybe_answer() == "fine"


@given(st.lists(st.one_of(st.binary(max_size=40), st.integers(0, 99999)), max_size=8), st.data())
def test_any_answers_in_any_portions(items, data):
    wire, expected = b"", []
    for item in items:
        if isinstance(item, bytes):
            wire += block(item) + b"\n"
            expected.append(item)
        else:
            wire += b"%d\n" % item
            expected.append(str(item))
    conversation, found, at = Conversation(), [], 0
    while at < len(wire):
        size = data.draw(st.integers(1, 17))
        conversation.feed(wire[at : at + size])
        found += answers(conversation)
        at += size
    assert found == expected
