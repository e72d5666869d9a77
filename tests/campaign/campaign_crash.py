"""Kills a recording from outside, hundreds of times, and looks at what is left.

``python tests/campaign/campaign_crash.py [--kills 240] [--snapshots 60] [--seed 1] [--short]``

A board (the real ring of records, in this process, on this computer's clock) is drained by a
recording program, which is ended by SIGKILL at a random instant. Then the casebook must open, be
whole by ``case check``, hold the board's sequence numbers without a hole from the first on, and
the newest stored sample must be at most one second older than what the board had at the kill.
Every mark and stretch that the program had been told is written must be there.

A computer so busy that the program did not get to ask the board for ``STARVED_MS`` before the kill
cannot write down what it never received. Such kills are counted apart, and judged by what the board
had handed over: of that, too, nothing older than a second may be missing.

A power cut is simulated by stopping the program at a random instant and copying casebook and log
as they stand; and once more with the newest part of the log torn off or filled with noise, as far
back as a disk may lawfully have kept it from being written. Such a copy must open and be whole.

Prints counts; the last line sums up; exit 1 if anything was lost that should not be.
"""

from __future__ import annotations

import argparse
import os
import random
import select
import shutil
import signal
import socket
import struct
import sys
import tempfile
import time
from dataclasses import dataclass, field, replace
from pathlib import Path

from locum.casebook.check import check_file
from locum.casebook.store import Store
from locum.recording.blocks import read_block
from locum.recording.decode import Decoder
from locum.recording.recorder import Recorder
from locum_board import records
from locum_board.room import Room

LIMIT_MS = 1000
POLL_S = 0.1
STARVED_MS = 400
"""Three of four polls did not come."""
LANES = 4
"""Recordings at once; each has its own casebook, which lives on from kill to kill."""


class Hands:
    bucket_ms = 10
    boot_id = 7
    node_full_0v1mv = 66000
    range_milliohm = (1_500_000, 12_050_000, 100_750_000)


class Board:
    """The real ring, filled in step with the clock: now quiet, now lively, as a road is."""

    def __init__(self, chance: random.Random) -> None:
        self.ring = records.Ring(Room(6000))
        self.ring.clear(0)
        self.begun_s = time.monotonic()
        self.until_ms = 0
        self.chance = chance

    def catch_up(self) -> int:
        """Measure until now; the time reached. [ms]"""
        now_ms = int((time.monotonic() - self.begun_s) * 1000)
        while self.until_ms + 100 <= now_ms:
            if self.chance.random() < 0.5:
                self._sample(10, 100 * 16, 99, 101)
            else:
                for _ in range(10):
                    node = self.chance.randrange(100, 3000)
                    self._sample(1, node * 16, max(node - 60, 0), node + 60)
        return self.until_ms

    def _sample(self, span: int, node16: int, low: int, high: int) -> None:
        word = 1 << 10 | span << 3 | 5
        self.ring.sample(self.until_ms, 10, word, node16, 700 * 16, low, high, 699, 701)
        self.until_ms += span * 10

    def drain(self) -> bytes:
        self.catch_up()
        blocks = []
        while self.ring.waiting():
            block = bytes(self.ring.take(400, Hands))
            blocks.append(struct.pack("<I", len(block)) + block)
        out = b"".join(blocks)
        return struct.pack("<II", self.until_ms, len(out)) + out


# The program that is killed ---------------------------------------------------------------------


class Wall:
    def now_s(self) -> float:
        return time.monotonic()


