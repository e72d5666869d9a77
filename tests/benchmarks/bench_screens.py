"""What the screens cost: share of one core at ten looks a second, and key to screen.

The application runs by itself in a terminal of its own (a pseudo terminal, 120 x 40, 256 colours) with
a desk that only makes up snapshots, so that neither board nor record is counted. 5,000 lines are in the
river from the beginning. In the usual run the glance changes at every look and a line comes every two
seconds; in the hard run a line with a kick-out comes at every look as well. Share: processor time
of that process divided by the time that passed (``time.process_time``). Key to screen: from writing the
key into the terminal until the words it calls up come out of it. On a machine that others keep busy that
time is mostly waiting for a core: it is judged only while the machine is calm, the processor time
that the process took for the key (and for the looks in between) always.
"""

from __future__ import annotations

import os
import pty
import select
import struct
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from subprocess import Popen

sys.path.insert(0, str(Path(__file__).resolve().parent))

from table import Limit, Table

POINTS = 5000
SIZE = (120, 40)
LOOKS_PER_S = 10
SECONDS = 12.0
SHARE_LIMIT_PCT = 10.0
KEY_LIMIT_MS = 50.0
CALM = 0.8
"""Programs that want each core, from which on waiting is not ours."""
KEYS = ((b"?", b"explained"), (b"q", b"commanded"), (b"1", b"Prepare"), (b"2", b"commanded"))
"""Keys in turn, each with words that only it calls up."""
ROUNDS = 10


# -- the child: the screens with a desk that makes everything up ---------------------------------


def made_up(t_s: float):
    """A glance at that time: told, true, times and places of the disk all move."""
    from locum.jobs.glance import Glance

    wave = (t_s * 0.37) % 10
    return Glance(
        t_s=t_s, state="holding", source="stand_in", following=False, contact="through", cause="",
        told_ohm=300.0 + wave, told_c=80.0 + wave / 5, true_ohm=400.0 + wave, true_c=70.0 + wave,
        node_v=1.5, commanded="top gear, clutch locked", held=True, kick_outs=int(t_s / 60),
        last_kick_out_s=t_s - 20, releases=3, glitches=2, last_glitch_s=t_s - 30,
        exposed_s=t_s, standing_left_s=900, step=3, steps=9, saved_behind_s=wave / 10, lost=0,
        trouble="", host_present=True, supply="host",
    )  # fmt: skip


def line_at(t_s: float, events=()):
    from locum.jobs.lines import Line

    wave = (t_s * 0.37) % 10
    return Line(t_s, "stand_in", False, 80.0 + wave / 5, 70.0 + wave, "top gear, clutch locked", True, events)  # fmt: skip


def child(hard: bool, out: str) -> None:
    """Run the screens for so long; processor time and time passed go into the file."""
    from locum.jobs.desk import Desk, Setup, Snapshot
    from locum.jobs.lines import Event
    from locum.settings import Settings
    from locum.ui.app import LocumApp
    from locum.ui.looks.pauses import short_pauses

    class MadeUp(Desk):
        """No thread, no board: every look finds something new."""

        looks = 0
        lines = tuple(line_at(2.0 * n) for n in range(POINTS))

        def open(self) -> None:
            pass

        def close(self, timeout_s: float = 2.0) -> None:
            pass

        def snapshot(self) -> Snapshot:
            self.looks += 1
            t_s = 2.0 * POINTS + self.looks / LOOKS_PER_S
            if hard:
                kick = Event(t_s, "kick_out", "top gear, clutch locked")
                self.lines = (*self.lines[1:], line_at(t_s, (kick,)))
            elif self.looks % (2 * LOOKS_PER_S) == 0:
                self.lines = (*self.lines[1:], line_at(t_s))
            return Snapshot(
                self.setup, phase="recording", doing="hold", doing_words="82C",
                glance=made_up(t_s), lines=self.lines, drive_id="d", virtual=True, ticks=self.looks,
            )  # fmt: skip

    app = LocumApp(Setup(sensor="20C=2.5k,82C=300", board="virtual"), Settings())
    app.desk = MadeUp(app.desk.setup, app.settings)
    began: list[tuple[float, float]] = []

    def begin() -> None:
        began.append((time.process_time(), time.monotonic()))

    def end() -> None:
        cpu_s, wall_s = began[0]
        Path(out).write_text(f"{time.process_time() - cpu_s} {time.monotonic() - wall_s}")

    def plan() -> None:
        app.set_timer(2.0, begin)  # what starting costs is not counted
        app.set_timer(2.0 + SECONDS, end)

    app.call_later(plan)
    short_pauses(app)  # as ``run`` of the application does
    app.run()


# -- the parent: a terminal that reads and types -------------------------------------------------


