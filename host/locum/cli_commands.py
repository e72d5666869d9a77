"""The table of commands: name, what it does, its options, the job that does it.

Help, parser, manual page test and the palette of the screens all read this table.
"""

from __future__ import annotations

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
        return (*self.options, JSON)


def option(*flags: str, help: str, **settings: Any) -> Option:
    return Option(flags, {"help": help, **settings})


JSON = option("--json", action="store_true", help="print one JSON document on stdout")
CASEBOOK = option("--casebook", metavar="FILE", help="casebook to use instead of the workshop's")
CASE = option("--case", metavar="ID", help="case this belongs to (without: filed later)")
BOARD = option("--board", metavar="PORT", help="serial port, virtual or pi (default: look for one)")
SPEED = option("--speed", type=float, metavar="X", help="virtual board: times real time (0: as fast as it goes)")  # fmt: skip
SENSOR = option("--sensor", metavar="S", help="sensor sheet, or readings such as 20C=1.5k,82C=300")
MODULE = option("--module", metavar="M", help="module sheet (without: 1 kohm to 5 V is assumed)")
VEHICLE = option("--vehicle", metavar="V", help="vehicle sheet: what the watched lines mean")
MINUTES = option("--minutes", type=float, metavar="M", help="how long")
SEED = option("--seed", type=int, default=1, metavar="N", help="another number, another case")
FAST = option("--fast", action="store_true", help="allow more than 0.3 K/s (parked only)")
BOARD_SHEET = option(
    "--board-sheet", metavar="B", help="board sheet (without: the reference board)"
)
TIME_COLUMN = option("--time-column", default="", metavar="NAME", help="column of a CSV that is the time")  # fmt: skip
VALUE_COLUMN = option("--value-column", default="", metavar="NAME", help="column of a CSV that is the value")  # fmt: skip
AUTHOR = option("--author", default="", metavar="NAME", help="who says so (without: the technician of the settings)")  # fmt: skip
STAND_IN = (SENSOR, MODULE, VEHICLE, CASE, CASEBOOK, BOARD, BOARD_SHEET, SPEED, SEED, MINUTES)
VERBS = "locum.jobs.verbs"

