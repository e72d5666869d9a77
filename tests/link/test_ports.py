"""Finding boards: plain words for everything that may stand behind a port."""

import errno
import os

import pytest

from answering_line import Line
from locum.errors import LinkTrouble
from locum.link import port_trouble, ports
from locum.link.ports import FoundBoard, Port
from locum.link.serial_port import SerialTransport
from locum.link.sleep import Lapse, slept_s

PICO = Port("/dev/ttyACM0", ports.USB_VENDOR, ports.USB_PRODUCT_MICROPYTHON, "E661AA")
OURS = b"locum,reference,E661AA,0.1.0/P1.0/8213\n"


def probe(answer, port=PICO, noise=()):
    line = Line(answer, noise)
    return ports.probe(port, lambda device: line), line


def refusing(error):
    def opener(device):
        raise error

    return opener


def test_a_board_of_ours_says_who_it_is():
    found, line = probe(OURS)
    assert (found.state, found.model, found.serial_number) == ("ready", "reference", "E661AA")
    assert (found.firmware, found.protocol, found.remark) == ("0.1.0", 1, None)
    assert line.closed


def test_nothing_but_the_one_question_is_ever_written():
    _, line = probe(b"")
    assert set(line.written.split(b"\n")) == {b"", b"*IDN?"}


def test_half_an_answer_that_lay_there_is_dropped_first():
    found, _ = probe(OURS, noise=[b"7,1,0,-1", b"\n"])
    assert found.state == "ready"


@pytest.mark.parametrize(
    ("answer", "state", "code"),
    [
        (b"locum,reference,E661AA,0.0.9/P0.4/1\n", "old", "firmware_old"),
        (b"locum,reference,E661AA,0.0.1\n", "old", "firmware_old"),
        (b"locum,reference,E661AA,3.0.0/P2.0/1\n", "newer", "firmware_newer"),
        (b"*IDN?\r\nTraceback (most recent call last):\r\n", "bare", "board_without_firmware"),
        (b"\r\n>>> ", "bare", "board_without_firmware"),
        (b"", "silent", "board_silent"),
        (b"HEWLETT-PACKARD,34401A,0,10-5-2\n", "other", "wrong_device"),
        (b"\xff\xfe\x00garbage\n", "other", "wrong_device"),
    ],
)
def test_what_else_may_answer(answer, state, code):
    found, _ = probe(answer)
    assert (found.state, found.remark.code) == (state, code)
    assert found.remark.remedy
    assert "/dev/ttyACM0" in found.remark.text


@pytest.mark.parametrize(
    ("error", "state", "code"),
    [
        (OSError(errno.EBUSY, "busy"), "busy", "port_busy"),
        (OSError("could not exclusively lock port"), "busy", "port_busy"),
        (OSError(errno.EACCES, "denied"), "denied", "port_denied"),
        (OSError(errno.ENOENT, "gone"), "gone", "port_gone"),
    ],
)
def test_ports_that_do_not_open(error, state, code):
    found = ports.probe(PICO, refusing(error))
    assert (found.state, found.remark.code) == (state, code)


def test_a_transports_own_error_is_looked_behind():
    wrapped = LinkTrouble("cannot open")
    wrapped.__cause__ = OSError(errno.EBUSY, "busy")
    assert ports.probe(PICO, refusing(wrapped)).state == "busy"


def test_a_port_lost_while_asking_is_gone():
    class Lost(Line):
        def read(self, timeout_s):
            raise OSError(errno.ENOENT, "unplugged")

    assert ports.probe(PICO, lambda device: Lost(b"")).state == "gone"


def test_the_remedy_for_permission_names_the_devices_own_group(tmp_path, monkeypatch):
    device = tmp_path / "ttyACM7"
    device.touch()
    monkeypatch.setenv("USER", "kim")
    monkeypatch.setattr(port_trouble, "group_of", lambda path: "plugdev")
    assert "usermod -aG plugdev kim" in port_trouble.permission_remedy(str(device))
    monkeypatch.setattr(port_trouble, "group_of", lambda path: "root")
    assert "60-locum.rules" in port_trouble.permission_remedy(str(device))


