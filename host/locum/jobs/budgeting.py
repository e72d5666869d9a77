"""``locum sensor budget``: how well a set temperature is known, line by line, after the GUM."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from locum.casebook.store import Store
from locum.errors import Refused, Remark
from locum.jobs.circuit import open_board, open_module, open_sensor
from locum.jobs.jsontext import Result
from locum.locations import casebook_path
from locum.physics.band import Band
from locum.physics.budget import Budget, Contribution, temperature_budget
from locum.physics.calibration import Calibration
from locum.physics.choose import choose_codes
from locum.physics.network import Network
from locum.physics.uncertainty import network_uncertainty
from locum.settings import load_settings
from locum.sheets.lookup import find_sheet
from locum.sheets.sensor import read_sensor


@dataclass
class BudgetResult(Result):
    sensor: str
    board: str
    """Serial of the board whose calibration this is."""
    calibrated: str
    """Date of the calibration and of its floor, in words."""
    budgets: list[dict[str, Any]]
    """Of each temperature: rows {name, part, u_ohm, u_c, share}, both results, k = 2."""
    refusals: list[Remark] = field(default_factory=list)
    warnings: list[Remark] = field(default_factory=list)

    @property
    def exit_code(self) -> int:
        return Refused.exit_code if self.refusals else 0


def budget(
    sheet: str,
    celsius: list[float],
    module: str | None = None,
    board_sheet: str | None = None,
    casebook: str | None = None,
    serial: str = "",
) -> BudgetResult:
    """The budgets of some temperatures for a calibrated board on a module."""
    sensor = open_sensor(sheet)
    source_sheet, _, remarks = open_module(module)
    board, _, _ = open_board(board_sheet)
    calibration = _calibration(casebook, serial)
    network = Network.from_board(board).calibrated(calibration)
    source = source_sheet.source
    target = np.atleast_1d(np.asarray(sensor.curve.resistance_ohm(np.array(celsius)), float))
    choice = choose_codes(network, target, source)
    known = network_uncertainty(calibration, network, choice.codes, choice.out, choice.hot, source)
    band = _band(sheet)
    budgets = []
    for at, temperature_c in enumerate(celsius):
        parts = known.contributions(at)
        if band is not None:
            half_width_k = float(band.half_width_c(temperature_c))
            parts.append(Contribution("tolerance of such sensors", half_width=half_width_k,
                                      unit="K", part="tolerance"))  # fmt: skip
        made = temperature_budget(sensor.curve, temperature_c, parts)
        budgets.append(_plain(made, float(choice.set_ohm[at])))
    floor = calibration.floor_date_utc[:10]
    told = calibration.date_utc[:10] + (f", floor measured again {floor}" if floor else "")
    aged = calibration.age_warnings(datetime.now(UTC).isoformat())
    warnings = [*sensor.remarks, *remarks, *aged, *choice.warnings]
    return BudgetResult(
        sensor.name, calibration.board_serial, told, budgets, choice.refusals, warnings
    )


def _calibration(casebook: str | None, serial: str) -> Calibration:
    """The newest of this board, or of any."""
    with Store.open(Path(casebook or load_settings().casebook or casebook_path())) as store:
        stored = store.calibrations(serial or None)
    if not stored:
        raise Refused(
            Remark(
                "not_calibrated", f"board {serial}".strip(), "a calibrated board",
                "no calibration in this casebook", "run `locum calibrate` first, two minutes",
            )
        )  # fmt: skip
    return Calibration.from_dict(stored[-1].body)


def _band(words: str) -> Band | None:
    if "=" in words:
        return None
    found = find_sheet("sensor", words)
    return read_sensor(found.text, found.name).band


def _plain(made: Budget, set_ohm: float) -> dict[str, Any]:
    rows = [asdict(row) for row in sorted(made.rows, key=lambda row: -row.u_c)]
    return {
        "celsius": made.temperature_c, "ohms": made.resistance_ohm, "set_ohm": set_ohm,
        "rows": rows, "u_ohm": made.u_ohm, "expanded_u_c": made.expanded_c,
        "expanded_u_with_tolerance_c": made.expanded_with_tolerance_c, "coverage": made.coverage,
    }  # fmt: skip
