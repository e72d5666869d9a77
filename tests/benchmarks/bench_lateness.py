"""How late steps are on an emulated RP2040 under load, and what the board itself says about it.

    LOCUM_EMULATED=FOLDER python tests/benchmarks/bench_lateness.py

FOLDER is what ``tests/firmware/emulated/build.py`` made; without it nothing is measured and that is
said. Twice the same plan of 20 ms steps with every wiper moving, node and ohmmeter sampled each
millisecond: once with a host that polls and drains 20 times a second, once with one that stops reading
for a second. Lateness is taken at the potentiometers' chip select, the least taken as zero, and
beside it by the board's own DIAGnostic:LATEness?. The emulator counts the core's cycles but knows no
cache misses: a real board is slower, and only tests/hardware can say by how much. Every instruction
is played: allow a quarter of an hour.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
sys.path[:0] = [str(HERE), str(ROOT / "firmware_micropython")]

from table import Limit, Table  # noqa: E402

from locum_board import steps  # noqa: E402
from locum_board.playing import LATE_EDGES_US  # noqa: E402

STEP_MS = 20
STEPS = 60
POLL_MS = 50
STALL_MS = 1000
ANSWER_MS = 3000
FIRMWARE = ROOT / "tests/firmware"


def load(name: str, path: Path) -> ModuleType:
    """A module by its file; the emulator's folder is no package."""
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


def booted(tools: Path):
    """A board that has started and rests."""
    emulated = load("emulated_pico", FIRMWARE / "emulated/pico.py")
    bench = load("emulated_bench", FIRMWARE / "bench.py")
    files = emulated.compiled(tools, ROOT / "firmware_micropython")
    board = emulated.EmulatedPico(tools, bench, files)
    board.watch("CS_POT10K")
    board.send(b"\n")
    board.run_ms(15000, lambda: board.bench.converter.conversions > 50)
    return board


def plan() -> bytes:
    rows = b"".join(
        steps.pack_step(STEP_MS, [90 + n % 8, 120 - n % 8, 30 + n % 5, 7 + n % 3])
        for n in range(STEPS)
    )
    return steps.plan_block(rows, flags=steps.RUN_ON_SILENCE)


def lateness_us(board, since_ms: float) -> list[float]:
    """Sorted; of each step's first word against the schedule."""
    gpio = board.pins["CS_POT10K"]
    lows = [t for t, g, level in board.edges if g == gpio and not level and t > since_ms]
    firsts = [t for before, t in zip([0.0, *lows], lows, strict=False) if t - before > STEP_MS / 2]
    offsets = [t - STEP_MS * n for n, t in enumerate(firsts)]
    return sorted(1000 * (offset - min(offsets)) for offset in offsets)


def poll(board) -> None:
    """Look and drain the record as the host does: the next time once all was answered."""
    began = board.now_ms
    del board.heard[:]
    board.send(b"FETC?\nTRAC:DATA? 40\n*IDN?\n")
    board.run_ms(ANSWER_MS, lambda: b"\nlocum," in board.heard)
    board.run_ms(max(0.0, began + POLL_MS - board.now_ms))


def quiet(board) -> None:
    """Until nothing more is heard: a stalled host's answers, a block in the middle of a row."""
    heard = -1
    while len(board.heard) != heard:
        heard = len(board.heard)
        board.run_ms(200)


def drive(board, stalled: bool) -> tuple[list[float], list[int]]:
    """Play the plan; lateness at the pin, and the board's own classes after its worst."""
    block = plan()
    board.run_ms(300)
    board.send(b"SENS:RES:RANG 1,1\nLIST:DATA #%d%d" % (len(str(len(block))), len(block)) + block)
    board.send(b"\n")
    board.run_ms(600)
    board.tell("*CLS")
    fault = board.tell("INIT")
    if not fault.startswith("0,"):
        raise RuntimeError(f"the board does not run the plan: {fault}")
    board.run_ms(STEP_MS * 1.5)
    since, left = board.now_ms, STEPS * STEP_MS - 100
    if stalled:
        board.send(b"FETC?;*IDN?;TRAC:DATA? 100\n" * 4)
        board.stop_reading()
        board.run_ms(STALL_MS)
        board.read_again()
        left -= STALL_MS
    until = board.now_ms + left
    while board.now_ms < until:
        poll(board)
    quiet(board)
    own = [int(part) for part in board.ask("DIAG:LAT?").split(",")]
    late = lateness_us(board, since)
    board.tell("OUTP OFF")
    return late, own


def table_of(title: str, late: list[float], own: list[int]) -> Table:
    edges = (0, *LATE_EDGES_US)
    names = [f"{a}..{b}" for a, b in zip(edges, edges[1:], strict=False)] + [f"> {edges[-1]}"]
    bins = [
        sum(a < x <= b or (a == 0 and x == 0) for x in late)
        for a, b in zip(edges, edges[1:], strict=False)
    ]
    bins.append(sum(x > edges[-1] for x in late))
    rows = [
        (name, str(at_pin), str(told))
        for name, at_pin, told in zip(names, bins, own[1:], strict=True)
    ]
    p99 = late[min(len(late) - 1, int(len(late) * 0.99))]
    return Table(
        title,
        ("late by [us]", "steps at the pin", "steps by the board"),
        rows,
        [
            Limit("p99 at the pin [us]", p99, 200.0),
            Limit("worst at the pin [us]", late[-1], 1000.0),
            Limit("worst by the board [us]", own[0], 1000.0),
        ],
        [f"{len(late)} steps at the pin, {sum(own[1:])} by the board"],
    )


def tables(boards: int = 0, full: bool = False) -> list[Table]:
    """Both hosts; without the emulator one table that says that nothing was measured."""
    build = load("emulated_build", FIRMWARE / "emulated/build.py")
    reason = build.missing(build.tools_folder())
    if reason:
        return [Table("Lateness of steps: not measured", ("why",), [(reason,)])]
    board = booted(build.tools_folder())
    return [
        table_of(f"Lateness of steps, the host {word}", *drive(board, stalled))
        for word, stalled in (("polls 20 times a second", False), ("stalls for a second", True))
    ]


def main() -> int:
    found = tables()
    for table in found:
        print(table, end="\n\n", flush=True)
    return 0 if all(limit.kept for table in found for limit in table.limits) else 1


if __name__ == "__main__":
    raise SystemExit(main())