def test_the_group_is_read_from_the_device(tmp_path):
    import grp

    device = tmp_path / "tty"
    device.touch()
    assert port_trouble.group_of(str(device)) == grp.getgrgid(os.stat(device).st_gid).gr_name
    assert port_trouble.group_of(str(tmp_path / "none")) == "?"


def test_windows_says_access_denied_for_busy(monkeypatch):
    monkeypatch.setattr(ports.sys, "platform", "win32")
    error = OSError("could not open port 'COM5': PermissionError(13, 'Access is denied.', None, 5)")
    error.errno = 13
    assert port_trouble.open_trouble("COM5", error).code == "port_busy"


def test_only_ports_with_the_boards_numbers_are_asked():
    mouse = Port("/dev/ttyUSB0", 0x046D, 0xC077)
    bluetooth = Port("COM3")
    asked = []

    def opener(device):
        asked.append(device)
        return Line(OURS)

    found = ports.find_boards([mouse, bluetooth, PICO], opener)
    assert asked == [PICO.device]
    assert [board.state for board in found] == ["ready"]


def board(port, serial, state="ready", remark=None):
    return FoundBoard(port, state, serial, remark=remark)


def test_the_remembered_board_is_followed_by_its_serial_number():
    chosen = ports.choose_board([board("COM3", "A"), board("COM9", "B")], remembered="B")
    assert chosen.port == "COM9"
    assert ports.moved("COM7", chosen.port, "B").code == "port_renamed"
    assert ports.moved("COM9", chosen.port, "B") is None


def test_several_boards_are_named():
    with pytest.raises(LinkTrouble, match=r"COM3 \(A\), COM9 \(B\)"):
        ports.choose_board([board("COM3", "A"), board("COM9", "B")])


def test_no_board_says_what_to_do():
    with pytest.raises(LinkTrouble, match="carries data"):
        ports.choose_board([])


def test_every_obstacle_is_told_at_once():
    busy = port_trouble.open_trouble("a", OSError(errno.EBUSY, "busy"))
    denied = port_trouble.open_trouble("b", OSError(errno.EACCES, "denied"))
    with pytest.raises(LinkTrouble) as told:
        ports.choose_board([board("a", "", "busy", busy), board("b", "", "denied", denied)])
    assert [remark.code for remark in told.value.remarks] == ["port_busy", "port_denied"]


@pytest.mark.parametrize(
    ("lapse", "board_s", "slept"),
    [
        (Lapse(4.9, 0), 10.0, 0),  # a busy computer
        (Lapse(300, 0), 310.0, 300),  # the board went on: the computer slept
        (Lapse(300, 0), 10.0, 0),  # the board did not: only the clock was set
        (Lapse(300, 0), None, 300),  # the board started anew: it cannot tell
        (Lapse(0, 300), 310.0, 300),  # both clocks ran on, and the wait came back late
    ],
)
def test_a_computer_that_slept_is_told_by_three_clocks(lapse, board_s, slept):
    assert slept_s(lapse, board_s, 10.0) == slept


class Chatter:
    """A device that talks all the time, as a position receiver does."""

    def write(self, data):
        pass

    def read(self, timeout_s):
        return b"$XXGGA,081836,3751.65,S,14507.36,E*75\r\n"

    def close(self):
        pass


def test_a_device_that_never_stops_talking_is_told_apart_and_left():
    found = ports.probe(ports.Port("COM3"), lambda device: Chatter())
    assert found.state == "other"
    assert found.remark.code == "wrong_device"


@pytest.mark.parametrize("name", ["/", "/dev/null", "a_file"])
def test_what_is_no_serial_port_is_said_to_be_none(tmp_path, name):
    (tmp_path / "a_file").write_text("no port")
    with pytest.raises(LinkTrouble) as told:
        SerialTransport(str(tmp_path / name))
    assert told.value.remarks[0].code == "not_a_port"
    assert "Errno" not in str(told.value)
