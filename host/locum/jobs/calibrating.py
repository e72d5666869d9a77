"""``locum calibrate``: the board measures its own network; a hand meter may verify or correct it.

All codes of all wipers in under two minutes at rest, the real sensor connected all the while.
What has been read is kept in a file beside the casebook every few hundred readings, so that an
interruption costs seconds; a later start goes on where it stopped.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from locum.casebook.store import Store
from locum.errors import Misuse, Remark
from locum.jobs.calibrated import maybe_board_c
from locum.jobs.calibration_readings import KEEP_EVERY, Measuring
from locum.jobs.circuit import open_board
from locum.jobs.connection import Connection, connected
from locum.jobs.interrupts import Interrupts
from locum.jobs.jsontext import Result
from locum.jobs.kept_on_board import rescue
from locum.locations import casebook_path
from locum.physics.calibration import Calibration
from locum.physics.handmeter import HandReading, check_by_meter
from locum.recording.decode import Decoder
from locum.settings import load_settings
from locum.sheets import values

STATE_U = 3e-4
"""Relative standard uncertainty of one calibrated state beside the scale."""


@dataclass
class CalibrateResult(Result):
    board: str
    readings: int
    seconds: float
    complete: bool
    calibration_id: str = ""
    series_ohm: float | None = None
    hot_ohm: list[float] = field(default_factory=list)
    wiper_floor_ohm: list[float] = field(default_factory=list)
    full_scale_ohm: list[float] = field(default_factory=list)
    quality: dict[str, float] = field(default_factory=dict)
    verified: list[dict[str, Any]] = field(default_factory=list)
    warnings: list[Remark] = field(default_factory=list)

    @property
    def exit_code(self) -> int:
        return 0 if self.complete else 1


def say(words: str) -> None:
    print(words, file=sys.stderr, flush=True)


def measure_board(
    connection: Connection, board_sheet: dict[str, Any],
    stop=lambda: False, tell=lambda words: None, resumable: bool = True,
) -> tuple[Calibration | None, int]:  # fmt: skip
    """The whole sweep and its fit; None if it was stopped on the way. And the readings taken.

    What an earlier one left is gone on with, and what this one leaves is kept, if ``resumable``.
    Drains the board's record, for the temperature that its own thermometer tells.
    """
    measuring = Measuring(connection, board_sheet, resumable)
    total = measuring.total
    if measuring.resumed:
        tell(f"Going on where the last one stopped, at {measuring.resumed} of {total} readings.")
    while measuring.done < total:
        measuring.read(KEEP_EVERY, stop)
        measuring.keep()
        tell(f"{measuring.done} of {total} readings, about {measuring.left_s:.0f} s left")
        if stop():
            return None, measuring.taken
    board_c = maybe_board_c(Decoder().feed_many(connection.board.drain()))
    made = measuring.fitted(board_c)
    measuring.forget()
    return made, measuring.taken


def calibrate(
    board: str | None = None,
    board_sheet: str | None = None,
    casebook: str | None = None,
    seed: int = 1,
    meter: str = "",
    verify: list[str] | None = None,
    accuracy: float = 0.5,
) -> CalibrateResult:
    """Calibrate the board and keep the result under its serial number."""
    checks = [_check(text) for text in verify or ()]
    sheet, _, _ = open_board(board_sheet)
    path = Path(casebook or load_settings().casebook or casebook_path())
    with Store.open(path) as store, connected(board, sheet, seed) as link, Interrupts() as stop:
        say(
            "The board measures its own resistors, at rest: the real sensor stays connected all the"
        )
        say(
            "time, nothing needs to be unplugged. Ignition off or on, it does not matter. Under two"
        )
        say("minutes; Ctrl-C stops it, and the next `locum calibrate` goes on from there.")
        began_s = link.clock.now_s()
        rescue(store, link)  # the sweep's own record is read for the board's temperature
        made, taken = measure_board(link, sheet, stop=lambda: stop.count > 0, tell=say)
        seconds = link.clock.now_s() - began_s
        result = CalibrateResult(link.identity.serial, taken, seconds, made is not None)
        if made is None:
            return result
        made, result.verified, result.warnings = verified(made, checks, meter, accuracy)
        store.add_calibration(link.identity.serial, made.to_dict(), meter)
    result.calibration_id = made.calibration_id
    result.series_ohm, result.hot_ohm = made.series_ohm, list(made.hot_ohm)
    result.wiper_floor_ohm = [float(t[0]) for t in made.table_ohm]
    result.full_scale_ohm = [float(t[-1]) for t in made.table_ohm]
    result.quality = made.quality
    return result


def _check(text: str) -> tuple[float, float]:
    left, separator, right = text.partition("=")
    if not separator:
        raise Misuse(Remark("verify", f"--verify {text}", "OHM=READING such as 1000=1002", "no ="))
    return values.resistance_ohm(left), values.resistance_ohm(right)


def verified(
    made: Calibration, checks: list[tuple[float, float]], meter: str, accuracy_pct: float
) -> tuple[Calibration, list[dict[str, Any]], list[Remark]]:
    """A hand meter's readings of set values: they agree, or a better meter moves the scale."""
    rows = [{"set_ohm": a, "read_ohm": b, "off_pct": 100 * (b / a - 1)} for a, b in checks]
    if not checks:
        return made, rows, []
    readings = [HandReading(a, a * STATE_U, b, accuracy_pct) for a, b in checks]
    result = check_by_meter(made, readings, meter or "hand meter")
    if not result.corrected:
        return result.calibration, rows, []
    remark = Remark(
        "scale_corrected", meter or "hand meter", "the board's own scale",
        f"{100 * (result.scale - 1):+.3f} % by a better meter", "its scale is taken from here on",
    )  # fmt: skip
    return result.calibration, rows, [remark]
