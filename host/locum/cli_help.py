"""Help pages: what order the commands are listed in, how a page is laid out, an example for each.

Examples are part of the table of commands in spirit: a test parses every one of them.
"""

from __future__ import annotations

import argparse
import textwrap
from collections.abc import Iterable

HEADINGS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Be the sensor", ("listen", "hold", "follow", "sweep", "replay", "open", "short", "glitch")),
    ("Tests on the road", ("swap", "threshold", "shortest", "capture", "learn", "quiet")),
    ("Casebook and verdict", ("case", "drive", "verdict")),
    ("Sheets and parts", ("sensor", "module", "profile", "design")),
    ("The board", ("find", "firmware", "calibrate", "checkup", "serve")),
    ("To try and to set up", ("demo", "trial", "settings")),
)
"""Every command once, in the order of the front page."""
ABOUT = """\
Stands in for a vehicle's 2-wire temperature sensor, watches what the control
module does about it, and weighs what that proves. `locum` alone in a terminal
opens the screens; `locum --plain` is the same job line by line."""
FRONT_EXAMPLES = (
    "demo --out demo",
    "listen --minutes 30 --case parcel",
    "hold 82C --sensor 20C=2.5k,80C=320 --minutes 10",
)
EXIT_CODES = """\
exit codes: 0 done, 1 refused, 2 not understood, 3 no board or no file,
            4 the board went to the real sensor by itself"""

EXAMPLES: dict[str, tuple[str, ...]] = {
    "demo": ("demo --out demo", "demo --innocent --seed 7"),
    "listen": ("listen --minutes 30 --vehicle parcel_van --case parcel",),
    "hold": ("hold 82C --minutes 10", "hold now --sensor 20C=2.5k,80C=320", "hold -10C --fast"),
    "follow": ("follow --minutes 20 --case parcel",),
    "sweep": ("sweep 60C 95C --minutes 10",),
    "replay": ("replay warm_hold", "replay drive.csv --time-column t --value-column coolant_c"),
    "open": ("open --ms 500",),
    "short": ("short --ms 300",),
    "glitch": ("glitch --ms 50 200 800 --count 6 --every 20",),
    "sensor fit": ("sensor fit points.csv --out my_sensor.toml",),
    "sensor at": ("sensor at coolant_2k5 --celsius -40 20 90", "sensor at 20C=1.5k --ohms 500"),
    "sensor judge": ("sensor judge limits.csv 20C=2.48k 80C=310",),
    "sensor budget": ("sensor budget coolant_2k5 --celsius 20 80 --module parcel_van_engine",),
    "module measure": ("module measure --open 5.02 --load 1k:2.51 --load 220:0.91",),
    "profile check": ("profile check warm_hold --sensor coolant_2k5",),
    "profile list": ("profile list",),
    "verdict": ("verdict --before 3/10h --after 0/10h",),
    "find": ("find",),
    "firmware versions": ("firmware versions",),
    "firmware put": ("firmware put",),
    "checkup": ("checkup", "checkup --bundle for_support.zip"),
    "settings": ("settings", "settings --write"),
    "calibrate": ("calibrate", "calibrate --meter bench --accuracy 0.05 --verify 1000=1000.4"),
    "design": ("design --sensor coolant_2k5 --from -20C --to 120C --error 0.5",),
    "serve": ("serve --pty board.link",),
    "trial": ("trial --cases 200 --seed 3",),
    "case new": ('case new "Clutch lets go in rain" --vehicle parcel_van',),
    "case list": ("case list",),
    "case find": ("case find clutch rain --towards cold",),
    "case show": ("case show parcel",),
    "case weigh": ("case weigh parcel",),
    "case note": ('case note parcel "green crust in the plug" --kind defect',),
    "case set": ("case set parcel tap.pins.sensor=14 module_readings.open=5.02V",),
    "case attach": ("case attach parcel 01M89X",),
    "case enclose": ('case enclose parcel plug.jpg --note "the plug, opened"',),
    "case similar": ("case similar parcel --family",),
    "case signature": ("case signature parcel",),
    "case hand-back": ("case hand-back parcel", "case hand-back parcel codes_cleared"),
    "case follow-up": ("case follow-up parcel --hours 6 --kick-outs 0",),
    "case identity show": ("case identity show parcel",),
    "case identity set": ('case identity set parcel owner="A. Person" plate=AB123',),
    "case identity erase": ("case identity erase parcel",),
    "case close": ('case close parcel --why "plug renewed, quiet for 12 h"',),
    "case reopen": ('case reopen parcel --why "again in rain"',),
    "case report": ("case report parcel --out parcel.html", "case report parcel --for customer"),
    "case export": ("case export parcel --out parcel.zip",),
    "case import": ("case import parcel.zip",),
    "case check": ("case check",),
    "case rescue": ("case rescue damaged.sqlite --out rescued.sqlite",),
    "case merge": ("case merge van_laptop.sqlite",),
    "case backup": ("case backup --out backup.sqlite",),
    "drive list": ("drive list --case parcel",),
    "drive show": ("drive show 01M89X",),
    "drive fetch": ("drive fetch",),
    "drive review": ("drive review 01M89X",),
    "drive log": ("drive log 01M89X logger.csv --unit speed=km/h",),
    "drive export": ("drive export 01M89X --out tables",),
    "swap": ("swap --case parcel --stretches 8 --minutes 40",),
    "threshold": ("threshold --from 60C --to 90C --vehicle parcel_van",),
    "shortest": ("shortest --longest 1000 --vehicle parcel_van",),
    "capture": ("capture 01M89X --out glitch.csv",),
    "learn sensor": ("learn sensor 01M89X --at 0=18,600=61,1500=88 --out learnt.toml",),
    "learn lines": ("learn lines 01M89X --state locked@60-300 --state free@10-40",),
    "quiet rule": ("quiet rule parcel exact",),
    "quiet left": ("quiet left parcel",),
}  # fmt: skip
"""Words of a command -> what may follow `locum`."""


class Page(argparse.RawDescriptionHelpFormatter):
    """Help whose names have a column wide enough not to be broken off from what they mean."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=26)

    def add_argument(self, action: argparse.Action) -> None:
        super().add_argument(action)
        if isinstance(action, argparse._SubParsersAction):
            self._action_max_length += 2  # their names are indented once more than argparse counts


def sentence(summary: str) -> str:
    """A command's summary as the first line of its own page."""
    return textwrap.fill(f"{summary[:1].upper()}{summary[1:]}.", 78)


def examples(lines: Iterable[str]) -> str:
    lines = tuple(lines)
    head = "example:" if len(lines) == 1 else "examples:"
    return "\n".join([head, *(f"  locum {line}" for line in lines)])


def front_page(summaries: dict[str, str]) -> str:
    """The listing of all commands under their headings, between description and options."""
    blocks = []
    for heading, names in HEADINGS:
        rows = []
        for name in names:
            meaning = textwrap.wrap(summaries[name], 64)
            rows += [f"  {name if not n else '':<11} {line}" for n, line in enumerate(meaning)]
        blocks.append("\n".join([f"{heading}:", *rows]))
    return "\n\n".join([ABOUT, *blocks])


def front_end() -> str:
    return "\n\n".join(
        ["`locum COMMAND --help` tells more of each.", examples(FRONT_EXAMPLES), EXIT_CODES]
    )
