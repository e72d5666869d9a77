"""Commands of the tests made on the road, and of what is learnt and stamped between them."""

from __future__ import annotations

from locum.cli_options import AUTHOR, CASEBOOK, STAND_IN, Command, number, option, whole

ROAD_TESTS: tuple[Command, ...] = (
    Command("swap", "run the unseen swap test: following and the real sensor, drawn by lot", "locum.jobs.swapping:swap_test", (
        option("--stretches", type=whole, metavar="N", help="how many, 4 or a multiple (without: planned by the rate)"),
        option("--rate", type=number, metavar="PER_H", help="glitches long enough in an exposed hour (without: the case's own)"),
        option("--chance", type=number, default=0.9, metavar="P", help="wanted chance that the drive settles it"),
        option("--replay", type=whole, default=2, metavar="N", help="glitches given in each stretch that follows, at moments drawn (0: none)"),
        *STAND_IN)),
    Command("threshold", "find at what temperature the module changes its mind, both ways", "locum.jobs.thresholds:threshold", (
        option("--from", dest="start", required=True, metavar="T", help="one end, with one state"),
        option("--to", dest="end", required=True, metavar="T", help="other end, with another state"),
        option("--resolution", type=number, default=0.5, metavar="K", help="halve until this narrow"),
        option("--dwell", type=number, default=10.0, metavar="S", help="seconds the module is given to answer"),
        option("--rate", type=number, metavar="K/S", help="how fast to move, at most 0.3"),
        *STAND_IN[:-1])),
    Command("shortest", "find the shortest glitch that the module answers", "locum.jobs.shortest:shortest", (
        option("--longest", type=whole, default=2000, metavar="MS", help="longest length to try"),
        option("--towards", choices=("cold", "hot"), default="cold", help="open side or short side"),
        option("--ratio", type=number, default=1.25, metavar="X", help="stop when the bracket is this narrow"),
        *STAND_IN[:-1])),
    Command("capture", "make a profile of a recorded glitch, to replay it", "locum.jobs.capturing:capture", (
        option("drive", metavar="DRIVE", help="recording"),
        option("--number", type=whole, metavar="N", help="which of its glitches (without: the longest)"),
        option("--out", metavar="FILE.csv", help="where to"), CASEBOOK)),
    Command("learn", "make sheets from a recording", children=(
        Command("sensor", "find this sensor's own curve from a warm-up and thermometer readings", "locum.jobs.learning:learn_sensor", (
            option("drive", metavar="DRIVE", help="recording of the warm-up"),
            option("--at", action="append", required=True, metavar="S=T", help="reading: seconds=temperature, several between commas"),
            option("--prior", metavar="S", help="published sheet of this kind of sensor"),
            option("--u", type=number, default=1.0, metavar="K", help="standard uncertainty of the thermometer at the sensor"),
            option("--u-time", type=number, default=5.0, metavar="S", help="standard uncertainty of each moment"),
            option("--lag", type=number, default=0.0, metavar="S", help="how far the sensor lags behind the thermometer"),
            option("--out", metavar="FILE", help="write a sensor sheet"), CASEBOOK)),
        Command("lines", "find which pattern of the lines is which state", "locum.jobs.learning:learn_lines", (
            option("drive", metavar="DRIVE", help="recording"),
            option("--state", action="append", required=True, metavar="NAME@FROM-TO", help="when a state stood, in seconds"),
            option("--top", action="append", metavar="NAME", help="state whose loss counts (without: the first)"),
            option("--line", action="append", metavar="N=NAME", help="output on input N; N=NAME:low where low means on"),
            option("--out", metavar="FILE", help="write a vehicle sheet"), CASEBOOK)),
    )),
    Command("quiet", "stamp the rule of the quiet drive after a repair, and see what is left", children=(
        Command("rule", "stamp the rule that ends it, before the repair", "locum.jobs.criteria:rule", (
            option("id", metavar="ID", help="case"),
            option("rule", choices=("exact", "sequential"), help="exact time, or a sequential test"),
            option("--confidence", type=number, metavar="C", help="of the rule (without: the settings' own, 0.95)"),
            option("--bad", type=number, metavar="PER_H", help="bad rate of the sequential test (without: lower limit of the rate before)"),
            option("--good", type=number, metavar="PER_H", help="good rate of it (without: a tenth of the bad one)"), AUTHOR, CASEBOOK)),
        Command("left", "tell the minutes still to drive by the stamped rule", "locum.jobs.criteria:left", (
            option("id", metavar="ID", help="case"), CASEBOOK)),
    )),
)  # fmt: skip
