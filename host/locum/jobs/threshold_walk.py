"""The stand-in moved by hand through a range, step by step, with a record of what it was when."""

from __future__ import annotations

import math
from collections.abc import Callable

from locum.errors import BoardFault
from locum.jobs import standing
from locum.jobs.errand import Errand
from locum.jobs.live import Live
from locum.jobs.steady import touched
from locum.jobs.trips import trip_remark

STEP_S = 0.25
"""The stand-in moves this often; at the highest rate 0.08 K at a time. [s]"""


class Stopped(Exception):
    """Ctrl-C: go home; what was recorded is kept."""


class Walk:
    """The stand-in moved by hand, with what it was told at each time."""

    def __init__(self, job: Errand, rate: float) -> None:
        self.job, self.live, self.rate = job, job.live, rate
        self.curve = job.circuit.sensor.curve
        self.track: list[tuple[float, float]] = []
        """(time, degC) as the board really set it. [s]"""

    @property
    def celsius(self) -> float:
        return self.track[-1][1]

    def be(self, celsius: float) -> None:
        """The nearest rung to a temperature, now."""
        ohm = self.live.board.set_resistance(float(self.curve.resistance_ohm(celsius)))
        self.track.append((self.live.now_ms / 1000, float(self.curve.temperature_c(ohm))))

    def start(self) -> None:
        """Stand in at the real value."""
        celsius = standing.reachable_start(self.live, standing.measured_real_c(self.live))
        self.be(celsius)
        self.live.board.stand_in()
        self.live.stretch("stand_in", "still")
        self.live.tick(0.5)

    def to(self, celsius: float, rate: float | None = None) -> None:
        """Go there at a rate, no faster than is allowed. [K/s]"""
        at, step = self.celsius, (rate or self.rate) * STEP_S
        for n in range(1, math.ceil(abs(celsius - at) / step) + 1):
            self.be(at + math.copysign(min(n * step, abs(celsius - at)), celsius - at))
            self.wait(STEP_S)

    def wait(self, seconds: float, until: Callable[[Live], bool] = lambda live: False) -> bool:
        met = self.job.wait(seconds, until)
        if self.job.interrupts.count:
            raise Stopped
        if self.live.status.state == "tripped":
            raise BoardFault(trip_remark(self.live.status.cause))
        return met

    @property
    def state(self) -> str:
        states = self.live.findings.states
        return states[-1][1] if states else ""

    def touched(self) -> int:
        """How often foot and brake have moved so far."""
        return touched(self.live)
