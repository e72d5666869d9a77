"""A served board worked by a client that was not written here (PyVISA), on both interpreters."""

import shutil
import signal
import subprocess
import sys
import threading
import time

import pytest

from locum.bodies.pace import Pace
from locum.bodies.remote_engine import interpreter_path
from locum.errors import FileTrouble, LinkTrouble
from locum.link.board import Board
from locum.link.clock import RealClock
from locum.link.serve import serve_pty
from locum.link.transports import DescriptorTransport
from locum.recording.decode import Decoder
from locum_board import steps

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")


def wait_for(condition, seconds=15.0):
    """Real processes start when they start; asks every 5 ms."""
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "waited too long"
        threading.Event().wait(0.005)


class Server:
    def __init__(self, link, interpreter):
        self.link = link
        self.stop = threading.Event()
        self.thread = threading.Thread(
            target=serve_pty, args=("virtual", str(link), interpreter), kwargs={"stop": self.stop}
        )

    def __enter__(self):
        self.thread.start()
        wait_for(self.link.is_symlink)
        return self

    def __exit__(self, *what):
        self.stop.set()
        self.thread.join(10)


@pytest.fixture(params=["python", "micropython"])
def served(request, tmp_path):
    if request.param == "micropython" and not shutil.which("micropython"):
        try:
            interpreter_path("micropython")
        except LinkTrouble as trouble:
            pytest.skip(str(trouble))
    with Server(tmp_path / "board", request.param) as server:
        yield server
    assert not server.link.is_symlink()


def test_outside_client_works_the_board(served):
    visa = pytest.importorskip("pyvisa")
    manager = visa.ResourceManager("@py")
    client = manager.open_resource(f"ASRL{served.link.resolve()}::INSTR")
    client.read_termination = "\n"
    client.timeout = 5000
    assert client.query("*IDN?").split(",")[:2] == ["locum", "virtual"]
    assert len(client.query("*IDN?").split(",")) == 4
    client.write("*RST")
    client.write("*CLS")
    # errors with the standard's numbers
    for message, number in (("NONSENSE", -113), ("OUTP ON", -221), ("OUTP:STAN 0", -222),
                            ("INIT", -213), ("RES 100", 202)):  # fmt: skip
        client.write(message)
        assert client.query("SYST:ERR?").startswith(f"{number},")
    assert client.query("SYST:ERR?") == '0,"No error"'
    # ohms by hand: a ladder, then a value
    words = [steps.OUT] * 3
    from locum_board import ladder

    rungs = b"".join(
        ladder.pack_rung(36_000 + 40_000 * code, 100, (code, *words)) for code in range(3, 257)
    )
    client.write_raw(b"LADD:DATA #4%04d" % len(ladder.ladder_block(rungs)))
    client.write_raw(ladder.ladder_block(rungs) + b"\n")
    client.write("RES 2500")
    assert client.query("RES?") == "2516.000"
    # a plan, run and fetched
    step = steps.pack_step(100, (62, *words))
    plan = steps.plan_block(step * 10 + steps.pack_repeat(10, 3), flags=0)
    client.write_binary_values("LIST:DATA ", plan, datatype="B")
    assert client.query("SYST:ERR?") == '0,"No error"'
    assert client.query("LIST:POIN?") == "11,11"
    wait_for(lambda: int(client.query("FETC?").split(",")[5]) > 0)
    client.write("TRAC:CLE")
    client.write("INIT")
    assert client.query("SYST:ERR?") == '0,"No error"'
    assert client.query("OUTP?") == "1"
    wait_for(lambda: client.query("FETC?").split(",")[2] == "1")
    wait_for(lambda: int(client.query("STAT:OPER:COND?")) & 8 == 0)  # sweeping no more
    assert client.query("FETC?").split(",")[1] == "2"  # holding
    client.write("OUTP OFF")
    assert client.query("OUTP?") == "0"
    block = bytes(client.query_binary_values("TRAC:DATA?", datatype="B"))
    chunk = Decoder().feed(block)
    assert (chunk.moves["kind"] == 2).sum() >= 30
    assert client.query("*STB?") == "0"
    headers = bytes(client.query_binary_values("SYST:HELP:HEAD?", datatype="B")).decode()
    assert "FETCh[:STATe]?" in headers.split("\n")
    client.close()
    manager.close()


def test_our_own_client_and_another_after_it(served):
    for _ in range(2):
        board = Board(DescriptorTransport.of_path(str(served.link)), RealClock())
        assert board.identify().maker == "locum"
        assert board.fetch().state == "rest"
        board.close()


def test_a_client_that_never_reads_does_not_stop_the_board(tmp_path):
    with Server(tmp_path / "board", "python") as server:
        mute = DescriptorTransport.of_path(str(server.link))
        for _ in range(200):
            mute.write(b"SYST:HELP:HEAD?\n" * 4)
        mute.close()
        board = Board(DescriptorTransport.of_path(str(server.link)), RealClock())
        wait_for(lambda: _answers(board))
        first = board.fetch().t_ms
        wait_for(lambda: board.fetch().t_ms > first + 100)


def _answers(board):
    try:
        return board.identify().maker == "locum"
    except LinkTrouble:
        return False


def test_a_place_that_is_taken_is_left_alone(tmp_path):
    place = tmp_path / "board"
    place.write_text("mine")
    with pytest.raises(FileTrouble, match="something is there"):
        serve_pty("virtual", str(place))
    assert place.read_text() == "mine"


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_server_ends_by_signal_and_takes_its_link_along(tmp_path, number):
    """Also when started in a script's background, where Ctrl-C is inherited as ignored."""
    link = tmp_path / "board"
    code = f"from locum.link.serve import serve_pty; serve_pty('virtual', {str(link)!r})"
    ignoring = f"import signal; signal.signal(signal.SIGINT, signal.SIG_IGN); {code}"
    server = subprocess.Popen([sys.executable, "-c", ignoring], stderr=subprocess.DEVNULL)
    try:
        wait_for(link.is_symlink)
        board = Board(DescriptorTransport.of_path(str(link)), RealClock())
        wait_for(lambda: _answers(board))
        server.send_signal(number)
        assert server.wait(15) == 0
        assert not link.is_symlink()
    finally:
        server.kill()
        server.wait()


class Never:
    """A stop that comes at once, but not while the rate is looked at."""

    def wait(self, seconds):
        return False

    def is_set(self):
        return True


class Paced:
    """A body whose player Linux holds up now and then."""

    def __init__(self):
        self.pace = Pace()
        for n in range(801):
            self.pace.beat(n / 800)

    def receive(self, data):
        return b"locum,pi,1,0.1.0/P1.0/1\n"

    def close(self):
        pass


def test_serving_a_pi_says_the_rate_before_and_after(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("locum.bodies.served.open_served", lambda *words: Paced())
    serve_pty("pi", str(tmp_path / "board"), stop=Never())  # pyright: ignore[reportArgumentType]
    first, _, last = capsys.readouterr().err.splitlines()
    reached = "800 readings a second, longest gap 1 ms, waiting its turn among other programs"
    assert first == f"pi: {reached}"
    assert last == f"pi: all the while {reached}"
