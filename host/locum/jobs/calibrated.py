"""Bringing a stored calibration to bear on a circuit, and saying so when there is none."""

from __future__ import annotations

from dataclasses import replace

from locum.casebook.store import Store
from locum.errors import FileTrouble, Refused, Remark
from locum.jobs.circuit import Circuit
from locum.jobs.connection import Connection
from locum.physics.calibration import Calibration
from locum.review.chunk import AUX_BOARD_C, Chunk


def with_calibration(store: Store, connection: Connection, circuit: Circuit) -> Circuit:
    """The circuit with this board's own tables, or with a remark that they are nominal."""
    serial = connection.identity.serial
    stored = store.calibration(serial)
    if stored is None:
        return _nominal(circuit, serial, _none_of_it(store))
    try:
        calibration = Calibration.from_dict(stored.body)
        now = connection.clock.utc().isoformat()
        warnings = calibration.check_use(serial, now)
        network = circuit.network.calibrated(calibration)
    except (Refused, FileTrouble) as trouble:
        circuit = _nominal(circuit, serial, "no calibration that may be used")
        return replace(circuit, remarks=(*circuit.remarks, *trouble.remarks))
    return replace(
        circuit, network=network, calibration=calibration, remarks=(*circuit.remarks, *warnings)
    )


def maybe_board_c(chunk: Chunk) -> float | None:
    """What the board's own thermometer last said in a piece of record. [degC]"""
    told = chunk.aux["value"][chunk.aux["channel"] == AUX_BOARD_C]
    return float(told[-1]) / 1000 if len(told) else None


def _none_of_it(store: Store) -> str:
    """Why there is none: no calibration at all, or only those of other boards, which are named."""
    newest = {kept.board_serial: kept.made_utc[:10] for kept in store.calibrations()}
    if not newest:
        return "never calibrated"
    others = ", ".join(f"board {serial} of {day}" for serial, day in newest.items())
    return f"only calibrations of other boards, which are not used for this one ({others})"


def _nominal(circuit: Circuit, serial: str, found: str) -> Circuit:
    remark = Remark(
        "not_calibrated", f"board {serial}", "the board's own calibration", found,
        "values are nominal, up to 20 % off; run `locum calibrate`, it takes two minutes",
    )  # fmt: skip
    return replace(circuit, remarks=(*circuit.remarks, remark))