class Terminal:
    """The other end of the pseudo terminal."""

    def __init__(self, hard: bool, out: Path, home: Path) -> None:
        import fcntl
        import termios

        self.master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", SIZE[1], SIZE[0], 0, 0))
        keep = {
            k: v
            for k, v in os.environ.items()
            if k not in ("COLORTERM", "NO_COLOR", "SSH_CONNECTION")
        }
        environ = {**keep, "TERM": "xterm-256color", "LANG": "C.UTF-8", "LC_ALL": "C.UTF-8",
                   "XDG_DATA_HOME": str(home), "XDG_CONFIG_HOME": str(home)}  # fmt: skip
        mode = "hard" if hard else "usual"
        self.process = Popen([sys.executable, __file__, "--child", mode, str(out)], stdin=slave,
                             stdout=slave, stderr=slave, env=environ, close_fds=True)  # fmt: skip
        os.close(slave)
        self.bytes = 0

    def read_until(self, seconds: float, words: bytes | None = None) -> float | None:
        """Read for so long, or until the words came; the time that took. [s]"""
        begin, seen = time.monotonic(), b""
        while (left := begin + seconds - time.monotonic()) > 0:
            if not select.select([self.master], [], [], left)[0]:
                break
            try:
                data = os.read(self.master, 65536)
            except OSError:
                return None
            self.bytes += len(data)
            seen = seen[-200:] + data
            if words is not None and words in seen:
                return time.monotonic() - begin
        return None

    def processor_s(self) -> float:
        """Processor time of all threads so far, to the nanosecond (Linux). [s]"""
        tasks = Path(f"/proc/{self.process.pid}/task").glob("*/schedstat")
        return sum(int(task.read_text().split()[0]) for task in tasks) / 1e9

    def key_ms(self, key: bytes, words: bytes) -> tuple[float, float]:
        """From writing the key until its words come out: time passed, processor time. [ms]"""
        self.read_until(0.35)
        before_s = self.processor_s()
        os.write(self.master, key)
        took = self.read_until(5.0, words)
        if took is None:
            return float("inf"), float("inf")
        return 1000 * took, 1000 * (self.processor_s() - before_s)

    def end(self) -> None:
        self.process.kill()
        self.process.wait()
        os.close(self.master)


@dataclass(frozen=True)
class Measured:
    """One run."""

    share_pct: float
    """Of one core."""
    keys_ms: list[float]
    """Key to screen, shortest first."""
    processor_ms: list[float]
    """The same in processor time."""
    bytes_per_s: float
    """To the terminal."""


def measured(hard: bool) -> Measured:
    """Run the screens for so long, then press keys."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "share.txt"
        terminal = Terminal(hard, out, Path(folder))
        try:
            if terminal.read_until(30.0, b"commanded") is None:
                raise SystemExit("the screens did not come up")
            before = terminal.bytes
            terminal.read_until(SECONDS + 2.5)
            rate = (terminal.bytes - before) / (SECONDS + 2.5)
            cpu_s, wall_s = map(float, out.read_text().split())
            keys = [terminal.key_ms(*KEYS[n % len(KEYS)]) for n in range(len(KEYS) * ROUNDS)]
        finally:
            terminal.end()
    passed, processor = zip(*keys, strict=True)
    return Measured(100 * cpu_s / wall_s, sorted(passed), sorted(processor), rate)


def late(ordered: list[float]) -> float:
    """What 95 of 100 stay below."""
    return ordered[max(int(len(ordered) * 0.95) - 1, 0)]


def tables(boards: int = 0, full: bool = False) -> list[Table]:
    rows, limits, notes = [], [], []
    for hard, name in ((False, "usual"), (True, "hard")):
        found = measured(hard)
        half = found.keys_ms[len(found.keys_ms) // 2]
        rows.append((
            name, f"{found.share_pct:.1f}", f"{half:.0f}", f"{late(found.keys_ms):.0f}",
            f"{late(found.processor_ms):.0f}", f"{found.bytes_per_s / 1000:.1f}",
        ))  # fmt: skip
        limits += [
            Limit(f"{name}: share of one core [%]", found.share_pct, SHARE_LIMIT_PCT),
            Limit(f"{name}: processor time of a key, 95 of 100 [ms]", late(found.processor_ms), KEY_LIMIT_MS),
        ]  # fmt: skip
        load = os.getloadavg()[0] / (os.cpu_count() or 1)
        if load < CALM:
            limits.append(Limit(f"{name}: key to screen, 95 of 100 [ms]", late(found.keys_ms), KEY_LIMIT_MS))  # fmt: skip
        else:
            notes.append(f"{name}: {load:.1f} programs wanted each core: key to screen not judged")
    title = f"screens: {LOOKS_PER_S} looks a second, {POINTS} lines, {SIZE[0]} x {SIZE[1]}; hard: a kick-out at every look"
    header = ("run", "% of one core", "key ms: half", "95 of 100", "processor ms", "kB/s out")
    return [Table(title, header, rows, limits, notes)]


def main() -> int:
    made = tables()
    print(*made, sep="\n\n")
    return 0 if all(limit.kept for table in made for limit in table.limits) else 1


if __name__ == "__main__":
    if sys.argv[1:2] == ["--child"]:
        child(sys.argv[2] == "hard", sys.argv[3])
    else:
        raise SystemExit(main())
