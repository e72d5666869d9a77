"""What the Raspberry Pi's body reaches: readings a second, and how late its steps are under load.

    python tests/benchmarks/bench_pi.py

The body runs in a process of its own on gpiozero's mock pins, chips answering whole words and the bus
held as long as its bits take, served over a pty; the host is another process. Three times a plan of
20 ms steps with every wiper moving: a host that polls and drains 20 times a second, one that sends
64 kB of another's bytes and a whole plan on top of that, and one that stops reading. Lateness is
taken at the first potentiometer's word, the least taken as zero, and beside it by the board's own
DIAGnostic:LATEness?. This computer's figures, not a Raspberry Pi's: there ``locum checkup --board pi``
measures. The last table is the first once more by a player that is an ordinary program among others.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from contextlib import nullcontext
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path[:0] = [
    str(HERE),
    str(ROOT / "firmware_micropython"),
    str(ROOT / "tests"),
    str(ROOT / "host"),
]

from table import Limit, Table  # noqa: E402

from locum_board import steps  # noqa: E402

STEP_MS = 20
STEPS = 250
POLL_S = 0.05
FEWEST_HZ = 300.0
LONGEST_MS = 100.0
HOSTS = ("polls 20 times a second", "polls and sends 64 kB and a plan a second", "stops reading")


def serve(link: str, written: str, ordinary: str = "") -> None:
    """The body's own process: until SIGTERM, then the moments of the words into a file."""
    from locum.bodies import pi
    from locum.link import serve as serving
    from pi_words import playing_pi

    if ordinary:
        pi.ahead_of_others = serving.ahead_of_others = lambda _priority: nullcontext(False)
    body, written_s, _ = playing_pi(Path(written).parent / "kept")
    serving.serve_body(body, link, "pi")
    lines = [str(int(body.pace.first)), *map(str, written_s)]
    Path(written).write_text("\n".join(lines))


def plan(count: int = STEPS) -> bytes:
    rows = b"".join(
        steps.pack_step(STEP_MS, [90 + n % 8, 120 - n % 8, 30 + n % 5, 7 + n % 3])
        for n in range(count)
    )
    return steps.plan_block(rows, flags=steps.RUN_ON_SILENCE)


def drive(board, host: str) -> tuple[list[int], float, float]:
    """Play the plan; the board's own lateness, its readings a second, and when it was begun [s]."""
    board.set_range(1, 1)
    board.upload_plan(plan(), "late")
    board.tell("*CLS")
    missed, began_ms = int(board.ask("DIAG:LOOP?").split(",")[3]), board.fetch().t_ms
    began_s = time.monotonic()
    board.run()
    end_s = began_s + STEPS * STEP_MS / 1000
    turn = 0
    while time.monotonic() < end_s:
        if host == HOSTS[2]:
            board.transport.write(b"FETC?;*IDN?\nSYST:HELP:HEAD?\nTRAC:DATA?\n")
        else:
            board.fetch()
            board.drain()
        if host == HOSTS[1] and turn % 20 == 0:
            board.transport.write(b"\xff" * 65536 + b"\n")
            refused(board)
        turn += 1
        time.sleep(POLL_S)
    board.resynchronise()
    board.real_sensor_now()
    board.errors()
    late = [int(part) for part in board.ask("DIAG:LAT?").split(",")]
    beats = board.fetch().t_ms - began_ms
    missed = int(board.ask("DIAG:LOOP?").split(",")[3]) - missed
    return late, 1000.0 * (beats - missed) / beats, began_s


def refused(board) -> None:
    """A plan of 2,000 steps, checked whole and then not taken: its last step is no step."""
    from locum.errors import LocumError

    block = plan(steps.MAX_STEPS)
    try:
        board.tell("LIST:DATA:APP", payload=block)
    except LocumError:
        board.errors()


def at_the_pin(written_s: list[float], began_s: float) -> list[float]:
    """Sorted lateness of each step's first word against the schedule. [us]"""
    words = [t for t in written_s if began_s < t]
    firsts = [t for before, t in zip([0.0, *words], words, strict=False) if t - before > 0.005]
    firsts = firsts[1:STEPS]  # the first waits for the relay
    offsets = [t - STEP_MS / 1000 * n for n, t in enumerate(firsts)]
    return sorted(1e6 * (offset - min(offsets)) for offset in offsets)


def table_of(host: str, pin_us: list[float], own: list[int], rate_hz: float, first: bool) -> Table:
    def part(share: float) -> float:
        return pin_us[min(len(pin_us) - 1, int(len(pin_us) * share))]

    rows = [
        ("runs before ordinary programs", "yes" if first else "no"),
        ("readings a second", f"{rate_hz:.0f}"),
        ("steps at the pin", str(len(pin_us))),
        ("late at the pin, median [us]", f"{part(0.5):.0f}"),
        ("late at the pin, 99 % [us]", f"{part(0.99):.0f}"),
        ("late at the pin, worst [us]", f"{pin_us[-1]:.0f}"),
        ("late by the board, worst [us]", str(own[0])),
    ]
    limits = [
        Limit("readings a second", rate_hz, FEWEST_HZ, at_least=True),
        Limit("worst at the pin [ms]", pin_us[-1] / 1000, LONGEST_MS),
    ]
    title = f"Raspberry Pi's body on mock pins, the host {host}"
    if first:
        return Table(title, ("what", "found"), rows, limits)
    return Table(title, ("what", "found"), rows, [], ["no limits: it waits for whatever else runs"])


def measured(host: str, folder: Path, ordinary: bool = False) -> Table:
    from locum.link.board import Board
    from locum.link.clock import RealClock
    from locum.link.transports import DescriptorTransport

    link, written = folder / "board", folder / "written"
    command = [sys.executable, __file__, "--serve", str(link), str(written)]
    command += ["ordinary"] * ordinary
    server = subprocess.Popen(command, stderr=subprocess.DEVNULL)
    try:
        while not link.is_symlink() and server.poll() is None:
            time.sleep(0.02)
        board = Board(DescriptorTransport.of_path(str(link)), RealClock())
        board.identify()
        own, rate_hz, began_s = drive(board, host)
        board.close()
    finally:
        server.terminate()
        server.wait(20)
    first, *written_s = map(float, written.read_text().split())
    return table_of(host, at_the_pin(written_s, began_s), own, rate_hz, bool(first))


def tables(boards: int = 0, full: bool = False) -> list[Table]:
    """One table a host, and the first once more."""
    found = []
    for host, ordinary in (*((host, False) for host in HOSTS), (HOSTS[0], True)):
        with tempfile.TemporaryDirectory() as folder:
            found.append(measured(host, Path(folder), ordinary))
    return found


def main() -> int:
    if sys.argv[1:2] == ["--serve"]:
        serve(*sys.argv[2:])
        return 0
    found = tables()
    for table in found:
        print(table, end="\n\n", flush=True)
    return 0 if all(limit.kept for table in found for limit in table.limits) else 1


if __name__ == "__main__":
    raise SystemExit(main())