COMMANDS: tuple[Command, ...] = (
    Command("demo", "play a whole case on the virtual board, from complaint to report", "locum.jobs.demo:demo", (
        option("--out", metavar="DIR", help="folder for casebook and report (without: locum-demo here)"),
        SEED,
        option("--innocent", action="store_true", help="the variant in which the sensor circuit is not guilty"),
    )),
    Command("listen", "record the circuit and the outputs without touching anything", f"{VERBS}:listen", STAND_IN),
    Command("hold", "be one value: 82C, 320ohm, or now", f"{VERBS}:hold", (
        option("value", metavar="VALUE", help="82C, 180F, 320ohm or now"), FAST, *STAND_IN)),
    Command("follow", "be the real sensor without its glitches", f"{VERBS}:follow", STAND_IN),
    Command("sweep", "go from one temperature to another and back", f"{VERBS}:sweep", (
        option("start", metavar="FROM", help="temperature to begin with"),
        option("end", metavar="TO", help="temperature to turn at"), FAST, *STAND_IN)),
    Command("replay", "play a profile or a recording", f"{VERBS}:replay", (
        option("profile", metavar="PROFILE", help="profile sheet, CSV or its name"), FAST,
        TIME_COLUMN, VALUE_COLUMN, *STAND_IN)),
    Command("open", "open the circuit for a while", f"{VERBS}:give_open", (
        option("--ms", type=int, default=500, metavar="MS", help="length of the open"), *STAND_IN)),
    Command("short", "short the circuit for a while (reads as too hot)", f"{VERBS}:give_short", (
        option("--ms", type=int, default=500, metavar="MS", help="length of the short"), *STAND_IN)),
    Command("glitch", "follow the real sensor and give the module glitches, blanks between", f"{VERBS}:glitch", (
        option("--ms", type=int, nargs="+", default=[300], metavar="MS", help="lengths, drawn in random order"),
        option("--count", type=int, default=6, metavar="N", help="glitches of each length, and as many blanks"),
        option("--every", type=float, default=20.0, metavar="S", help="seconds between them"),
        option("--towards", choices=("cold", "hot"), default="cold", help="open side or short side"),
        *STAND_IN)),
    Command("sensor", "sensor curves", children=(
        Command("fit", "fit a curve to measured or printed points", "locum.jobs.sensors:fit", (
            option("points", metavar="POINTS.csv", help="CSV with celsius,ohms (or limits)"),
            option("--kind", choices=("auto", "ntc", "beta", "table", "platinum", "silicon"), default="auto", help="kind of curve (auto: what the points look like)"),
            option("--out", metavar="FILE", help="write a sensor sheet"))),
        Command("at", "temperature to ohms and back on a sheet", "locum.jobs.sensors:at", (
            option("sheet", metavar="SHEET", help="sensor sheet, or readings such as 20C=1.5k,82C=300"),
            option("--celsius", type=float, nargs="+", metavar="T", help="temperatures"),
            option("--ohms", type=float, nargs="+", metavar="R", help="resistances"))),
    )),
    Command("module", "the module's input", children=(
        Command("measure", "pull-up and voltage from meter readings", "locum.jobs.modules:measure", (
            option("--open", dest="open_v", type=float, metavar="V", help="volts with the plug open"),
            option("--load", dest="loads", action="append", default=[], metavar="OHM:V", help="a resistor across the pins and the volts then"),
            option("--volt-error", type=float, default=0.01, metavar="V", help="half-width of the meter's voltage error"),
            option("--ohm-error", type=float, default=1.0, metavar="PCT", help="tolerance of the resistors in percent"),
            option("--listen-only", action="store_true", help="accept a pull-up that is too high to stand in for"),
            option("--out", metavar="FILE", help="write a module sheet"))),
    )),
    Command("profile", "profiles", children=(
        Command("check", "what a profile becomes on this board, and every objection to it", "locum.jobs.profiles:check", (
            option("profile", metavar="PROFILE", help="profile sheet, CSV or its name"),
            SENSOR, MODULE, BOARD_SHEET, FAST, TIME_COLUMN, VALUE_COLUMN,
            option("--resolution", type=float, default=0.05, metavar="K", help="a new step at this much movement"))),
        Command("list", "the profiles at hand", "locum.jobs.profiles:names", ()),
    )),
    Command("verdict", "exact comparison of two rates", "locum.jobs.rates:compare", (
        option("--before", required=True, metavar="K/EXPOSURE", help="3/10h, or 3/10drives"),
        option("--after", required=True, metavar="K/EXPOSURE", help="0/10h, or 0/10drives"),
        option("--confidence", type=float, default=0.95, metavar="C", help="of limits and quiet time"))),
    Command("find", "look for boards", "locum.jobs.boards:find", ()),
    Command("firmware", "the board's program", children=(
        Command("put", "write the firmware to a board", "locum.jobs.boards:put_firmware", (
            option("port", nargs="?", metavar="PORT", help="port of the board (without: the one found)"),)),
    )),
    Command("checkup", "is everything as it should be on this computer", "locum.jobs.checkup:checkup", (
        BOARD, CASEBOOK, option("--bundle", metavar="FILE", help="pack checks and log, without identity"))),
    Command("calibrate", "let the board measure its own network", "locum.jobs.calibrating:calibrate", (
        BOARD, BOARD_SHEET, CASEBOOK, SEED,
        option("--meter", metavar="NAME", default="", help="hand meter used to verify"),
        option("--accuracy", type=float, default=0.5, metavar="PCT", help="that meter's accuracy of reading, percent"),
        option("--verify", action="append", default=[], metavar="OHM=READING", help="hand meter's reading of a set value"))),
    Command("design", "which parts reach a wanted error", "locum.jobs.designing:design", (
        option("--sensor", required=True, metavar="S", help="sensor sheet or readings"),
        option("--from", dest="start", required=True, metavar="T", help="coldest temperature"),
        option("--to", dest="end", required=True, metavar="T", help="hottest temperature"),
        option("--pull-up", type=float, default=1000.0, metavar="OHM", help="module's pull-up"),
        option("--error", type=float, default=0.5, metavar="K", help="wanted worst error"))),
    Command("serve", "offer a board on a pseudo-terminal, for any client", "locum.jobs.serving:serve", (
        option("--body", choices=("virtual", "pi"), default="virtual", help="what the engine is plugged into"),
        option("--pty", required=True, metavar="LINK", help="path that becomes the link to the terminal"),
        option("--interpreter", choices=("python", "micropython"), default="python", help="what runs the engine"),
        SEED)),
    Command("trial", "how often the verdict is right, on cases with a hidden culprit", "locum.jobs.trial:trial", (
        option("--scenario", metavar="FILE", help="scenario file (without: the open example)"),
        option("--cases", type=int, default=200, metavar="N", help="total, drawn by the mix"),
        option("--workers", type=int, metavar="N", help="processes (without: one per core)"), SEED)),
    Command("case", "the casebook", children=(
        Command("new", "open a case", "locum.jobs.cases:new", (
            option("title", metavar="TITLE", help="a few words"),
            option("--complaint", default="", metavar="WORDS", help="in the customer's words"),
            option("--vehicle", metavar="V", help="vehicle sheet"),
            SENSOR, MODULE, CASEBOOK)),
        Command("list", "all cases", "locum.jobs.cases:listing", (CASEBOOK,)),
        Command("find", "search cases by words, by signature, or both", "locum.jobs.cases:find", (
            option("words", nargs="*", metavar="WORDS", help="symptom, vehicle, part, cause"),
            option("--family", default="", metavar="F", help="vehicle family"),
            option("--component", default="", metavar="C", help="suspected part"),
            option("--cause", default="", metavar="C", help="cause found"),
            option("--towards", choices=("cold", "hot"), help="direction of the glitches"),
            option("--length", type=float, nargs="+", metavar="MS", help="length of the glitches, one number or shortest and longest"),
            option("--threshold", type=float, nargs="+", metavar="T", help="change point of the module in degC, one number or lowest and highest"),
            option("--after", type=float, nargs="+", metavar="MIN", help="minutes after start from which it shows"), CASEBOOK)),
        Command("show", "one case", "locum.jobs.cases:show", (option("id", metavar="ID", help="case"), CASEBOOK)),
        Command("weigh", "the verdict as it stands", "locum.jobs.cases:weigh", (
            option("id", metavar="ID", help="case"), CASEBOOK)),
        Command("note", "add a finding or a note", "locum.jobs.cases:note", (
            option("id", metavar="ID", help="case"), option("words", nargs="+", metavar="WORDS", help="what was seen or done"),
            option("--kind", choices=("note", "defect", "repair", "hand_back"), default="note", help="what it is"),
            AUTHOR, CASEBOOK)),
        Command("set", "set fields of a case: vehicle, tap and pins, rule, readings", "locum.jobs.case_fields:put", (
            option("id", metavar="ID", help="case"),
            option("fields", nargs="+", metavar="FIELD=VALUE", help="such as tap.pins.sensor=14 or module_readings.open=5.02V; nothing after = takes one back"), AUTHOR, CASEBOOK)),
        Command("attach", "file a recording made without a case", "locum.jobs.cases:attach", (
            option("id", metavar="ID", help="case"), option("drive", metavar="DRIVE", help="recording"), CASEBOOK)),
        Command("enclose", "keep photos, scans or other files with a case", "locum.jobs.cases:enclose", (
            option("id", metavar="ID", help="case"), option("files", nargs="+", metavar="FILE", help="what to keep"),
            option("--drive", metavar="DRIVE", help="recording it belongs to"),
            option("--note", default="", metavar="WORDS", help="what it shows"), AUTHOR, CASEBOOK)),
        Command("similar", "what cases like this one turned out to be", "locum.jobs.likeness:similar", (
            option("id", metavar="ID", help="case"),
            option("--family", action="store_true", help="only the same vehicle family"), CASEBOOK)),
        Command("signature", "note direction and lengths of the glitches, to be found by", "locum.jobs.likeness:signature", (
            option("id", metavar="ID", help="case"), CASEBOOK)),
        Command("hand-back", "show the hand-back list, or tick a line of it", "locum.jobs.handover:hand_back", (
            option("id", metavar="ID", help="case"),
            option("item", nargs="?", metavar="ITEM", help="device_removed, codes_cleared, relearn_done, customer_told or follow_up_set"),
            option("--undo", action="store_true", help="take the tick back"),
            option("--note", default="", metavar="WORDS", help="of follow_up_set: the date agreed"), AUTHOR, CASEBOOK)),
        Command("follow-up", "add what the customer told on a call", "locum.jobs.handover:follow_up", (
            option("id", metavar="ID", help="case"),
            option("--hours", type=float, required=True, metavar="H", help="hours driven that meet the case's rule"),
            option("--kick-outs", type=int, required=True, metavar="N", help="how often the fault was felt in them"),
            option("--not-counted", action="store_true", help="the rule was not met, or nobody would have noticed"),
            option("--note", default="", metavar="WORDS", help="what else was told"), AUTHOR, CASEBOOK)),
        Command("identity", "who the vehicle belongs to, kept apart", children=(
            Command("show", "print it", "locum.jobs.handover:identity_show", (option("id", metavar="ID", help="case"), CASEBOOK)),
            Command("set", "keep it", "locum.jobs.handover:identity_set", (
                option("id", metavar="ID", help="case"),
                option("fields", nargs="+", metavar="FIELD=VALUE", help="owner, name, plate, vin, phone, email, address; nothing after = takes one back"), CASEBOOK)),
            Command("erase", "take it out for good; the technical case stays", "locum.jobs.handover:identity_erase", (
                option("id", metavar="ID", help="case"), AUTHOR, CASEBOOK)),
        )),
        Command("close", "close a case", "locum.jobs.handover:close", (
            option("id", metavar="ID", help="case"), option("--why", default="", metavar="WORDS", help="how it ended"), AUTHOR, CASEBOOK)),
        Command("reopen", "open a case again", "locum.jobs.handover:reopen", (
            option("id", metavar="ID", help="case"), option("--why", default="", metavar="WORDS", help="what came back"),
            option("--see", default="", metavar="ID", help="another case it belongs to"), AUTHOR, CASEBOOK)),
        Command("report", "write the page", "locum.jobs.cases:report", (
            option("id", metavar="ID", help="case"), option("--out", metavar="FILE", help="where to"),
            option("--for", dest="reader", choices=("workshop", "customer"), default="workshop", help="whom the page is for"), CASEBOOK)),
        Command("export", "a folder of plain files", "locum.jobs.cases:export", (
            option("id", metavar="ID", help="case"), option("--out", required=True, metavar="DIR", help="folder or .zip"),
            option("--identity", action="store_true", help="include the owner's data"), CASEBOOK)),
        Command("import", "read an exported case", "locum.jobs.cases:import_", (
            option("source", metavar="DIR", help="exported folder or .zip"), CASEBOOK)),
        Command("check", "is the casebook whole", "locum.jobs.casebook_care:check", (CASEBOOK,)),
        Command("rescue", "save what can be read of a damaged casebook", "locum.jobs.casebook_care:rescue", (
            option("damaged", metavar="FILE", help="the damaged casebook; it is not changed"),
            option("--out", required=True, metavar="FILE", help="new casebook to write"))),
        Command("merge", "bring in everything of another casebook", "locum.jobs.casebook_care:merge", (
            option("other", metavar="FILE", help="the other casebook; it is only read"),
            option("--identity", action="store_true", help="also the owners' data"), CASEBOOK)),
        Command("backup", "copy the casebook safely", "locum.jobs.casebook_care:backup", (
            option("--out", required=True, metavar="FILE", help="where to"), CASEBOOK)),
    )),
    Command("drive", "recordings", children=(
        Command("list", "all recordings", "locum.jobs.drives:listing", (CASE, CASEBOOK)),
        Command("show", "one recording", "locum.jobs.drives:show", (
            option("id", metavar="DRIVE", help="recording"), CASEBOOK)),
        Command("review", "review it again with this version", "locum.jobs.drives:review", (
            option("id", metavar="DRIVE", help="recording"), CASEBOOK)),
        Command("log", "lay another logger's CSV beside a recording", "locum.jobs.drive_logs:log", (
            option("drive", metavar="DRIVE", help="recording"), option("file", metavar="FILE.csv", help="its time, and a speed or throttle"),
            option("--offset", type=float, metavar="S", help="our time at the log's first row (without: found where both saw the same)"),
            option("--ours", choices=("throttle", "brake"), help="what of ours to compare (without: whatever matches best)"),
            option("--theirs", metavar="NAME", help="column of theirs that follows the same"),
            TIME_COLUMN,
            option("--unit", dest="units", action="append", default=[], metavar="COLUMN=UNIT", help="where the file does not tell it"),
            option("--lets-go-below", type=float, metavar="KMH", help="speed below which the module lets go by design"), AUTHOR, CASEBOOK)),
        Command("export", "as CSV with a description of every column", "locum.jobs.drives:export", (
            option("id", metavar="DRIVE", help="recording"),
            option("--out", required=True, metavar="DIR", help="folder to make"), CASEBOOK)),
    )),
)  # fmt: skip

