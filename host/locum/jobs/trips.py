"""Why a board went to the real sensor by itself, in plain words."""

from __future__ import annotations

from locum.errors import Remark

TRIP_WORDS = {
    "standing": ("the longest time away from the real sensor was over", "start again"),
    "hot": ("the real sensor is hotter than allowed", "let it cool before standing in again"),
    "line": ("the module's line left its range", "look for a short to supply"),
    "self_check": ("the line was not where the plan says, three times", "check pull-up and wiring"),
    "supply": ("the board's supply fell", "use another USB port or a power bank"),
    "silence": ("the computer was silent", "keep it awake; the real sensor is connected"),
    "watchdog": ("the board's program hung", "run `locum checkup`"),
    "switch": ("the rest switch was moved", "move it back to stand in again"),
    "blind": ("the real sensor could not be read for a minute", "mend it, or hold a value instead"),
    "plan_late": ("the next part of the plan came too late", "start again with a shorter plan"),
}


def trip_remark(cause: str) -> Remark:
    found, remedy = TRIP_WORDS.get(
        cause, (f"a fault of the board ({cause})", "run `locum checkup`")
    )
    return Remark("tripped", "board", "the stand-in", f"the real sensor: {found}", remedy)
