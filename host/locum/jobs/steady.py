"""Before and during a test on the road: the held state, and the driver's foot."""

from __future__ import annotations

import sys

from locum.errors import Remark
from locum.jobs.errand import Errand
from locum.jobs.live import Live
from locum.jobs.provoking import HELD_S, held_for_s


def steady(job: Errand, wait_s: float = 900.0) -> bool:
    """Wait until the module holds its state, then ask for a still foot; whether it came to hold."""
    held = job.wait(wait_s, lambda live: held_for_s(live) >= HELD_S)
    ask_foot(job.live, still=True)
    if not held:
        job.result.warnings.append(
            Remark("not_held", "module", "the held state on the real sensor before the test",
                   f"not within {wait_s / 60:.0f} min", "drive steadily and warm")
        )  # fmt: skip
    return held


def ask_foot(live: Live, still: bool) -> None:
    """Tell the driver how to drive; the virtual driver hears it too."""
    print("Foot still: steady road, no brake." if still else "Drive as usual.", file=sys.stderr)
    if live.connection.virtual:
        live.connection.body.world.tell("foot_still", on=still)


def touched(live: Live) -> int:
    """How often foot and brake have moved so far."""
    return len(live.findings.brake) + len(live.findings.throttle)