ROAD_TESTS: tuple[Command, ...] = (
    Command("swap", "unseen swap test: following and the real sensor in stretches drawn by lot", "locum.jobs.swapping:swap_test", (
        option("--stretches", type=int, metavar="N", help="how many, 4 or a multiple (without: planned by the rate)"),
        option("--rate", type=float, metavar="PER_H", help="glitches long enough in an exposed hour (without: the case's own)"),
        option("--chance", type=float, default=0.9, metavar="P", help="wanted chance that the drive settles it"),
        *STAND_IN)),
    Command("threshold", "at what temperature the module changes its mind, both ways", "locum.jobs.thresholds:threshold", (
        option("--from", dest="start", required=True, metavar="T", help="one end, with one state"),
        option("--to", dest="end", required=True, metavar="T", help="other end, with another state"),
        option("--resolution", type=float, default=0.5, metavar="K", help="halve until this narrow"),
        option("--dwell", type=float, default=10.0, metavar="S", help="seconds the module is given to answer"),
        option("--rate", type=float, metavar="K/S", help="how fast to move, at most 0.3"),
        *STAND_IN[:-1])),
    Command("shortest", "the shortest glitch that the module answers", "locum.jobs.shortest:shortest", (
        option("--longest", type=int, default=2000, metavar="MS", help="longest length to try"),
        option("--towards", choices=("cold", "hot"), default="cold", help="open side or short side"),
        option("--ratio", type=float, default=1.25, metavar="X", help="stop when the bracket is this narrow"),
        *STAND_IN[:-1])),
    Command("capture", "make a recorded glitch of the real sensor a profile to replay", "locum.jobs.capturing:capture", (
        option("drive", metavar="DRIVE", help="recording"),
        option("--number", type=int, metavar="N", help="which of its glitches (without: the longest)"),
        option("--out", metavar="FILE.csv", help="where to"), CASEBOOK)),
    Command("learn", "sheets from a recording", children=(
        Command("sensor", "this sensor's own curve from a warm-up and thermometer readings", "locum.jobs.learning:learn_sensor", (
            option("drive", metavar="DRIVE", help="recording of the warm-up"),
            option("--at", action="append", required=True, metavar="S=T", help="reading: seconds=temperature, several between commas"),
            option("--prior", metavar="S", help="published sheet of this kind of sensor"),
            option("--u", type=float, default=1.0, metavar="K", help="standard uncertainty of the thermometer at the sensor"),
            option("--u-time", type=float, default=5.0, metavar="S", help="standard uncertainty of each moment"),
            option("--lag", type=float, default=0.0, metavar="S", help="how far the sensor lags behind the thermometer"),
            option("--out", metavar="FILE", help="write a sensor sheet"), CASEBOOK)),
        Command("lines", "which pattern of the lines is which state", "locum.jobs.learning:learn_lines", (
            option("drive", metavar="DRIVE", help="recording"),
            option("--state", action="append", required=True, metavar="NAME@FROM-TO", help="when a state stood, in seconds"),
            option("--top", action="append", metavar="NAME", help="state whose loss counts (without: the first)"),
            option("--line", action="append", metavar="N=NAME", help="output on input N; N=NAME:low where low means on"),
            option("--out", metavar="FILE", help="write a vehicle sheet"), CASEBOOK)),
    )),
    Command("quiet", "the quiet drive after a repair", children=(
        Command("rule", "stamp the rule that ends it, before the repair", "locum.jobs.criteria:rule", (
            option("id", metavar="ID", help="case"),
            option("rule", choices=("exact", "sequential"), help="exact time, or a sequential test"),
            option("--confidence", type=float, default=0.95, metavar="C", help="of the rule"),
            option("--bad", type=float, metavar="PER_H", help="bad rate of the sequential test (without: lower limit of the rate before)"),
            option("--good", type=float, metavar="PER_H", help="good rate of it (without: a tenth of the bad one)"), AUTHOR, CASEBOOK)),
        Command("left", "minutes still to drive by the stamped rule", "locum.jobs.criteria:left", (
            option("id", metavar="ID", help="case"), CASEBOOK)),
    )),
)  # fmt: skip
"""Tests made on the road, and what is learnt and stamped between them."""
COMMANDS = (*COMMANDS, *ROAD_TESTS)
