"""One contract for all transports, and the clocks the jobs wait by."""

import os
import pty
import threading
import tty
from datetime import UTC, datetime, timedelta

import pytest

from locum.errors import LinkTrouble
from locum.link.clock import RealClock, VirtualClock
from locum.link.serial_port import SerialTransport
from locum.link.transports import DescriptorTransport, InProcessTransport, link_gone


class Echo:
    """A board that answers with what it got, in capitals."""

    def receive(self, data):
        return data.upper()


class PtyEcho:
    """The same at the other end of a raw pty."""

    def __init__(self):
        self.master, self.slave = pty.openpty()
        tty.setraw(self.slave)
        self.path = os.ttyname(self.slave)
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self):
        while True:
            try:
                data = os.read(self.master, 4096)
            except OSError:
                return
            os.write(self.master, data.upper())

    def hang_up(self):
        os.close(self.slave)
        os.close(self.master)


@pytest.fixture(params=["in_process", "descriptor", "serial"])
def transport(request):
    if request.param == "in_process":
        yield InProcessTransport(Echo())
        return
    echo = PtyEcho()
    kind = SerialTransport if request.param == "serial" else DescriptorTransport.of_path
    made = kind(echo.path)
    yield made
    made.close()


def read_all(transport, size):
    data = b""
    for _ in range(50):
        data += transport.read(0.1)
        if len(data) >= size:
            break
    return data


def test_bytes_come_back_whole(transport):
    payload = bytes(range(0x20)) + b"abc\r\n\x03\x11\x13\x80\xff" * 100
    transport.write(payload)
    assert read_all(transport, len(payload)) == payload.upper()


def test_nothing_there_is_empty_not_an_error(transport):
    assert transport.read(0.01) == b""


def test_closed_is_link_trouble_and_closing_twice_is_harmless(transport):
    transport.close()
    transport.close()
    with pytest.raises(LinkTrouble):
        transport.write(b"x")


def test_what_was_closed_is_never_written_to_in_another_files_place(tmp_path):
    """A way home asked for while the board is lost must not land in the casebook, which may have the number
    that the port had."""
    link = DescriptorTransport.of_path(PtyEcho().path)
    number = os.open(os.devnull, os.O_RDONLY)
    os.close(number)
    link.close()
    held = []
    while not held or held[-1].fileno() < number:
        held.append((tmp_path / f"casebook{len(held)}").open("w+b", buffering=0))
        held[-1].write(b"whole")
        held[-1].seek(0)
    for act in (lambda: link.write(b"OUTP OFF"), lambda: link.read(0.0)):
        with pytest.raises(LinkTrouble):
            act()
    for file in held:
        assert (file.tell(), file.read()) == (0, b"whole")
        file.close()


@pytest.mark.parametrize("first", [DescriptorTransport.of_path, SerialTransport])
@pytest.mark.parametrize("second", [DescriptorTransport.of_path, SerialTransport])
def test_a_second_program_is_told_that_the_port_is_taken(first, second):
    """Of two at one port each would take answers that are the other's."""
    echo = PtyEcho()
    held = first(echo.path)
    with pytest.raises(LinkTrouble, match="another program has it open"):
        second(echo.path)
    held.write(b"still ours")
    assert read_all(held, 10) == b"STILL OURS"
    held.close()
    second(echo.path).close()


@pytest.mark.parametrize("kind", [DescriptorTransport.of_path, SerialTransport])
def test_no_such_port_is_said_plainly(kind, tmp_path):
    with pytest.raises(LinkTrouble) as trouble:
        kind(str(tmp_path / "none"))
    assert trouble.value.remarks[0].remedy


@pytest.mark.parametrize(
    "system",
    [
        "[Errno 5] Input/output error",
        "device reports readiness to read but returned no data (device disconnected?)",
        "ClearCommError failed (PermissionError(13, 'The device does not recognize the command.'))",
    ],
)
def test_a_pulled_plug_is_said_in_our_words_whatever_the_system_says(system):
    text = link_gone("COM5", system).remarks[0].text
    assert "the plug is out" in text
    assert "rrno" not in text


class Body:
    elapsed_ms = 0
    start_utc = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)

    def advance(self, milliseconds):
        self.elapsed_ms += milliseconds


def test_waiting_advances_the_board_and_loses_no_fraction():
    body = Body()
    clock = VirtualClock(body)
    for _ in range(1000):
        clock.wait(0.0125)
    assert body.elapsed_ms == 12_500
    assert clock.now_s() == 12.5
    assert clock.utc() == body.start_utc + timedelta(seconds=12.5)
    clock.wait(-1)
    assert body.elapsed_ms == 12_500


def test_speed_keeps_pace_with_real_time(monkeypatch):
    now, slept = [100.0], []
    monkeypatch.setattr("locum.link.clock.time.monotonic", lambda: now[0])

    def sleep(seconds):
        slept.append(seconds)
        now[0] += seconds

    monkeypatch.setattr("locum.link.clock.time.sleep", sleep)
    clock = VirtualClock(Body(), speed=10)
    for _ in range(20):
        now[0] += 0.01
        clock.wait(1.0)
    assert now[0] - 100.0 == pytest.approx(2.0 + 0.01, abs=0.02)


def test_real_clock_tells_real_time():
    clock = RealClock()
    before = clock.now_s()
    clock.wait(0)
    assert clock.now_s() >= before
    assert abs(clock.utc() - datetime.now(UTC)) < timedelta(seconds=5)
