"""The table of commands: name, what it does, its options, the job that does it.

Help, parser and manual page test all read this table.
"""

from __future__ import annotations

from locum.cli_casebook import CASEBOOK_COMMANDS
from locum.cli_options import (
    BOARD,
    BOARD_SHEET,
    CASEBOOK,
    FAST,
    LEAVE,
    MODULE,
    SEED,
    SENSOR,
    STAND_IN,
    TIME_COLUMN,
    VALUE_COLUMN,
    Command,
    Option,
    number,
    option,
    whole,
)  # fmt: skip
from locum.cli_road import ROAD_TESTS

VERBS = "locum.jobs.verbs"

BENCH: tuple[Command, ...] = (
    Command("demo", "play a whole case on the virtual board, from complaint to report", "locum.jobs.demo:demo", (
        option("--out", metavar="DIR", help="folder for casebook and report (without: locum-demo here)"),
        SEED,
        option("--innocent", action="store_true", help="the variant in which the sensor circuit is not guilty"),
    )),
    Command("listen", "record the circuit and the outputs without touching anything", f"{VERBS}:listen", STAND_IN),
    Command("hold", "be one value: 82C, 320ohm, or now", f"{VERBS}:hold", (
        option("value", metavar="VALUE", help="82C, 180F, 320ohm or now"), FAST, LEAVE, *STAND_IN)),
    Command("follow", "be the real sensor without its glitches", f"{VERBS}:follow", STAND_IN),
    Command("sweep", "go from one temperature to another and back", f"{VERBS}:sweep", (
        option("start", metavar="FROM", help="temperature to begin with"),
        option("end", metavar="TO", help="temperature to turn at"), FAST, LEAVE, *STAND_IN)),
    Command("replay", "play a profile or a recording", f"{VERBS}:replay", (
        option("profile", metavar="PROFILE", help="profile sheet, CSV or its name"), FAST, LEAVE,
        TIME_COLUMN, VALUE_COLUMN, *STAND_IN)),
    Command("open", "open the circuit for a while", f"{VERBS}:give_open", (
        option("--ms", type=whole, default=500, metavar="MS", help="length of the open"), *STAND_IN)),
    Command("short", "short the circuit for a while (reads as too hot)", f"{VERBS}:give_short", (
        option("--ms", type=whole, default=500, metavar="MS", help="length of the short"), *STAND_IN)),
    Command("glitch", "follow the real sensor and give the module glitches, blanks between", "locum.jobs.glitching:glitch", (
        option("--ms", type=whole, nargs="+", metavar="MS", help="lengths, drawn in random order (without: 300, or the profiles alone)"),
        option("--profile", nargs="+", metavar="NAME", help="captured glitches (`locum capture`), put onto the present value"),
        option("--count", type=whole, default=6, metavar="N", help="glitches of each kind, and as many blanks"),
        option("--every", type=number, default=20.0, metavar="S", help="seconds between them"),
        option("--towards", choices=("cold", "hot"), default="cold", help="open side or short side of --ms"),
        FAST,
        *STAND_IN)),
    Command("sensor", "fit, read, judge a sensor's curve", children=(
        Command("fit", "fit a curve to measured or printed points", "locum.jobs.sensors:fit", (
            option("points", metavar="POINTS.csv", help="CSV with celsius,ohms (or limits)"),
            option("--kind", choices=("auto", "ntc", "beta", "table", "platinum", "silicon"), default="auto", help="kind of curve (auto: what the points look like)"),
            option("--out", metavar="FILE", help="write a sensor sheet"))),
        Command("at", "turn temperatures into ohms and back, by a sheet", "locum.jobs.sensors:at", (
            option("sheet", metavar="SHEET", help="sensor sheet, or readings such as 20C=1.5k,82C=300"),
            option("--celsius", type=number, nargs="+", metavar="T", help="temperatures"),
            option("--ohms", type=number, nargs="+", metavar="R", help="resistances"))),
        Command("judge", "judge a sensor: readings of it against the published limits", "locum.jobs.sensor_judged:judge", (
            option("sheet", metavar="SHEET", help="sensor sheet, or a limits table (CSV)"),
            option("readings", nargs="+", metavar="T=OHM", help="readings such as 20C=2.48k 80C=310"),
            option("--meter-accuracy", type=number, default=0.8, metavar="PCT", help="the ohmmeter's accuracy of reading, percent"),
            option("--meter-digits", default="", metavar="OHM", help="what its last digits are worth"),
            option("--thermometer", type=number, default=1.0, metavar="K", help="the sensor may be so far from the thermometer's reading"),
            option("--tolerance", type=number, metavar="PCT", help="published tolerance, where the sheet has no limits"))),
        Command("budget", "show how well a set temperature is known, every contribution named", "locum.jobs.budgeting:budget", (
            option("sheet", metavar="SHEET", help="sensor sheet, or readings such as 20C=1.5k,82C=300"),
            option("--celsius", type=number, nargs="+", required=True, metavar="T", help="temperatures"),
            option("--serial", default="", metavar="SERIAL", help="board (without: the one calibrated last)"),
            MODULE, BOARD_SHEET, CASEBOOK)),
    )),
    Command("module", "measure the module's input", children=(
        Command("measure", "find pull-up and voltage from meter readings", "locum.jobs.modules:measure", (
            option("--open", dest="open_v", type=number, metavar="V", help="volts with the plug open"),
            option("--load", dest="loads", action="append", default=[], metavar="OHM:V", help="a resistor across the pins and the volts then"),
            option("--volt-error", type=number, default=0.01, metavar="V", help="half-width of the meter's voltage error"),
            option("--ohm-error", type=number, default=1.0, metavar="PCT", help="tolerance of the resistors in percent"),
            option("--expected-v", type=number, default=5.0, metavar="V", help="open voltage of a good module of this type"),
            option("--expected-ohm", type=number, metavar="OHM", help="its pull-up, if known: tells a leak from a weak reference"),
            option("--listen-only", action="store_true", help="accept a pull-up that is too high to stand in for"),
            option("--out", metavar="FILE", help="write a module sheet"))),
    )),
    Command("profile", "check and list temperature profiles", children=(
        Command("check", "show what a profile becomes on this board, and every objection to it", "locum.jobs.profiles:check", (
            option("profile", metavar="PROFILE", help="profile sheet, CSV or its name"),
            SENSOR, MODULE, BOARD_SHEET, FAST, TIME_COLUMN, VALUE_COLUMN,
            option("--resolution", type=number, default=0.05, metavar="K", help="a new step at this much movement, 0.001 to 10"))),
        Command("list", "list the profiles at hand", "locum.jobs.profiles:names", ()),
    )),
    Command("verdict", "compare two rates exactly", "locum.jobs.rates:compare", (
        option("--before", required=True, metavar="K/EXPOSURE", help="3/10h, or 3/10drives"),
        option("--after", required=True, metavar="K/EXPOSURE", help="0/10h, or 0/10drives"),
        option("--confidence", type=number, metavar="C", help="of limits and quiet time (without: the settings' own, 0.95)"))),
    Command("find", "look for boards", "locum.jobs.boards:find", (
        option("--drives", nargs="+", metavar="DIR", help="folders looked at for a board's start-up drive (without: where this system mounts)"),)),
    Command("firmware", "look at or renew the board's program", children=(
        Command("versions", "tell what this program carries, what boards run, and whether they fit", "locum.jobs.boards:firmware_versions", (
            option("port", nargs="?", metavar="PORT", help="port of the board (without: every one found)"),)),
        Command("put", "write the firmware to a board", "locum.jobs.boards:put_firmware", (
            option("port", nargs="?", metavar="PORT", help="port of the board (without: the one found)"),)),
    )),
    Command("checkup", "check that everything is as it should be on this computer", "locum.jobs.checkup:checkup", (
        BOARD, CASEBOOK, option("--bundle", metavar="FILE", help="pack checks and log, without identity"))),
    Command("settings", "show the workshop's settings, or write a file of them to edit", "locum.jobs.workshop_settings:show", (
        option("--write", action="store_true", help="write the commented file where there is none"),)),
    Command("calibrate", "let the board measure its own network", "locum.jobs.calibrating:calibrate", (
        BOARD, BOARD_SHEET, CASEBOOK, SEED,
        option("--meter", metavar="NAME", default="", help="hand meter used to verify"),
        option("--accuracy", type=number, default=0.5, metavar="PCT", help="that meter's accuracy of reading, percent"),
        option("--verify", action="append", default=[], metavar="OHM=READING", help="hand meter's reading of a set value"))),
    Command("design", "find parts that reach a wanted error", "locum.jobs.designing:design", (
        option("--sensor", required=True, metavar="S", help="sensor sheet or readings"),
        option("--from", dest="start", required=True, metavar="T", help="coldest temperature"),
        option("--to", dest="end", required=True, metavar="T", help="hottest temperature"),
        option("--pull-up", type=number, default=1000.0, metavar="OHM", help="module's pull-up"),
        option("--error", type=number, default=0.5, metavar="K", help="wanted worst error"))),
    Command("serve", "offer a board on a pseudo-terminal, for any client", "locum.jobs.serving:serve", (
        option("--body", choices=("virtual", "pi"), default="virtual", help="what the engine is plugged into"),
        option("--pty", required=True, metavar="LINK", help="path that becomes the link to the terminal"),
        option("--interpreter", choices=("python", "micropython"), default="python", help="what runs the engine"),
        SEED)),
    Command("trial", "see how often the verdict is right, on cases with a hidden culprit", "locum.jobs.trial:trial", (
        option("--scenario", metavar="FILE", help="scenario file (without: the open example)"),
        option("--cases", type=whole, default=200, metavar="N", help="total, drawn by the mix"),
        option("--workers", type=whole, metavar="N", help="processes (without: one per core)"), SEED)),
)  # fmt: skip
"""Standing in, and what is prepared and checked for it."""
COMMANDS: tuple[Command, ...] = (*BENCH, *CASEBOOK_COMMANDS, *ROAD_TESTS)

__all__ = ["COMMANDS", "Command", "Option"]
