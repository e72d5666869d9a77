"""What a command and an option are, and the options that many commands share."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Option:
    flags: tuple[str, ...]
    settings: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Command:
    name: str
    summary: str
    job: str = ""
    """``module:function``; it takes the options by name and returns a result."""
    options: tuple[Option, ...] = ()
    children: tuple[Command, ...] = ()

    @property
    def all_options(self) -> tuple[Option, ...]:
        return (*self.options, SETTING, JSON)


def option(*flags: str, help: str, **settings: Any) -> Option:
    return Option(flags, {"help": help, **settings})


def number(text: str) -> float:
    """A finite number as typed, with point or comma."""
    value = float(text.replace(",", "."))
    if not math.isfinite(value):
        raise ValueError("no finite number")
    return value


def whole(text: str) -> int:
    """A whole number as typed, short enough to be one that somebody means."""
    value = int(text)
    if abs(value) > LARGEST_WHOLE:
        raise ValueError("beyond what is counted here")
    return value


LARGEST_WHOLE = 2**53
"""Up to here whole numbers and floats agree."""
SETTING = option(
    "--set", dest="settings", action="append", default=[], metavar="KEY=VALUE",
    help="a setting for this command alone (`locum settings` lists them)",
)  # fmt: skip
JSON = option("--json", action="store_true", help="print one JSON document on stdout")
CASEBOOK = option("--casebook", metavar="FILE", help="casebook to use instead of the workshop's")
CASE = option("--case", metavar="ID", help="case this belongs to (without: filed later)")
BOARD = option("--board", metavar="PORT", help="serial port, virtual or pi (default: look for one)")
SPEED = option("--speed", type=number, metavar="X", help="virtual board: times real time (0: as fast as it goes)")  # fmt: skip
SENSOR = option("--sensor", metavar="S", help="sensor sheet, or readings such as 20C=1.5k,82C=300")
MODULE = option("--module", metavar="M", help="module sheet (without: 1 kohm to 5 V is assumed)")
VEHICLE = option("--vehicle", metavar="V", help="vehicle sheet: what the watched lines mean")
MINUTES = option("--minutes", type=number, metavar="M", help="how long")
SEED = option("--seed", type=whole, default=1, metavar="N", help="another number, another case")
FAST = option("--fast", action="store_true", help="allow more than 0.3 K/s (parked only)")
LEAVE = option(
    "--leave",
    action="store_true",
    help="let it run on by itself: the laptop may be shut (fetch later)",
)
BOARD_SHEET = option(
    "--board-sheet", metavar="B", help="board sheet (without: the reference board)"
)
TIME_COLUMN = option("--time-column", default="", metavar="NAME", help="column of a CSV that is the time")  # fmt: skip
VALUE_COLUMN = option("--value-column", default="", metavar="NAME", help="column of a CSV that is the value")  # fmt: skip
AUTHOR = option("--author", default="", metavar="NAME", help="who says so (without: the technician of the settings)")  # fmt: skip
STAND_IN = (SENSOR, MODULE, VEHICLE, CASE, CASEBOOK, BOARD, BOARD_SHEET, SPEED, SEED, MINUTES)
SHARED = (CASE, CASEBOOK, BOARD, BOARD_SHEET, SPEED, SEED, SETTING, JSON)
"""Options of many commands that mean the same in each; help pages list them last."""
