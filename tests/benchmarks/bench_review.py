"""Ten hours of record reviewed: time and memory, live-sized and drive-sized chunks."""

from __future__ import annotations

import sys
import time
import tracemalloc
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from table import Limit, Table

from locum.review import Context, LineSpec, StatePattern, finish, joined, start, step
from locum.review.chunk import EDGE, SAMPLE, Chunk

VAN = Context(
    lines=(LineSpec(1, "clutch"), LineSpec(2, "brake", role="brake")),
    patterns=(
        StatePattern("locked", ((1, True),), held=True),
        StatePattern("unlocked", ((1, False),)),
    ),
    pull_up_ohm=1000.0,
)


def ten_hours(seed: int = 1) -> tuple[Chunk, int]:
    """Quiet rows once a second, a glitch a minute as 10 ms buckets, a brake pulse every five."""
    rng = np.random.default_rng(seed)
    rows, glitches = [], 0
    for second in range(36_000):
        base = 22_500 + int(1500 * np.sin(second / 900))
        quiet = (second * 1000, 1000, 1000, base - 40, base, base + 40, -1, -1, -1, 0)
        if second % 60 != 30:
            rows.append(quiet)
            continue
        glitches += 1
        rows.append((second * 1000, 300, 300, *quiet[3:]))
        for i in range(int(rng.integers(2, 40))):
            rows.append(
                (second * 1000 + 300 + 10 * i, 10, 10, 49_900, 49_950, 50_000, -1, -1, -1, 0)
            )
        begin = rows[-1][0] + 10
        rows.append((begin, second * 1000 + 1000 - begin, 100, *quiet[3:]))
    edges = [(0, 1, 1), (0, 2, 0)]
    for second in range(100, 36_000, 300):
        edges += [(second * 1000, 2, 1), (second * 1000 + 1800, 2, 0)]
    return (
        Chunk(0, 36_000_000, samples=np.array(rows, SAMPLE), edges=np.array(edges, EDGE)),
        glitches,
    )


def pieces(chunk: Chunk, length_ms: int):
    rest = chunk
    for at_ms in range(length_ms, chunk.end_ms, length_ms):
        head, rest = rest.split(at_ms)
        yield head
    yield rest


def reviewed(parts) -> tuple[float, int]:
    begun = time.process_time()
    state = start(VAN)
    found = [step(state, part)[1] for part in parts]
    whole = joined([*found, finish(state)])
    return time.process_time() - begun, len(whole.glitches)


def tables(boards: int = 0, full: bool = False) -> list[Table]:
    chunk, glitches = ten_hours()
    drive_s, found = reviewed(list(pieces(chunk, 600_000)))
    tracemalloc.start()
    state = start(VAN)
    marks = []
    for part in pieces(chunk, 600_000):
        step(state, part)
        marks.append(tracemalloc.get_traced_memory()[0])
    tracemalloc.stop()
    grows = (marks[-1] - marks[len(marks) // 2]) / 1e6
    live_s, live_found = reviewed(list(pieces(chunk.split(3_600_000)[0], 1000)))
    return [
        Table(
            "review of 10 h of record",
            ("cut into", "processor time", "glitches found"),
            [
                ("ten minutes", f"{drive_s:.2f} s", f"{found} of {glitches}"),
                ("seconds (1 h of it)", f"{live_s:.2f} s", str(live_found)),
            ],
            [
                Limit("10 h [s]", drive_s, 2.0),
                Limit("glitches missed", glitches - found, 0.01 * glitches),
                Limit("state growth over the second half [MB]", grows, 1.0),
                Limit("live, share of one core", live_s / 3600, 0.02),
            ],
        )
    ]


if __name__ == "__main__":
    failed = False
    for made in tables():
        print(made)
        failed |= not all(limit.kept for limit in made.limits)
    sys.exit(1 if failed else 0)
