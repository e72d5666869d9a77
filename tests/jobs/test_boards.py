"""Which board a command works: none, one, or two of them plugged in."""

import pytest

from locum.link import ports
from locum.link.ports import USB_PRODUCT_MICROPYTHON, USB_VENDOR, Port


def board(device, serial):
    return Port(device, USB_VENDOR, USB_PRODUCT_MICROPYTHON, serial)


@pytest.mark.parametrize("words", [("listen", "--minutes", "0.1"), ("calibrate",)])
def test_two_boards_are_never_guessed_between(locum, book, monkeypatch, words):
    two = [board("COM3", "E6A"), board("COM4", "E6B")]
    monkeypatch.setattr(ports, "list_ports", lambda: two)
    ran = locum(*words, "--casebook", book)
    assert ran.code == 3
    assert [r["code"] for r in ran.json["refusals"]] == ["several_boards"]
    assert "COM3 (E6A), COM4 (E6B)" in ran.talk
    assert "--board PORT" in ran.talk


def test_without_a_board_the_virtual_one_is_worked_and_named(locum, book, monkeypatch):
    monkeypatch.setattr(ports, "list_ports", list)
    ran = locum("listen", "--minutes", "0.1", "--casebook", book)
    assert ran.code == 0
    assert ran.json["board"].startswith("V")
