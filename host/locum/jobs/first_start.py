"""The guided first start: at most five answers from nothing to a warm value held.

A dialogue without a screen: it asks, is answered with one line, echoes what it understood, and at
the end hands over a setup and the value to hold. The screens and the line-by-line mode ask with
the same words. Answers are checked when they are given: a forbidden circuit, readings that cannot
belong to one sensor, a value that the board cannot be.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from locum.casebook.store import Store
from locum.errors import LocumError, Misuse, Refused, Remark
from locum.jobs.circuit import Circuit, open_circuit
from locum.jobs.connection import VIRTUAL
from locum.jobs.quantities import reading_of, said_c, said_ohm, written_out
from locum.jobs.questions import Dialogue, Question
from locum.jobs.reach import CIRCUITS, FORBIDDEN, circuit_of
from locum.jobs.targets import said, target_of
from locum.link.ports import candidate_ports
from locum.locations import casebook_path
from locum.physics.circuit import current_a
from locum.settings import Settings

if TYPE_CHECKING:
    from locum.jobs.desk_facts import Setup

VAN = {"sensor": "parcel_van_coolant", "module": "parcel_van_engine", "vehicle": "parcel_van"}
"""Sheets of the invented van that the virtual board sits in."""
WIDE_APART_C = 10.0
WIRING = """\
   car's plug                         sensor's plug
   signal ----- LINE  [board]  SENS ----- signal
   return -------------- GND ------------ return     goes straight through
   GND: the sensor's return alone, never the body. Lid shut, cable secured."""
YES = ("y", "yes", "ok", "done", "wired")


def questions(virtual: bool) -> tuple[Question, ...]:
    """The five, in the order they are asked."""
    example = "\nThe virtual van's sensor reads 20C=2.5k" if virtual else ""
    hot = "\nThe virtual van's sensor reads 80C=310" if virtual else ""
    return (
        Question("circuit", "Which circuit?",
                 f"{', '.join(CIRCUITS)}: first letters do.\nNever: {', '.join(FORBIDDEN)}.\n"
                 "First of all listen, for as long as the complaint takes to come:\n"
                 "type listen, and nothing is changed.", "coolant"),
        Question("cold", "Cold: what does the sensor read, and at which temperature?",
                 "Key off, plug off, meter on the sensor's two pins.\n"
                 f"Type it like one of these: 20C=2.5k   2,5k at 20C   20 2500{example}",
                 "no reading: commonest sensor, degrees a rough guide"),
        Question("hot", "Hot: the same once the engine has been warm, or nothing.",
                 f"Type it like one of these: 82C=300   180F 300{hot}", "no second reading"),
        Question("value", "Which value shall the module be told?",
                 "Type it like one of these: 82C   180F   300 ohm   1.5k\n"
                 "or type now: what the sensor says itself", "the warm one"),
        Question("wired", "Key off, wired as drawn?", WIRING, ""),
    )  # fmt: skip


