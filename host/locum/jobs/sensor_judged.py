"""``locum sensor judge``: measured points of this sensor against the published band."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from locum.errors import Misuse, Remark
from locum.jobs.jsontext import Result
from locum.physics.band import Band
from locum.physics.curve import Curve
from locum.physics.fit import Fit, fit_curve
from locum.physics.judge_sensor import JudgedReading, judge_sensor
from locum.settings import load_settings
from locum.sheets import values
from locum.sheets.lookup import find_sheet
from locum.sheets.points import open_points
from locum.sheets.sensor import read_sensor


@dataclass
class JudgeResult(Result):
    sheet: str
    judgement: str
    """in, out or inconclusive."""
    sentence: str
    readings: list[dict[str, Any]]
    """celsius, ohms, low_ohm, high_ohm, u_ohm (k = 2), off_c, u_c (k = 2), judgement, largest_part."""
    warnings: list[Remark] = field(default_factory=list)


def judge(
    sheet: str,
    readings: list[str],
    meter_accuracy: float = 0.8,
    meter_digits: str = "",
    thermometer: float = 1.0,
    tolerance: float | None = None,
) -> JudgeResult:
    """Every reading with its own U, and what they say together."""
    unit = load_settings().unit
    pairs = [pair for text in readings for pair in values.readings(text, unit)]
    _check_half_widths(meter_accuracy, thermometer)
    name, published = _published(sheet)
    digits_ohm = values.resistance_ohm(meter_digits) if meter_digits else 0.0
    found = judge_sensor(
        published, pairs, meter_accuracy, digits_ohm, thermometer / math.sqrt(3), tolerance
    )
    rows = [_row(item) for item in found.readings]
    return JudgeResult(name, found.judgement, found.sentence, rows, list(found.warnings))


def _check_half_widths(meter_accuracy: float, thermometer: float) -> None:
    faults = [
        Remark("half_width", option, "0 or more, and below 50", f"{value:g}")
        for option, value in (("--meter-accuracy", meter_accuracy), ("--thermometer", thermometer))
        if not 0 <= value < 50
    ]
    if faults:
        raise Misuse(faults)


def _published(words: str) -> tuple[str, Band | Fit | Curve]:
    """Limits where the sheet or table has them, else its curve."""
    if "=" in words:
        raise Misuse(
            Remark(
                "sheet", "sensor judge", "a sensor sheet or a limits table (CSV) to judge by", words,
                "name the sheet first, then the readings; `locum sensor fit` makes one of a table",
            )
        )  # fmt: skip
    if words.lower().endswith(".csv"):
        return Path(words).stem, fit_curve(**open_points(Path(words)).fit_arguments())
    found = find_sheet("sensor", words)
    sheet = read_sensor(found.text, found.name)
    return found.name, sheet.band or sheet.curve


def _row(item: JudgedReading) -> dict[str, Any]:
    def known(value: float) -> float | None:
        return float(value) if math.isfinite(value) else None

    return {
        "celsius": item.reading.celsius, "ohms": item.reading.ohms,
        "low_ohm": known(item.low_ohm), "high_ohm": known(item.high_ohm),
        "u_ohm": item.expanded_ohm, "off_c": item.off_c, "u_c": item.expanded_c,
        "judgement": item.judgement, "largest_part": item.largest_part,
    }  # fmt: skip
