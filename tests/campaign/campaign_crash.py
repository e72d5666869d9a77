"""Kills a recording from outside, hundreds of times, and looks at what is left.

``python tests/campaign/campaign_crash.py [--kills 240] [--snapshots 60] [--seed 1] [--short]``

A board (the real ring of records, in this process, on this computer's clock) is drained by a
recording program, which is ended by SIGKILL at a random instant. Then the casebook must open, be
whole by ``case check``, hold the board's sequence numbers without a hole from the first on, and
the newest stored sample must be at most one second older than what the board had at the kill.
Every mark and stretch that the program had been told is written must be there.

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
from dataclasses import dataclass, field
from pathlib import Path

from locum.casebook.check import check_file
from locum.casebook.store import Store
from locum.recording.decode import Decoder, read_block
from locum.recording.recorder import Recorder
from locum_board import records
from locum_board.room import Room

LIMIT_MS = 1000
POLL_S = 0.1
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
    snapshots: list[tuple[Path, int]] = field(default_factory=list)
    """Copies taken, and the board's time when each was."""

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
            elif letter == ord("D"):
                self.told.drive_id = received(self.line, 26).decode()
            elif letter == ord("M"):
                self.told.marks += 1
            elif letter == ord("S"):
                self.told.stretches += 1

    def kill(self) -> int:
        """End the program; the board's time just before. [ms]"""
        assert self.line is not None
        assert self.board is not None
        had_ms = self.board.catch_up()
        os.kill(self.child, signal.SIGKILL)
        os.waitpid(self.child, 0)
        while select.select([self.line], [], [], 0)[0]:
            letter = self.line.recv(1)
            if letter == b"D":
                self.told.drive_id = received(self.line, 26).decode()
            self.told.marks += letter == b"M"
            self.told.stretches += letter == b"S"
            if not letter:
                break
        self.line.close()
        return had_ms

    def snapshot(self, folder: Path) -> None:
        """Copy casebook and log as they stand, the program held still meanwhile."""
        assert self.board is not None
        folder.mkdir(parents=True)
        os.kill(self.child, signal.SIGSTOP)
        os.waitpid(self.child, os.WUNTRACED)
        had_ms = self.board.catch_up()
        for ending in ("", "-wal"):
            source = self.path.with_name(self.path.name + ending)
            if source.exists():
                shutil.copyfile(source, folder / source.name)
        os.kill(self.child, signal.SIGCONT)
        self.snapshots.append((folder / self.path.name, had_ms))


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


def looked_at(path: Path, told: Told, had_ms: int | None) -> tuple[int, list[str]]:
    """How old the newest stored sample is, and every fault."""
    faults = [f"{line.name}: {line.detail}" for line in check_file(path) if not line.passed]
    with Store.open(path) as store:
        if not told.drive_id:
            return 0, faults
        drive = store.drive(told.drive_id)
        end_ms, hole = newest_ms(store, told.drive_id)
        if hole:
            faults.append(hole)
        if had_ms is None:
            return 0, faults
        if had_ms - end_ms > LIMIT_MS:
            faults.append(f"{had_ms - end_ms} ms lost")
        if len(drive.marks) < told.marks:
            faults.append(f"{told.marks - len(drive.marks)} marks lost")
        if len(drive.stretches) < told.stretches:
            faults.append(f"{told.stretches - len(drive.stretches)} stretches lost")
        return had_ms - end_ms, faults


# The campaign -----------------------------------------------------------------------------------


def kills(count: int, folder: Path, chance: random.Random) -> tuple[list[int], list[str]]:
    """Kill recordings until there were ``count``; how much each lost, and all faults."""
    lanes = [
        Lane(folder / f"lane{n}" / "casebook.sqlite", random.Random(chance.random()))
        for n in range(min(LANES, count))
    ]
    for lane in lanes:
        lane.path.parent.mkdir(parents=True)
        lane.start()
    lost: list[int] = []
    faults: list[str] = []
    while lanes:
        lines = [lane.line for lane in lanes if lane.line]
        ready, _, _ = select.select(lines, [], [], 0.01)
        for lane in list(lanes):
            if time.monotonic() >= lane.kill_at_s:
                had_ms = lane.kill()
                age, found = looked_at(lane.path, lane.told, had_ms)
                if lane.told.drive_id:  # killed before it began to record: nothing to lose yet
                    lost.append(age)
                faults += [f"kill {len(lost)}: {fault}" for fault in found]
                if len(lost) >= count:
                    lane.line = None
                    lanes.remove(lane)
                else:
                    lane.start()
            elif lane.line in ready:
                lane.serve()
    return lost, faults


def power_cuts(count: int, folder: Path, chance: random.Random) -> tuple[list[int], int, list[str]]:
    """Copies of a running casebook; how much each lost, how many torn ones, and all faults."""
    lane = Lane(folder / "power" / "casebook.sqlite", chance)
    lane.path.parent.mkdir(parents=True)
    lane.start()
    lane.kill_at_s = float("inf")
    copies: list[tuple[Path, int]] = []
    next_s = time.monotonic() + 1.0
    while len(copies) < count:
        assert lane.line is not None
        if select.select([lane.line], [], [], 0.01)[0]:
            lane.serve()
        if time.monotonic() >= next_s and lane.told.drive_id:
            lane.snapshot(folder / "cuts" / str(len(copies)))
            copies = lane.snapshots
            next_s = time.monotonic() + chance.uniform(0.02, 0.25)
    told = Told(lane.told.drive_id)
    lane.kill()
    torn = [copy for n in range(1, len(copies)) if (copy := torn_copy(copies, n, chance))]
    lost, faults = [], []
    for path, had_ms in copies:
        age, found = looked_at(path, told, had_ms)
        lost.append(age)
        faults += [f"copy {path.parent.name}: {fault}" for fault in found]
    for path in torn:
        faults += [f"torn {path.parent.name}: {fault}" for fault in looked_at(path, told, None)[1]]
    return lost, len(torn), faults


def torn_copy(copies: list[tuple[Path, int]], number: int, chance: random.Random) -> Path | None:
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
        lost, faults = kills(options.kills, Path(name), chance)
        cut_lost, torn, cut_faults = power_cuts(options.snapshots, Path(name), chance)
    for title, ages in (("kill -9", lost), ("power cut, as it stood", cut_lost)):
        ordered = sorted(ages)
        middle, worst = ordered[len(ordered) // 2], ordered[-1]
        print(f"{title:24} {len(ages):4} times   lost, ms: middle {middle:4}, worst {worst:4}")
    print(f"{'power cut, log torn':24} {torn:4} times   opened whole")
    for fault in faults + cut_faults:
        print(f"  FAULT {fault}")
    good = not faults and not cut_faults
    print(
        f"campaign_crash: {len(lost)} kills and {len(cut_lost) + torn} power cuts, "
        f"{len(faults) + len(cut_faults)} faults, limit {LIMIT_MS} ms: "
        f"{'held' if good else 'NOT HELD'}"
    )
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
