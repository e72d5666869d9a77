"""What a board reads of itself for its calibration, kept on disk while it does.

A :class:`Measuring` is one calibration under way, for whoever drives it: the command reads all of it in
one go, the screens a few readings at a time between two looks at their keys.
"""

from __future__ import annotations

import json
import zlib
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from locum.jobs.connection import Connection
from locum.jobs.files import write_text
from locum.locations import data_folder
from locum.physics.calibrate import fit_calibration, with_floor
from locum.physics.calibration import Calibration
from locum.physics.network import Network
from locum.physics.ohmmeter import Ohmmeter
from locum.physics.sweep import Readings, Sweep, calibration_sweep, floor_sweep
from locum_board.steps import wiper_word

KEEP_EVERY = 200
SURE_S = 5.0
"""Of the sweep's own time: before it has passed nobody can tell how fast the talk is. [s]"""
KEPT_FOR = timedelta(days=1)
"""Older readings are of another temperature."""
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

    def __init__(
        self, serial: str, sweep: Sweep, now_utc: datetime, resumable: bool = True
    ) -> None:
        """``resumable``: False neither reads nor keeps anything."""
        self._resumable = resumable
        self.path = data_folder() / f"calibration-{serial}.json"
        self.readings = Readings.none_yet(sweep)
        self._sweep, self._began = _fingerprint(sweep), now_utc
        if resumable:
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
            fresh = abs(now_utc - began) < KEPT_FOR  # a clock may have been put right
        except (OSError, ValueError, KeyError, TypeError):
            return
        if same and fresh:
            self._began = began
            self.readings.on[:], self.readings.off[:] = on, off

    def keep(self) -> None:
        if not self._resumable:
            return
        kept = {
            "began_utc": self._began.isoformat(),
            "sweep": self._sweep,
            "on": [None if np.isnan(x) else x for x in self.readings.on],
            "off": [None if np.isnan(x) else x for x in self.readings.off],
        }
        write_text(self.path, json.dumps(kept))

    def forget(self) -> None:
        if not self._resumable:
            return
        self.path.unlink(missing_ok=True)


def _fingerprint(sweep: Sweep) -> str:
    parts = (sweep.range_index, sweep.codes, sweep.out, sweep.hot, sweep.samples)
    return f"{zlib.crc32(b''.join(np.asarray(part, '<i4').tobytes() for part in parts)):08x}"


class Measuring:
    """One calibration under way: its sweep, what has been read of it, and what is still to be read.

    Readings of an earlier one that was stopped are gone on with, unless it is not ``resumable``.

    Raises Refused where the board has no ohmmeter.
    """

    def __init__(
        self, connection: Connection, board_sheet: dict[str, Any], resumable: bool = True
    ) -> None:
        self._link = connection
        self._network, self._meter = (
            Network.from_board(board_sheet),
            Ohmmeter.from_board(board_sheet),
        )
        self._sweep = calibration_sweep(self._network, self._meter)
        self._progress = Progress(
            connection.identity.serial, self._sweep, connection.clock.utc(), resumable
        )
        self._unkept = 0
        self._began_s = connection.clock.now_s()
        self._ahead_s = self._planned_s
        self.resumed = self._progress.resumed
        """Readings that an earlier run left."""
        self.taken = 0

    @property
    def total(self) -> int:
        return len(self._sweep)

    @property
    def done(self) -> int:
        return self._progress.resumed

    @property
    def _planned_s(self) -> float:
        return self._sweep.at(self._progress.readings.missing).seconds

    @property
    def left_s(self) -> float:
        """Time still needed, at the pace so far. [s]"""
        planned_s = self._ahead_s - self._planned_s
        went_s = self._link.clock.now_s() - self._began_s
        pace = went_s / planned_s if planned_s > SURE_S else 1.0
        return self._planned_s * max(pace, 1.0)

    def read(self, count: int, stop=lambda: False) -> int:
        """So many more readings, fewer if stopped; how many were taken. Kept every ``KEEP_EVERY``."""
        rows = self._progress.readings.missing[:count]
        taken = read_rows(self._link, self._progress.readings, rows, stop)
        self.taken, self._unkept = self.taken + taken, self._unkept + taken
        if self._unkept >= KEEP_EVERY:
            self.keep()
        return taken

    def keep(self) -> None:
        """Write down what has been read; a later calibration goes on from there."""
        self._progress.keep()
        self._unkept = 0

    def fitted(self, maybe_board_c: float | None) -> Calibration:
        """The calibration of all readings; some seconds of arithmetic, nothing is asked of the board.

        ``maybe_board_c`` is what the board's own thermometer says; None: a room's is taken. [degC]
        """
        return fit_calibration(
            self._network, self._meter, self._progress.readings, self._link.identity.serial,
            date_text(self._link), ROOM_C if maybe_board_c is None else maybe_board_c,
        )  # fmt: skip

    def forget(self) -> None:
        """The calibration is kept in the casebook: its readings are needed no more."""
        self._progress.forget()


def date_text(connection: Connection) -> str:
    """Now, as calibrations are dated."""
    return connection.clock.utc().isoformat(timespec="seconds").replace("+00:00", "Z")


def floor_measured(
    connection: Connection, board_sheet: dict[str, Any], calibration: Calibration
) -> Calibration:
    """The calibration after its short sweep was read again, two seconds at rest."""
    network, meter = Network.from_board(board_sheet), Ohmmeter.from_board(board_sheet)
    readings = Readings.none_yet(floor_sweep(network, meter))
    read_rows(connection, readings, range(len(readings.sweep)))
    return with_floor(calibration, network, meter, readings, date_text(connection))
