"""The module's input measured with a hand meter, asked for one value at a time.

The open plug first, then a known resistor across its pins, then as many further ones as somebody likes:
a small one shows a second stage. What the readings mean is computed by ``jobs.modules.measure``.
"""

from __future__ import annotations

import re

from locum.errors import Refused, Remark
from locum.jobs.modules import MeasureResult, measure
from locum.jobs.quantities import said_ohm
from locum.jobs.questions import Dialogue, Question
from locum.physics.measure_doubts import MOST_PULL_UP_V
from locum.sheets import values

MOST_V = 60.0
"""More than this is no reading of a vehicle's 12 or 24 V. [V]"""
FIRST = "1k to 3k tells most: 2.4k   2k2   2,2k   2400"
SECOND = """\
Some modules change over to a smaller pull-up when the sensor is warm. A small
resistor shows it: one of 200 to 400 ohm, such as 330. Any other one makes the
pull-up better known{best}."""
RESISTORS_OHM = (100.0, 100_000.0)
"""Smaller ones get hot, larger ones hardly move the line. [ohm]"""
VOLTS = re.compile(r"^([-+]?\d+(?:[.,]\d+)?)\s*(m?)\s*(?:v|volts?)?$", re.IGNORECASE)


def volts_of(text: str) -> float:
    """Volts of "5.02", "5,02 V", "2370 mV"; Refused in plain words for anything else. [V]"""
    match = VOLTS.match(text.strip())
    if match is None:
        raise Refused(Remark("volts", "volts", "what the meter shows, such as 5.02 or 2370 mV",
                             f"'{text}'", "type the number alone"))  # fmt: skip
    volts = float(match[1].replace(",", ".")) / (1000 if match[2] else 1)
    if not 0 <= volts <= MOST_V:
        raise Refused(Remark("volts", "volts", f"between 0 and {MOST_V:g} V", f"{volts:g} V",
                             "look at the meter's leads and range: V, not mV or ohms"))  # fmt: skip
    return volts


def resistor_of(text: str) -> float:
    """Ohms of a resistor for measuring; Refused for one that tells nothing or only gets hot. [ohm]"""
    ohm = values.resistance_ohm(text)
    low, high = RESISTORS_OHM
    if not low <= ohm <= high:
        meant = f"; or is it {ohm:g}k?" if low <= 1000 * ohm <= high else ""
        raise Refused(Remark("resistor", "resistor", f"between {said_ohm(low)} and {said_ohm(high)}",
                             said_ohm(ohm), "type its ohms, such as 2.4k" + meant))  # fmt: skip
    return ohm


class ModuleReadings(Dialogue):
    """Readings so far, and what they say of the module."""

    def restart(self) -> None:
        self.open_v: float | None = None
        self.loads: list[tuple[float, float]] = []
        """(resistor, volts across it). [ohm, V]"""
        self.result: MeasureResult | None = None
        """What the readings say; None while they are too few."""
        self._resistor_ohm: float | None = None
        self._asked = "open"

    @property
    def done(self) -> bool:
        return self._asked == ""

    @property
    def question(self) -> Question:
        if self._asked == "open":
            return Question(
                "open", "Sensor's plug off, key on: volts between the plug's two pins?",
                "Key off, unplug the sensor, key on again, engine off. Meter on DC volts,\n"
                "on the two pins of the car's plug, never against the body.\n"
                "5.02   5,02 V   5020 mV",
                "no reading; two resistors are needed then",
            )  # fmt: skip
        if self._asked == "volts":
            ohm = said_ohm(self._resistor_ohm or 0.0)
            return Question("volts", f"Volts between the two pins, with {ohm} across them?",
                            "The same meter, the same range.\n2.37   2,37 V   2370 mV", "")  # fmt: skip
        if self.result is None:
            more = "\nOne without the open plug is not enough: a second, other one comes after it."
            return Question(
                "resistor", "Put a resistor across the two pins: how many ohms has it?",
                f"{FIRST}\nRead it with the meter before; 1 % is taken as its error."
                + (more if self.open_v is None else ""), "",
            )  # fmt: skip
        return Question("resistor", "Another resistor, which one? Enter: that is all.",
                        self._further(), "that is all")  # fmt: skip

    def _further(self) -> str:
        assert self.result is not None
        if self.result.voc_v > MOST_PULL_UP_V:
            return "No smaller resistor here: it would only get hot."
        unsure = any(remark.code == "rth_unsure" for remark in self.result.warnings)
        best = f", best one near {said_ohm(self.result.best_load_ohm)}" if unsure else ""
        return SECOND.format(best=best)

    def take(self, name: str, line: str) -> str:
        return {
            "open": self._take_open,
            "resistor": self._take_resistor,
            "volts": self._take_volts,
        }[name](line)

    def _take_open(self, line: str) -> str:
        if not line:
            self._asked = "resistor"
            return "no reading with the plug open"
        self.open_v = volts_of(line)
        self._asked = "resistor"
        said = f"{self.open_v:.4g} V with the plug open"
        if self.open_v <= MOST_PULL_UP_V:
            return said
        return f"{said}: no 5 V line. Never stand in here; only listen. Or was it another pin?"

    def _take_resistor(self, line: str) -> str:
        if not line and self.result is not None:
            self._asked = ""
            return "that is all"
        self._resistor_ohm = resistor_of(line)
        self._asked = "volts"
        return f"{said_ohm(self._resistor_ohm)} across the pins"

    def _take_volts(self, line: str) -> str:
        assert self._resistor_ohm is not None
        volts, ohm = volts_of(line), self._resistor_ohm
        loads = [*self.loads, (ohm, volts)]
        enough = len(loads) >= (1 if self.open_v is not None else 2)
        result = measured(self.open_v, loads) if enough else None
        self.loads, self.result, self._asked = loads, result, "resistor"
        said = f"{volts:.4g} V across {said_ohm(ohm)}"
        if result is None:
            return said
        return f"{said}: so {pull_up_words(result)}"


def measured(open_v: float | None, loads: list[tuple[float, float]]) -> MeasureResult:
    """What readings say of the module. [V, (ohm, V)]

    Raises Refused where no source can be worked out from them.
    """
    return measure(open_v, [f"{ohm:.9g}:{volts:.9g}" for ohm, volts in loads])


def pull_up_words(result: MeasureResult) -> str:
    """Pull-up and voltage, each within its expanded uncertainty (k = 2)."""
    ohms = f"{said_ohm(result.rth_ohm)} +-{said_ohm(2 * result.u_rth_ohm)}"
    volts = f"to {result.voc_v:.2f} V +-{2 * result.u_voc_v:.2f}"
    if not result.two_stage:
        return f"pull-up {ohms} {volts}"
    hot = result.stages[0]
    return f"two stages: {ohms} cold, {said_ohm(hot['rth_ohm'])} hot, {volts}"
