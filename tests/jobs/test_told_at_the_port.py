"""What a technician reads when the thing at the port is not a board that can be used."""

from __future__ import annotations

import pytest

from answering_line import Line
from locum.errors import LinkTrouble
from locum.jobs import connection as opening
from locum.jobs.checkup import Surroundings, checkup
from locum.link import ports, upload
from locum.link.found_board import USB_PRODUCT_MICROPYTHON, USB_VENDOR, Port
from locum.link.reach import SerialReach
from locum.link.talk import Talk

PICO = Port("COM5", USB_VENDOR, USB_PRODUCT_MICROPYTHON, "E661", "Board CDC")
OTHER = Port("COM5", 0x1546, 0x01A7, "", "GPS")
BARE = b"\r\nMicroPython v1.28 on 2026-01-01\r\n>>> "
THINGS = {
    "bare": (PICO, BARE, "a MicroPython board without it. Put it on: locum firmware put COM5"),
    "silent board": (PICO, b"", "unplug the board, hold its button, plug it in"),
    "silent other": (OTHER, b"", "no answer from a port that is not a board's"),
    "gps": (OTHER, b"$GPGGA,123519,48\r\n", "another device, which answered '$GPGGA,123519,48'"),
    "binary": (OTHER, bytes(range(128, 200)) + b"\n", "another device, which sends no text"),
    "old": (PICO, b"locum,reference,E6,0.0.9/P0.9/77\n", "bring the board up to date: locum firmw"),
    "newer": (PICO, b"locum,reference,E6,2.0/P2.0/77\n", "install the newer locum"),
}


class Silence:
    """Time passes as often as it is asked for."""

    def __init__(self):
        self.now_s = 0.0

    def __call__(self):
        self.now_s += 0.05
        return self.now_s


@pytest.fixture
def plug(monkeypatch):
    def at_the_port(port, answer):
        line = Line(answer)
        line.name = port.device
        monkeypatch.setattr(ports, "list_ports", lambda: [port])
        monkeypatch.setattr(upload, "list_ports", lambda: [port])
        monkeypatch.setattr(Talk, "steady_s", staticmethod(Silence()))
        monkeypatch.setattr(SerialReach, "open", lambda reach, place: line)
        return line

    return at_the_port


@pytest.mark.parametrize("thing", THINGS)
def test_opening_says_what_finding_says(plug, thing):
    """Not "silence for 2 s", but what is there and what to do about it."""
    port, answer, words = THINGS[thing]
    line = plug(port, answer)
    with pytest.raises(LinkTrouble) as told:
        opening.connect("COM5", {})
    (remark,) = told.value.remarks
    assert remark.where == "COM5"
    assert words.lower() in remark.text.lower()
    assert line.closed


def test_a_board_that_answers_but_then_breaks_off_keeps_its_own_trouble(plug):
    plug(PICO, b"locum,reference,E6,0.1.0/P1.0/77\n")
    with pytest.raises(LinkTrouble, match=r"an answer to SYST:ERR\?"):
        opening.connect("COM5", {})


def test_the_systems_own_name_of_a_port_is_opened_as_the_port_it_stands_for(plug, tmp_path):
    """As /dev/serial/by-id does: without the serial port's settings the system would echo every answer."""
    device, name = tmp_path / "ttyACM7", tmp_path / "usb-Board-if00"
    device.touch()
    name.symlink_to(device)
    plug(Port(str(device), USB_VENDOR, USB_PRODUCT_MICROPYTHON, "E661", "Board CDC"), BARE)
    with pytest.raises(LinkTrouble, match="a MicroPython board without it") as told:
        opening.connect(str(name), {})
    assert told.value.remarks[0].where == str(device)


def test_nothing_is_written_on_another_device_that_a_mistyped_port_names(plug):
    """What is no board by its USB numbers and answers like none gets no program."""
    line = plug(OTHER, b"$GPGGA,123519,48\r\n")
    ran = []
    with pytest.raises(LinkTrouble, match="another device"):
        upload.put_firmware("COM5", runner=lambda words: ran.append(words) or (0, ""),
                            opener=lambda device: line, wait=lambda seconds: None)  # fmt: skip
    assert not ran
    assert set(line.written.replace(b"*IDN?", b"").split()) == set()


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (OSError(16, "Device or resource busy"), "another program has it open"),
        (FileNotFoundError(2, "No such file or directory"), "no such port"),
    ],
)
def test_checkup_tells_a_port_that_does_not_open_once_and_names_it_once(error, words, tmp_path):
    def opener(device):
        raise error

    around = Surroundings(ports=lambda: [PICO], boot_drives=list, opener=opener,
                          data_folder=lambda: tmp_path)  # fmt: skip
    rows = [check for check in checkup(board="COM5", around=around).checks if "COM5" in check.name]
    assert [check.name for check in rows] == ["port COM5"]
    assert words in rows[0].detail
    assert "COM5" not in rows[0].detail
    assert not rows[0].passed
