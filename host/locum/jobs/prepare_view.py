"""What must be true before anything is connected: one row each, with its word and the way to fix it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from locum.errors import LocumError, Misuse, Remark
from locum.jobs.circuit import open_sensor
from locum.jobs.desk_facts import Setup, Snapshot
from locum.jobs.module_look import measured_module
from locum.jobs.reach import PLACES, circuit_of, place_of, refused_circuit
from locum.jobs.trips import trip_remark
from locum.sheets import values
from locum.sheets.lookup import find_sheet

LINES = (
    "sensor 20C=2.5k,82C=300", "sensor NAME", "module 5.02 2.4k:2.37", "module NAME", "vehicle NAME",
    "reach sensor, module, splice or nowhere", "circuit NAME", "board PORT", "board virtual",
)  # fmt: skip
"""What can be typed in this place."""


@dataclass(frozen=True)
class Row:
    name: str
    word: str
    """ready, missing or refused."""
    detail: str
    fix: str = ""


@dataclass(frozen=True)
class SensorLook:
    """A sensor as typed: its curve with its band at a few temperatures, and every doubt about it."""

    kind: str
    points: tuple[tuple[float, float, float], ...]
    """(degC, ohm, expanded uncertainty in K) every 20 K; 0 K where it is not known."""
    remarks: tuple[Remark, ...]
    readings: tuple[tuple[float, float, float], ...] = ()
    """As typed: (degC, ohm, how much warmer the curve takes these ohms to be, in K)."""


def look_at_sensor(words: str) -> SensorLook:
    """The curve of a sheet or of typed readings, at once."""
    sensor = open_sensor(words)
    curve = sensor.curve
    low, high = max(curve.domain_c[0], -40.0), min(curve.domain_c[1], 140.0)
    celsius = [float(c) for c in range(-40, 141, 20) if low <= c <= high]
    points = tuple(
        (c, float(curve.resistance_ohm(c)), 2 * float(curve.u_temperature_c(c))) for c in celsius
    )
    typed = values.readings(words) if "=" in words else []
    readings = tuple((c, ohm, float(curve.temperature_c(ohm)) - c) for c, ohm in typed)
    remarks = (*sensor.remarks, *_rising(readings))
    return SensorLook(curve.kind, points, remarks, readings)


def _rising(readings: tuple[tuple[float, float, float], ...]) -> list[Remark]:
    """Ohms that rise with the heat are possible, and more often two readings changed over."""
    by_heat = sorted(readings)
    if len(by_heat) < 2 or by_heat[0][1] >= by_heat[-1][1]:
        return []
    return [Remark("rising", "readings", "fewer ohms the hotter, as nearly all vehicle sensors have",
                   "more ohms the hotter", "look whether two readings are changed over; if they are "
                   "right, go on")]  # fmt: skip


def rows(snapshot: Snapshot, cautions_read: bool) -> list[Row]:
    """All rows from top to bottom, as things stand."""
    return [
        _cautions(cautions_read, snapshot), _reach(snapshot), _sensor(snapshot), _module(snapshot),
        _lines(snapshot), _board(snapshot), *_measured(snapshot), _case(snapshot),
    ]  # fmt: skip


def _cautions(read: bool, snapshot: Snapshot) -> Row:
    away = snapshot.glance is not None and snapshot.glance.standing_in and not snapshot.hidden
    if away and not read:
        return Row("cautions", "missing", "and the stand-in is on: press a once they are read",
                   "read them: ?  then press a")  # fmt: skip
    return Row("cautions", "ready" if read else "missing",
               "two people on the road; the truth is hidden while standing in; manual and law first",
               "read them: ?  then press a")  # fmt: skip


def _reach(snapshot: Snapshot) -> Row:
    place, virtual = snapshot.setup.reach, snapshot.virtual
    if not place and virtual:
        return Row("reach", "ready", "the virtual van's sensor plug")
    if not place:
        return Row("reach", "missing", "where you can get at the circuit is not told",
                   "type: reach sensor, reach module, reach splice or reach nowhere")  # fmt: skip
    name, means = PLACES[place]
    return Row("reach", "ready", f"{name}: {means}")


def _sensor(snapshot: Snapshot) -> Row:
    known = not any(r.code == "sensor_assumed" for r in snapshot.circuit_remarks)
    told = snapshot.setup.sensor or snapshot.sheets.get("sensor", "")
    return Row("sensor", "ready" if known and told else "missing",
               told if known and told else "none told: the commonest is taken, degrees are a rough guide",
               "type: sensor 20C=2.5k,82C=300  or  sensor NAME")  # fmt: skip


def _module(snapshot: Snapshot) -> Row:
    known = not any(r.code == "pull_up_assumed" for r in snapshot.circuit_remarks)
    told = snapshot.sheets.get("module", "")
    return Row("module", "ready" if known and told else "missing",
               told if known and told else "pull-up not measured: 1 kohm to 5 V is assumed for currents",
               "meter on the open plug: volts; then with a resistor of 2.4k across its pins: volts.\n"
               "type: module 5.02 2.4k:2.37  or  module NAME")  # fmt: skip


def _lines(snapshot: Snapshot) -> Row:
    told = snapshot.sheets.get("vehicle", "") or snapshot.setup.vehicle
    return Row("lines", "ready" if told else "missing",
               told or "what the watched lines mean is not told: kick-outs are not counted",
               "type: vehicle NAME. To learn one: drive through the states, then\n"
               "`locum learn lines DRIVE --state 'top gear@120-300'` writes the sheet")  # fmt: skip


def _board(snapshot: Snapshot) -> Row:
    if snapshot.phase == "recording":
        kind = "VIRTUAL BOARD, in an invented van" if snapshot.virtual else snapshot.board
        return Row("board", "ready", kind)
    newest = snapshot.remarks[-1].text if snapshot.remarks else "not opened"
    return Row("board", "missing", snapshot.trouble_words or newest,
               "plug it in; `locum find` looks for it, `locum checkup` tells why it is not found.\n"
               "type: board PORT  or  board virtual")  # fmt: skip


def _measured(snapshot: Snapshot) -> list[Row]:
    """What the board itself says: calibrated, self-test, line, supply, record."""
    glance = snapshot.glance
    if glance is None:
        return []
    raw = any(r.code == "not_calibrated" for r in snapshot.circuit_remarks)
    made = [Row("calibrated", "missing" if raw else "ready",
                "nominal values, up to 20 % off" if raw else "the board's own tables",
                "leave with q, then run: locum calibrate. Two minutes, nothing connected")]  # fmt: skip
    if glance.state == "tripped":
        remark = trip_remark(glance.cause)
        made.append(Row("let go", "refused", remark.found, remark.remedy))
    if math.isfinite(glance.node_v):
        safe = -0.5 < glance.node_v < 5.3
        made.append(Row("line", "ready" if safe else "refused", f"{glance.node_v:.2f} V",
                        "look for a short to supply; only listen until it is found"))  # fmt: skip
    supply = {"host": "this computer", "power_bank": "a power bank"}.get(glance.supply, "not known")
    made.append(Row("supply", "ready", supply))
    made.append(Row("record", "refused" if glance.trouble else "ready",
                    glance.trouble or "written down as it comes", "free some disk space"))  # fmt: skip
    return made


def _case(snapshot: Snapshot) -> Row:
    return Row("case", "ready" if snapshot.case_id else "missing",
               snapshot.case_title or snapshot.case_id or "not needed yet: the recording is filed later", "press 4")  # fmt: skip


def changed_setup(setup: Setup, line: str) -> Setup:
    """The setup after a typed line of ``LINES``.

    Raises LocumError in plain words if it cannot be understood; the setup is then unchanged.
    """
    word, _, rest = line.strip().partition(" ")
    word, rest = word.lower(), rest.strip()
    refused = refused_circuit(line) if word not in ("board", "vehicle") else None
    if refused is not None:
        raise LocumError(refused)
    if word == "sensor" and rest:
        look_at_sensor(rest)
        return replace(setup, sensor=rest)
    if word == "module" and rest:
        return replace(setup, module=measured_module(rest))
    if word == "reach" and rest:
        return replace(setup, reach=place_of(rest))
    if word == "circuit" and rest:
        named = circuit_of(rest)
        return replace(setup, circuit=named.sheet or named.words)
    if word == "vehicle" and rest:
        none = rest.lower() == "none"
        return replace(setup, vehicle=None if none else _known("vehicle", rest))
    if word == "board" and rest:
        return replace(setup, board=None if rest.lower() == "none" else rest)
    raise Misuse(
        Remark("prepare", "", "one of " + "; ".join(LINES), f"'{line}'", "type it like that")
    )


def _known(kind: str, name: str) -> str:
    find_sheet(kind, name)
    return name


def understood(setup: Setup, line: str) -> str:
    """What a typed line was taken for, in words."""
    word, _, rest = line.strip().partition(" ")
    if word.lower() == "reach":
        name, means = PLACES[setup.reach]
        return f"understood: {name}. {means}"
    return f"understood: {word.lower()} {rest.strip()}"
