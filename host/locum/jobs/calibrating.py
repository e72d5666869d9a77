"""``locum calibrate``: the board measures its own network; a hand meter may verify or correct it.

All codes of all wipers in under two minutes at rest, the real sensor connected all the while.
What has been read is kept in a file beside the casebook every few hundred readings, so that an
interruption costs seconds; a later start goes on where it stopped.
"""

from __future__ import annotations

import json
import sys
import zlib
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from locum.casebook.store import Store
from locum.errors import Misuse, Remark
from locum.jobs.calibrated import maybe_board_c
from locum.jobs.circuit import open_board
from locum.jobs.connection import Connection, connected
from locum.jobs.files import write_text
from locum.jobs.interrupts import Interrupts
from locum.jobs.jsontext import Result
from locum.jobs.kept_on_board import rescue
from locum.locations import casebook_path, data_folder
from locum.physics.calibrate import fit_calibration, with_floor
from locum.physics.calibration import Calibration
from locum.physics.handmeter import HandReading, check_by_meter
from locum.physics.network import Network
from locum.physics.ohmmeter import Ohmmeter
from locum.physics.sweep import Readings, Sweep, calibration_sweep, floor_sweep
from locum.recording.decode import Decoder
from locum.settings import load_settings
from locum.sheets import values
from locum_board.steps import wiper_word

KEEP_EVERY = 200
KEPT_FOR = timedelta(days=1)
"""Older readings are of another temperature."""
STATE_U = 3e-4
"""Relative standard uncertainty of one calibrated state beside the scale."""
ROOM_C = 23.0
"""Taken where the board has no thermometer. [degC]"""


def wiper_words(codes, out) -> list[int]:
    """Words of the wire for one state, in wiper order."""
    return [wiper_word(int(c), bool(o)) for c, o in zip(codes, out, strict=True)]


def read_rows(connection: Connection, readings: Readings, rows, stop=lambda: False) -> int:
    """Measure some rows of a sweep; how many were read before ``stop``."""
    sweep, board = readings.sweep, connection.board
    done = 0
    for row in rows:
        if stop():
            break
        words = wiper_words(sweep.codes[row], sweep.out[row])
        got = board.measure_ohm(
            words, int(sweep.hot[row]), int(sweep.range_index[row]), int(sweep.samples[row])
        )
        readings.on[row], readings.off[row] = got.on_sum / got.count, got.off_sum / got.count
        done += 1
    return done


class Progress:
    """Readings of an unfinished calibration, kept between runs for a day.

    They hold for one board and one sweep; what is older, of another sweep or not readable is left
    and the calibration begins anew.
    """

    def __init__(self, serial: str, sweep: Sweep, now_utc: datetime) -> None:
        self.path = data_folder() / f"calibration-{serial}.json"
        self.readings = Readings.none_yet(sweep)
        self._sweep, self._began = _fingerprint(sweep), now_utc
        self._load(now_utc)

    @property
    def resumed(self) -> int:
        """Readings that an earlier run left."""
        return len(self.readings.sweep) - len(self.readings.missing)

    def _load(self, now_utc: datetime) -> None:
        try:
            kept = json.loads(self.path.read_text(encoding="utf-8"))
            began = datetime.fromisoformat(kept["began_utc"])
            on, off = np.array(kept["on"], float), np.array(kept["off"], float)
            same = kept["sweep"] == self._sweep and on.shape == off.shape == self.readings.on.shape
            fresh = timedelta(0) <= now_utc - began < KEPT_FOR
        except (OSError, ValueError, KeyError, TypeError):
            return
        if same and fresh:
            self._began = began
            self.readings.on[:], self.readings.off[:] = on, off

    def keep(self) -> None:
        kept = {
            "began_utc": self._began.isoformat(),
            "sweep": self._sweep,
            "on": [None if np.isnan(x) else x for x in self.readings.on],
            "off": [None if np.isnan(x) else x for x in self.readings.off],
        }
        write_text(self.path, json.dumps(kept))

    def forget(self) -> None:
        self.path.unlink(missing_ok=True)


def _fingerprint(sweep: Sweep) -> str:
    parts = (sweep.range_index, sweep.codes, sweep.out, sweep.hot, sweep.samples)
    return f"{zlib.crc32(b''.join(np.asarray(part, '<i4').tobytes() for part in parts)):08x}"


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
    stop=lambda: False, tell=lambda words: None,
) -> tuple[Calibration | None, int]:  # fmt: skip
    """The whole sweep and its fit; None if it was stopped on the way. And the readings taken.

    Drains the board's record, for the temperature that its own thermometer tells.
    """
    network, meter = Network.from_board(board_sheet), Ohmmeter.from_board(board_sheet)
    sweep = calibration_sweep(network, meter)
    progress = Progress(connection.identity.serial, sweep, connection.clock.utc())
    if progress.resumed:
        tell(
            f"Going on where the last one stopped, at {progress.resumed} of {len(sweep)} readings."
        )
    missing = progress.readings.missing
    total, taken = len(progress.readings.sweep), 0
    for start in range(0, len(missing), KEEP_EVERY):
        part = missing[start : start + KEEP_EVERY]
        taken += read_rows(connection, progress.readings, part, stop)
        progress.keep()
        left_s = sweep.at(progress.readings.missing).seconds
        tell(f"{progress.resumed} of {total} readings, about {left_s:.0f} s left")
        if stop():
            return None, taken
    date = connection.clock.utc().isoformat(timespec="seconds").replace("+00:00", "Z")
    board_c = maybe_board_c(Decoder().feed_many(connection.board.drain()))
    made = fit_calibration(
        network, meter, progress.readings, connection.identity.serial, date,
        ROOM_C if board_c is None else board_c,
    )  # fmt: skip
    progress.forget()
    return made, taken


def floor_measured(
    connection: Connection, board_sheet: dict[str, Any], calibration: Calibration
) -> Calibration:
    """The calibration after its short sweep was read again, two seconds at rest."""
    network, meter = Network.from_board(board_sheet), Ohmmeter.from_board(board_sheet)
    readings = Readings.none_yet(floor_sweep(network, meter))
    read_rows(connection, readings, range(len(readings.sweep)))
    date = connection.clock.utc().isoformat(timespec="seconds").replace("+00:00", "Z")
    return with_floor(calibration, network, meter, readings, date)


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
