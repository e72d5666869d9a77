"""How fast is the virtual board? Full loop: world, buckets, engine, link, drain; four steps a second.

Goal (design): at least 500 x real time on one core. Measured as processor time of this process,
so that other work on the machine does not count. ``python tests/benchmarks/bench_virtual_speed.py``
prints one line and exits 1 if the goal is missed.
"""

from __future__ import annotations

import sys
import time
import tomllib

from locum.bodies.virtual import VirtualBody
from locum.link.board import Board
from locum.link.clock import VirtualClock
from locum.link.transports import InProcessTransport
from locum.locations import asset_root
from locum.virtual.analog import NetworkTruth
from locum.virtual.scenarios import make_demo_world
from locum_board import ladder, steps

GOAL = 500.0
SECONDS = 600
POLL_S = 0.5


def make_board(seed: int = 3) -> tuple[Board, VirtualClock]:
    """A board that stands in with a plan of four steps a second, in the demo's world."""
    path = asset_root("hardware/boards") / "reference.toml"
    sheet = tomllib.loads(path.read_text(encoding="utf-8"))
    world = make_demo_world(seed)
    world.tell("engine_start", cold_c=18.0)
    world.tell("drive")
    truth = NetworkTruth(sheet, seed)
    body = VirtualBody(world, truth, sheet, seed)
    clock = VirtualClock(body)
    board = Board(InProcessTransport(body), clock)
    board.identify()
    out = steps.OUT
    rungs = b"".join(
        ladder.pack_rung(36_000 + 39_000 * code, 100, (code, out, out, out))
        for code in range(3, 257)
    )
    board.upload_ladder(ladder.ladder_block(rungs))
    board.set_range(1)
    clock.wait(1.0)
    rows = b"".join(steps.pack_step(250, (100 + i % 30, out, out, out)) for i in range(30))
    rows += steps.pack_repeat(30, steps.ENDLESS)
    board.upload_plan(steps.plan_block(rows, standing_s=14_000), "speed")
    board.run()
    board.clear_record()
    return board, clock


def measure() -> tuple[float, int]:
    """(times real time, bytes of record drained)."""
    board, clock = make_board()
    drained = 0
    began = time.process_time()
    for _ in range(int(SECONDS / POLL_S)):
        clock.wait(POLL_S)
        status = board.fetch()
        drained += sum(len(block) for block in board.drain())
    took_s = time.process_time() - began
    if status.state != "running":
        raise SystemExit(f"the board is {status.state} ({status.cause}), not running")
    return SECONDS / took_s, drained


def main() -> int:
    speed, drained = measure()
    verdict = "ok" if speed >= GOAL else "MISSED"
    print(
        f"virtual board, full loop: {speed:.0f} x real time (goal {GOAL:.0f}), "
        f"{drained / SECONDS:.0f} bytes/s of record: {verdict}"
    )
    return 0 if speed >= GOAL else 1


if __name__ == "__main__":
    sys.exit(main())
