"""Preparation told as rows of text: the same for the screens and line by line."""

from __future__ import annotations

import math

from locum.jobs.module_look import look_at_module
from locum.jobs.prepare_view import Row, look_at_sensor
from locum.ui import words

CELLS = 40
"""Width of the drawn curve."""


def prepared(row: Row) -> str:
    """The word of a row; what is only not done yet is not called missing."""
    return (
        words.UNDONE.get(row.name, words.PREPARED["missing"])
        if row.word == "missing"
        else words.PREPARED[row.word]
    )


def row_text(row: Row) -> str:
    """A row with its word, and the way to fix it below where it is not ready."""
    told = f"{row.name:<11} {prepared(row):<8}  {row.detail}"
    if row.word == "ready" or not row.fix:
        return told
    return told + "".join(f"\n{'':21} {line}" for line in row.fix.split("\n"))


def sensor_text(typed: str, unit: str) -> str:
    """The curve of a sensor downwards from cold to hot, with its band, and every doubt about it."""
    seen = look_at_sensor(typed)
    low, high = (math.log(f(p[1] for p in seen.points)) for f in (min, max))
    span = high - low or 1.0
    lines = ["temperature   ohms      known to   few ohms" + " " * (CELLS - 17) + "many ohms"]
    for celsius, ohm, within_k in seen.points:
        at = round((math.log(ohm) - low) / span * (CELLS - 1))
        band = f"+-{within_k * (1.8 if unit == 'fahrenheit' else 1):.1f}" if within_k else "--"
        told = words.degrees(celsius, unit, 0)
        lines.append(f"{told:>11}   {words.ohms(ohm):<8}  {band:<8}   {' ' * at}o")
    doubts = [remark.text for remark in seen.remarks]
    return "\n".join([*_readings(seen.readings, unit), *lines, *doubts])


def _readings(readings, unit: str) -> list[str]:
    """Each reading as it was understood, and how far the curve passes beside it."""
    scale, letter = (1.8, "F") if unit == "fahrenheit" else (1.0, "C")
    return [
        f"read {words.degrees(celsius, unit)} with {words.ohms(ohm)}: "
        f"the curve is {abs(off_k) * scale:.2f} {letter} off"
        for celsius, ohm, off_k in readings
    ]


def module_text(module: str | None, sensor: str | None, unit: str) -> str:
    """What the module will see and what flows, with the sensor in use."""
    seen = look_at_module(module, sensor)
    how = "assumed" if seen.assumed else "measured or from its sheet"
    lines = [f"pull-up {words.ohms(seen.pull_up_ohm)} to {seen.open_v:.2f} V, {how}"]
    for celsius, volts, milliamps in seen.points:
        told = words.degrees(celsius, unit, 0)
        lines.append(f"{told:>8}: {volts:.2f} V at the pin, {milliamps:.2f} mA through the sensor")
    return "\n".join(lines)
