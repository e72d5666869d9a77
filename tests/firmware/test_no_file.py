"""The Pico's own store and every other file of its drivers: nothing is written while standing in."""

import builtins
import gc
import os

import pytest

from every_order import every_order, message, plan

ORDERS = every_order()


@pytest.fixture
def written(monkeypatch):
    """Every way to change a file system that the firmware's modules have, noted when it is used."""
    uses = []
    plain_open = builtins.open

    def noting_open(path, mode="r", *more, **settings):
        if set(mode) & set("wax+"):
            uses.append(str(path))
        return plain_open(path, mode, *more, **settings)

    def noting(name):
        plain = getattr(os, name)

        def act(*arguments, **settings):
            uses.append(f"{name} {arguments[0]}")
            return plain(*arguments, **settings)

        return act

    monkeypatch.setattr(builtins, "open", noting_open)
    for name in ("mkdir", "remove", "rename", "rmdir", "unlink"):
        monkeypatch.setattr(os, name, noting(name))
    return uses


def send(pico, data):
    """Bytes as the port brings them, and the loop's rounds until they are all answered."""
    for start in range(0, len(data), 256):
        pico.port.coming = data[start : start + 256]
        pico.loop.turn()


@pytest.fixture
def playing(pico, monkeypatch):
    monkeypatch.setattr(gc, "mem_free", lambda: 30000, raising=False)  # MicroPython's alone
    pico.run(60)
    send(pico, message("LIST:DATA", plan()))
    assert pico.tell("INIT").startswith("0,")
    pico.run(60)
    assert pico.bench.energised
    return pico


@pytest.mark.parametrize("header", ORDERS)
def test_no_order_opens_a_file_to_write_while_a_plan_runs(playing, written, header):
    send(playing, ORDERS[header])
    playing.run(20)
    assert written == []


def test_seconds_of_a_plan_write_nothing(playing, written):
    for _ in range(10):
        send(playing, b"FETC?;:TRAC:DATA?\n")
        playing.run(500)
    assert playing.bench.energised
    assert written == []


def test_at_rest_the_store_is_seen_to_write(pico, written):
    """Or what watches the files sees nothing at all."""
    pico.run(60)
    send(pico, ORDERS["CALibration:DATA"])
    assert pico.ask("SYST:ERR?").startswith("0,")
    assert len(written) == 1
