"""Preparation told as rows of text: the same for the screens and line by line."""

from __future__ import annotations

import math

from locum.jobs.circuit import Circuit
from locum.jobs.desk_facts import Setup
from locum.jobs.module_kept import circuit_for, look_at_readings
from locum.jobs.module_look import ModuleLook
from locum.jobs.modules import MeasureResult
from locum.jobs.prepare_line import with_unit
from locum.jobs.prepare_view import Row
from locum.jobs.quantities import said_ohm
from locum.jobs.sensor_look import look_at_sensor
from locum.ui import words

CAUTIONS = """\
Two people on the road: the driver drives, the other one works this.
While the stand-in is connected the module does not see the true temperature:
fan, lamp and overheat protection that rest on this sensor are blind.
Never on restraint, high-voltage, brake, steering, throttle-by-wire or
immobiliser circuits. Keep clear of turning wheels and hot parts.
Service manual, local law and licensed practice come first.
Key off before anything is unplugged; wire it in as drawn.
"""
CELLS = 40
"""Width of the drawn curve."""
INDENT = 21
"""Where the words of a row begin."""


def prepared(row: Row) -> str:
    """The word of a row; what is only not done yet is not called missing."""
    return (
        words.UNDONE.get(row.name, words.PREPARED["missing"])
        if row.word == "missing"
        else words.PREPARED[row.word]
    )


def row_text(row: Row) -> str:
    """A row with its word; below it what is doubtful, and where it is not ready the way to fix it."""
    told = [f"{row.name:<11} {prepared(row):<8}  {row.detail}"]
    below = [row.doubt, "" if row.word == "ready" else row.fix]
    told += [f"{'':{INDENT}} {line}" for text in below if text for line in text.split("\n")]
    return "\n".join(told)


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


def input_text(seen: ModuleLook, unit: str) -> str:
    """What the module will believe and what flows, with the sensor in use."""
    return "\n".join([*_pull_up(seen), "", *_believed(seen, unit)])


def drawn_text(line: str, setup: Setup, circuit: Circuit | None, unit: str) -> str:
    """What a line of Prepare means, drawn before and after it is taken over; nothing where there is
    nothing to draw. Raises LocumError while it cannot be understood."""
    word, _, rest = line.strip().partition(" ")
    if word.lower() == "sensor" and rest:
        return "\n" + sensor_text(with_unit(rest, unit), unit)
    if word.lower() == "module" and rest:
        return "\n" + input_text(look_at_readings(rest, circuit or circuit_for(setup)), unit)
    return ""


def sketch_points(line: str, unit: str):
    """The curve of a typed sensor for the sketch; nothing for other lines."""
    word, _, rest = line.strip().partition(" ")
    return look_at_sensor(with_unit(rest, unit)).points if word.lower() == "sensor" and rest else ()


def module_result_text(result: MeasureResult, seen: ModuleLook, unit: str) -> str:
    """Measured readings: doubts first, then what they mean for the stand-in."""
    doubts = [remark.text for remark in (*result.refusals, *result.warnings)]
    return "\n".join([*doubts, *([""] if doubts else []), input_text(seen, unit)])


def _pull_up(seen: ModuleLook) -> list[str]:
    how = "assumed" if seen.assumed else "measured or from its sheet"
    known = f" +-{said_ohm(2 * seen.u_pull_up_ohm)}" if seen.u_pull_up_ohm else ""
    within = f" +-{2 * seen.u_open_v:.2f}" if seen.u_open_v else ""
    told = [f"pull-up {said_ohm(seen.pull_up_ohm)}{known} to {seen.open_v:.2f} V{within}, {how}"]
    if seen.second_ohm is not None:
        told.append(f"a second stage: {said_ohm(seen.second_ohm)} once the pin is below "
                    f"{seen.second_below_v:.2f} V; the jump there is no glitch")  # fmt: skip
    return told


def _believed(seen: ModuleLook, unit: str) -> list[str]:
    """One row a temperature: volts, current, what it is taken for, current of each wiper."""
    count = max((len(point.wiper_ma) for point in seen.points), default=0)
    heads = "".join(f"{f'wiper {n}':>9}" for n in range(1, count + 1))
    rows = [f"{'told':>8}{'at the pin':>12}{'sensor':>10}{'believed':>11}{heads}"]
    for p in seen.points:
        told = words.degrees(p.celsius, unit, 0)
        wipers = "".join(f"{ma:>9.2f}" for ma in p.wiper_ma) or "   out of this board's reach"
        believed = words.degrees(p.believed_c, unit) if p.believed_c is not None else "--"
        rows.append(f"{told:>8}{p.volts:>10.2f} V{p.milliamps:>7.2f} mA{believed:>11}{wipers}")
    rows.append(f"wipers in mA: {seen.worst_ma:.2f} at most, {seen.plan_ma:g} allowed in plans, "
                f"{seen.rated_ma:g} rated")  # fmt: skip
    return rows