def record(path: Path, line: socket.socket) -> None:
    """What a recording does, until it is killed."""
    store = Store.open(path)
    case_id = (
        store.cases(limit=1)[0].id if store.case_count() else store.new_case({"title": "road"})
    )
    drive_id = store.begin_drive("listen", case_id, {"serial": "7"})
    line.sendall(b"D" + drive_id.encode())
    recorder = Recorder(store, drive_id, Wall())
    turn = 0
    while True:
        line.sendall(b"?")
        until_ms, size = struct.unpack("<II", received(line, 8))
        data, blocks = received(line, size), []
        while data:
            (length,) = struct.unpack_from("<I", data)
            blocks.append(data[4 : 4 + length])
            data = data[4 + length :]
        recorder.heard(until_ms, int(time.time() * 1000), 1.0)
        recorder.take(blocks, until_ms)
        turn += 1
        if turn % 3 == 0:
            store.add_mark(drive_id, until_ms, "key", note=f"turn {turn}")
            line.sendall(b"M")
        if turn % 5 == 0:
            store.begin_stretch(drive_id, until_ms, "real" if turn % 2 else "follow")
            line.sendall(b"S")
        time.sleep(POLL_S)


def received(line: socket.socket, size: int) -> bytes:
    data = b""
    while len(data) < size:
        more = line.recv(size - len(data))
        if not more:
            os._exit(0)
        data += more
    return data


# One kill ---------------------------------------------------------------------------------------


@dataclass
class Told:
    """What the program had been told is written, by the time it was killed."""

    drive_id: str = ""
    marks: int = 0
    stretches: int = 0
    had_ms: int = 0
    """What the board had measured at the kill."""
    drained_ms: int = 0
    """What it had handed over."""

    @property
    def starved(self) -> bool:
        return self.had_ms - self.drained_ms > STARVED_MS


@dataclass
class Lane:
    """One casebook, its running program and its board."""

    path: Path
    chance: random.Random
    child: int = 0
    line: socket.socket | None = None
    board: Board | None = None
    told: Told = field(default_factory=Told)
    kill_at_s: float = 0.0
    looking: int = 0
    """Pipe of the process that looks at what is left; 0 while none does."""
    looker: int = 0
    snapshots: list[tuple[Path, Told]] = field(default_factory=list)
    """Copies taken, and what had been told by then."""

    def start(self) -> None:
        ours, theirs = socket.socketpair()
        self.told, self.snapshots = Told(), []
        self.board = Board(self.chance)
        self.child = os.fork()
        if self.child == 0:
            ours.close()
            try:
                record(self.path, theirs)
            finally:
                os._exit(1)
        theirs.close()
        self.line = ours
        self.kill_at_s = time.monotonic() + self.chance.uniform(0.05, 2.6)

    def serve(self) -> None:
        assert self.line is not None
        assert self.board is not None
        for letter in self.line.recv(1):
            if letter == ord("?"):
                self.line.sendall(self.board.drain())
                self.told.drained_ms = self.board.until_ms
            elif letter == ord("D"):
                self.told.drive_id = received(self.line, 26).decode()
            elif letter == ord("M"):
                self.told.marks += 1
            elif letter == ord("S"):
                self.told.stretches += 1

    def kill(self) -> None:
        """End the program, having noted what the board had just before."""
        assert self.line is not None
        assert self.board is not None
        self.told.had_ms = self.board.catch_up()
        os.kill(self.child, signal.SIGKILL)
        os.waitpid(self.child, 0)
        while select.select([self.line], [], [], 0)[0]:
            try:
                letter = self.line.recv(1)
            except ConnectionResetError:  # killed with an answer unread; what it said comes next
                continue
            if letter == b"D":
                self.told.drive_id = received(self.line, 26).decode()
            self.told.marks += letter == b"M"
            self.told.stretches += letter == b"S"
            if not letter:
                break
        self.line.close()
        self.line = None

    def look(self) -> None:
        """Look at what is left in a process of its own: boards do not wait for it."""
        self.looking, write = os.pipe()
        self.looker = os.fork()
        if self.looker == 0:
            os.close(self.looking)
            age, faults = looked_at(self.path, self.told)
            os.write(write, "\n".join([str(age), *faults]).encode()[:4000])
            os._exit(0)
        os.close(write)

    def seen(self) -> tuple[int, list[str]]:
        """What was found, once it can be read."""
        age, *faults = os.read(self.looking, 4096).decode().split("\n")
        os.close(self.looking)
        os.waitpid(self.looker, 0)
        self.looking = 0
        return int(age or 0), faults if age else ["what is left could not be looked at"]

    def snapshot(self, folder: Path) -> None:
        """Copy casebook and log as they stand, the program held still meanwhile."""
        assert self.board is not None
        folder.mkdir(parents=True)
        os.kill(self.child, signal.SIGSTOP)
        os.waitpid(self.child, os.WUNTRACED)
        had_ms = self.board.catch_up()
        told = replace(self.told, had_ms=had_ms)
        for ending in ("", "-wal"):
            source = self.path.with_name(self.path.name + ending)
            if source.exists():
                shutil.copyfile(source, folder / source.name)
        os.kill(self.child, signal.SIGCONT)
        self.snapshots.append((folder / self.path.name, told))


