"""A calibration as screens show it: what must be true before, how far it is, what is known after it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from locum.errors import LocumError
from locum.jobs.calibration_readings import Progress
from locum.jobs.circuit import Circuit, open_board
from locum.physics.calibration import OLD_DAYS, SPAN_K
from locum.physics.choose import choose_codes
from locum.physics.network import Network
from locum.physics.ohmmeter import Ohmmeter
from locum.physics.sweep import calibration_sweep
from locum.physics.uncertainty import network_uncertainty

if TYPE_CHECKING:
    from locum.jobs.desk_facts import Snapshot

SPREAD_C = tuple(float(c) for c in range(-20, 121, 5))
"""Temperatures at which the result is told, as far as sensor and network reach. [degC]"""


@dataclass(frozen=True)
class Known:
    """How well set values are known after a calibration, expanded (k = 2)."""

    worst_k: float
    """Of all of ``SPREAD_C``. [K]"""
    worst_at_c: float
    usual_k: float
    """Their median. [K]"""
    from_c: float
    to_c: float
    """Board temperatures between which this holds. [degC]"""
    days: int
    """After so many the board should be calibrated again."""
    meter: str = ""
    """The hand meter that agreed or moved the scale; empty: the board's own references."""


@dataclass(frozen=True)
class CalibrationLook:
    """One calibration, begun from the screens."""

    phase: str
    """reading, fitting, done, stopped (by a key; what was read is kept), lost (the board does not
    answer; what was read is kept), refused."""
    done: int = 0
    total: int = 0
    left_s: float = 0.0
    resumed: int = 0
    """Readings that an earlier one had left."""
    known: Known | None = None

    @property
    def under_way(self) -> bool:
        return self.phase in ("reading", "fitting")


@dataclass(frozen=True)
class Ahead:
    """What a calibration would be now."""

    at_rest: bool
    """The real sensor is connected, and nobody may doubt it."""
    board: str
    """Model and serial number; empty where there is none."""
    references_ohm: tuple[float, ...]
    """The board's own, against which it measures; empty: it has no ohmmeter."""
    readings: int
    kept: int
    """Of these already read by one that was stopped within the last day."""
    left_s: float
    """The sweep's own time of those that are left. [s]"""

    @property
    def may_begin(self) -> bool:
        return bool(self.at_rest and self.board and self.references_ohm)


def look_ahead(snapshot: Snapshot, now: datetime | None = None) -> Ahead:
    """What must be true before, as things stand; reads the board sheet and what an earlier one left."""
    glance = snapshot.glance
    recording = snapshot.phase == "recording" and glance is not None
    at_rest = recording and not snapshot.hidden and glance is not None and not glance.standing_in
    board = snapshot.board if recording else ""
    try:
        sheet, _, _ = open_board(snapshot.setup.board_sheet)
        meter = Ohmmeter.from_board(sheet)
    except LocumError:
        return Ahead(at_rest, board, (), 0, 0, 0.0)
    sweep = calibration_sweep(Network.from_board(sheet), meter)
    serial = board.rpartition(" ")[2]
    progress = Progress(serial, sweep, now or datetime.now(UTC))
    left_s = sweep.at(progress.readings.missing).seconds
    return Ahead(at_rest, board, meter.ranges_ohm, len(sweep), progress.resumed, left_s)


def known_of(circuit: Circuit) -> Known:
    """How well the values of a calibrated circuit are known, on its sensor and its module.

    As it stands: with the short sweep that comes before each stretch where it has been read, else
    with what a board within ``SPAN_K`` may have changed by since.
    """
    calibration, curve, network = circuit.calibration, circuit.sensor.curve, circuit.network
    assert calibration is not None
    coldest_c, hottest_c = curve.domain_c
    low, high = network.reach_ohm
    celsius = np.array([c for c in SPREAD_C if coldest_c <= c <= hottest_c])
    ohm = np.asarray(curve.resistance_ohm(celsius), float)
    inside = (ohm > low) & (ohm < high)
    celsius, ohm = celsius[inside], ohm[inside]
    source = circuit.module.source
    choice = choose_codes(network, ohm, source)
    u_ohm = network_uncertainty(
        calibration, network, choice.codes, choice.out, choice.hot, source
    ).u_ohm
    expanded_k = 2 * u_ohm / np.abs(curve.slope_ohm_per_k(celsius))
    worst = int(np.argmax(expanded_k))
    return Known(
        float(expanded_k[worst]), float(celsius[worst]), float(np.median(expanded_k)),
        calibration.ambient_c - SPAN_K, calibration.ambient_c + SPAN_K, round(OLD_DAYS), calibration.meter,
    )  # fmt: skip