class FirstStart(Dialogue):
    """The answers so far and the next question."""

    def __init__(self, setup: Setup, unit: str = "celsius", virtual: bool = False) -> None:
        self.base = setup
        self.unit = unit
        self.virtual = virtual
        super().__init__()

    def restart(self) -> None:
        self.listening = False
        """Only listening was chosen."""
        self.hold = ""
        self.hold_words = ""
        """The value to hold as it was understood."""
        self._circuit = ("", "")
        self._readings: list[tuple[float, float]] = []
        self._left = [q.name for q in questions(self.virtual)]

    @property
    def done(self) -> bool:
        return not self._left

    @property
    def question(self) -> Question:
        asked = next(q for q in questions(self.virtual) if q.name == self._left[0])
        if asked.name != "value":
            return asked
        warm = len(self._readings) > 1
        enter = (
            said_c(self._readings[-1][0], self.unit) if warm else "now: what the sensor says itself"
        )
        return replace(asked, enter=enter)

    @property
    def total(self) -> int:
        return len(self.answers) + len(self._left)

    def take(self, name: str, line: str) -> str:
        read: Callable[[str], str] = getattr(self, f"_read_{name}")
        understood = read(line)
        self._left.remove(name)
        return understood

    def setup(self) -> Setup:
        """The desk's setup as answered; what was there before stays where nothing was told."""
        sheet, words = self._circuit
        sensor = written_out(self._readings)
        return replace(self.base, circuit=sheet or words, sensor=sensor or self.base.sensor)

    # -- one reader for each question ------------------------------------------------------------

    def _read_circuit(self, line: str) -> str:
        if line.lower() in ("listen", "l"):
            self.listening, self._left = True, ["circuit"]
            return "only listening; nothing is changed"
        named = circuit_of(line or "coolant")
        self._circuit = (named.sheet, named.words)
        known = "" if named.sheet else ", if it is a plain 2-wire temperature sensor"
        return named.words + known

    def _read_cold(self, line: str) -> str:
        if not line:
            self._left.remove("hot")
            return "no reading: commonest sensor, degrees a rough guide"
        self._readings = [reading_of(line, self.unit)]
        return self._said(self._readings[0])

    def _read_hot(self, line: str) -> str:
        if not line:
            return "none: good near the first reading only"
        reading = reading_of(line, self.unit)
        self._check_pair(self._readings[0], reading)
        before, self._readings = self._readings, [self._readings[0], reading]
        try:
            curve = self._opened().sensor.curve
        except LocumError:
            self._readings = before
            raise
        between = [
            c for c in (0.0, 40.0, 60.0, 100.0) if curve.domain_c[0] <= c <= curve.domain_c[1]
        ]
        rest = ", ".join(
            f"{said_c(c, self.unit, 0)} {said_ohm(curve.resistance_ohm(c))}" for c in between
        )
        return f"{self._said(reading)}; so {rest}"

    def _read_value(self, line: str) -> str:
        text = line or (f"{self._readings[-1][0]:g}C" if len(self._readings) > 1 else "now")
        target = target_of(text, self.unit)
        circuit = self._opened()
        source = circuit.module.source
        assumed = (
            "1 kohm to 5 V assumed, not measured" if circuit.module.assumed else "as its sheet says"
        )
        if target.now:
            self.hold, self.hold_words = "now", said(target)
            return f"what the sensor says itself; pull-up: {assumed}"
        curve = circuit.sensor.curve
        ohm = (
            float(curve.resistance_ohm(target.celsius))
            if target.celsius is not None
            else target.ohm
        )
        assert ohm is not None
        celsius = float(curve.temperature_c(ohm))
        low, high = circuit.network.reach_ohm
        if not low <= ohm <= high:
            raise Refused(Remark("reach", text, f"between {said_ohm(low)} and {said_ohm(high)}",
                                 said_ohm(ohm), "choose a value that this board can be"))  # fmt: skip
        self.hold, self.hold_words = text, said(target, self.unit)
        milliamps = 1000 * current_a(source, ohm)
        return (f"{said_c(celsius, self.unit)}, that is {said_ohm(ohm)}, {milliamps:.1f} mA "
                f"(pull-up: {assumed})")  # fmt: skip

    def _read_wired(self, line: str) -> str:
        if line.lower() not in YES:
            raise Misuse(Remark("wired", "wiring", "y, once it is so", f"'{line}'",
                                "check it against the drawing"))  # fmt: skip
        return "key off, wired as drawn; now key on"

    # -- what the readers share ------------------------------------------------------------------

    def _said(self, reading: tuple[float, float]) -> str:
        return f"{said_ohm(reading[1])} at {said_c(reading[0], self.unit)}"

    def _check_pair(self, cold: tuple[float, float], hot: tuple[float, float]) -> None:
        faults = []
        if abs(hot[0] - cold[0]) < WIDE_APART_C:
            faults.append(Remark("too_near", "hot reading", f"{WIDE_APART_C:g} K from the cold one or more",
                                 f"{abs(hot[0] - cold[0]):.1f} K", "warm it up first, or press Enter"))  # fmt: skip
        if hot[1] == cold[1]:
            faults.append(Remark("same_ohms", "hot reading", "other ohms than cold", said_ohm(hot[1]),
                                 "is the meter on the sensor's pins?"))  # fmt: skip
        if faults:
            raise Refused(faults)

    def _opened(self) -> Circuit:
        setup = self.setup()
        van = VAN if self.virtual else {}
        return open_circuit(setup.sensor or van.get("sensor"), setup.module or van.get("module"),
                            None, setup.board_sheet)  # fmt: skip


def is_virtual(setup: Setup, settings: Settings) -> bool:
    """Whether this setup will end on the virtual board."""
    where = setup.board or settings.board
    return where == VIRTUAL or (not where and len(candidate_ports()) != 1)


def with_board(setup: Setup, settings: Settings) -> Setup:
    """The setup with its board told: the one typed, the settings', else virtual if none is there."""
    where = VIRTUAL if is_virtual(setup, settings) else setup.board or settings.board or None
    return replace(setup, board=where)


def is_wanted(setup: Setup, settings: Settings) -> bool:
    """Whether to begin with the guided start: nothing told and nothing ever recorded."""
    if setup.sensor or setup.module or setup.case:
        return False
    path = Path(setup.casebook or settings.casebook or casebook_path())
    if not path.exists():
        return True
    try:
        with Store.open(path) as store:
            return not store.drives(limit=1) and not store.cases(limit=1)
    except LocumError:
        return False