def newest_ms(store: Store, drive_id: str) -> tuple[int, str]:
    """Where the stored samples end, and what is wrong with the sequence numbers, if anything."""
    decoder, expected, end_ms = Decoder(), 0, 0
    for block in store.blocks(drive_id):
        head = read_block(block)
        if head.seq != expected:
            return end_ms, f"slot {expected} missing, {head.seq} came"
        expected += len(head.slots)
        chunk = decoder.feed(block)
        if len(chunk.samples):
            end_ms = int(chunk.samples["t_ms"][-1] + chunk.samples["span_ms"][-1])
    return end_ms, ""


def looked_at(path: Path, told: Told, torn: bool = False) -> tuple[int, list[str]]:
    """How old the newest stored sample is, and every fault. [ms]"""
    faults = [f"{line.name}: {line.detail}" for line in check_file(path) if not line.passed]
    with Store.open(path) as store:
        if not told.drive_id:
            return 0, faults
        drive = store.drive(told.drive_id)
        end_ms, hole = newest_ms(store, told.drive_id)
        if hole:
            faults.append(hole)
        if torn:
            return 0, faults
        meant_ms = told.drained_ms if told.starved else told.had_ms
        if meant_ms - end_ms > LIMIT_MS:
            faults.append(f"{meant_ms - end_ms} ms lost")
        if len(drive.marks) < told.marks:
            faults.append(f"{told.marks - len(drive.marks)} marks lost")
        if len(drive.stretches) < told.stretches:
            faults.append(f"{told.stretches - len(drive.stretches)} stretches lost")
        return meant_ms - end_ms, faults


@dataclass
class Outcome:
    lost_ms: list[int] = field(default_factory=list)
    starved: int = 0
    faults: list[str] = field(default_factory=list)


# The campaign -----------------------------------------------------------------------------------


def kills(count: int, folder: Path, chance: random.Random) -> Outcome:
    """Kill recordings until there were ``count``; how much each lost, and all faults."""
    lanes = [
        Lane(folder / f"lane{n}" / "casebook.sqlite", random.Random(chance.random()))
        for n in range(min(LANES, count))
    ]
    for lane in lanes:
        lane.path.parent.mkdir(parents=True)
        lane.start()
    out = Outcome()
    while lanes:
        waiting = [lane.looking or lane.line for lane in lanes]
        ready = select.select([place for place in waiting if place], [], [], 0.01)[0]
        for lane in list(lanes):
            if lane.looking:
                if lane.looking in ready and _noted(out, lane) >= count:
                    lanes.remove(lane)
                elif not lane.looking:
                    lane.start()
            elif time.monotonic() >= lane.kill_at_s:
                lane.kill()
                lane.look()
            elif lane.line in ready:
                lane.serve()
    return out


def _noted(out: Outcome, lane: Lane) -> int:
    """Write down what a kill left; how many kills there were."""
    age, found = lane.seen()
    if lane.told.drive_id:  # else killed before it began to record: nothing to lose yet
        out.lost_ms.append(age)
        out.starved += lane.told.starved
    out.faults += [f"kill {len(out.lost_ms)}: {fault}" for fault in found]
    return len(out.lost_ms)


def power_cuts(count: int, folder: Path, chance: random.Random) -> tuple[Outcome, int]:
    """Copies of a running casebook; how much each lost, all faults, and how many torn ones."""
    lane = Lane(folder / "power" / "casebook.sqlite", chance)
    lane.path.parent.mkdir(parents=True)
    lane.start()
    copies = lane.snapshots
    next_s = time.monotonic() + 1.0
    while len(copies) < count:
        assert lane.line is not None
        if select.select([lane.line], [], [], 0.01)[0]:
            lane.serve()
        if time.monotonic() >= next_s and lane.told.drive_id:
            lane.snapshot(folder / "cuts" / str(len(copies)))
            next_s = time.monotonic() + chance.uniform(0.02, 0.25)
    lane.kill()
    torn = [copy for n in range(1, len(copies)) if (copy := torn_copy(copies, n, chance))]
    out = Outcome()
    for path, told in copies:
        age, found = looked_at(path, told)
        out.lost_ms.append(age)
        out.starved += told.starved
        out.faults += [f"copy {path.parent.name}: {fault}" for fault in found]
    for path in torn:
        told = Told(copies[0][1].drive_id)
        out.faults += [f"{path.parent.name}: {f}" for f in looked_at(path, told, torn=True)[1]]
    return out, len(torn)


def torn_copy(copies: list[tuple[Path, Told]], number: int, chance: random.Random) -> Path | None:
    """A copy whose log ends, or turns to noise, somewhere after what the copy before already had.

    A disk may lose what was appended to the log and not yet waited for. Where the casebook itself
    changed between two copies, the log had been waited for in between; such pairs are passed over.
    """
    before, now = copies[number - 1][0], copies[number][0]
    logs = [path.with_name(path.name + "-wal") for path in (before, now)]
    if not all(log.exists() for log in logs) or before.read_bytes() != now.read_bytes():
        return None
    short, long = (log.read_bytes() for log in logs)
    if not long.startswith(short) or len(long) == len(short):
        return None
    cut = chance.randrange(len(short), len(long))
    rest = b"" if chance.random() < 0.5 else chance.randbytes(len(long) - cut)
    folder = now.parent.with_name(f"{now.parent.name}-torn")
    folder.mkdir()
    shutil.copyfile(now, folder / now.name)
    (folder / f"{now.name}-wal").write_bytes(long[:cut] + rest)
    return folder / now.name


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--kills", type=int, default=240)
    parser.add_argument("--snapshots", type=int, default=80)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--short", action="store_true", help="20 kills and 15 copies")
    options = parser.parse_args()
    if options.short:
        options.kills, options.snapshots = 20, 15
    if not hasattr(os, "fork"):
        print("campaign_crash needs a POSIX system; not run here")
        return 0
    chance = random.Random(options.seed)
    with tempfile.TemporaryDirectory(prefix="locum-crash-") as name:
        killed = kills(options.kills, Path(name), chance)
        cut, torn = power_cuts(options.snapshots, Path(name), chance)
    for title, out in (("kill -9", killed), ("power cut, as it stood", cut)):
        ordered = sorted(out.lost_ms)
        print(
            f"{title:24} {len(ordered):4} times   lost, ms: middle "
            f"{ordered[len(ordered) // 2]:4}, worst {ordered[-1]:4}   starved {out.starved}"
        )
    print(f"{'power cut, log torn':24} {torn:4} times")
    faults = killed.faults + cut.faults
    for fault in faults:
        print(f"  FAULT {fault}")
    print(
        f"campaign_crash: {len(killed.lost_ms)} kills and {len(cut.lost_ms) + torn} power cuts, "
        f"{len(faults)} faults, limit {LIMIT_MS} ms: {'NOT HELD' if faults else 'held'}"
    )
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
