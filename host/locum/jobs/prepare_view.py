"""What must be true before anything is connected: one row each, with its word and the way to fix it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from locum.errors import LocumError, Misuse, Remark
from locum.jobs.circuit import open_sensor
from locum.jobs.desk_facts import Setup, Snapshot
from locum.jobs.files import write_text
from locum.jobs.modules import measure, module_text
from locum.jobs.reach import refused_circuit
from locum.locations import workshop_sheets


@dataclass(frozen=True)
class Row:
    name: str
    word: str
    """ready, missing or refused."""
    detail: str
    fix: str = ""


@dataclass(frozen=True)
class SensorLook:
    """A sensor as typed: its curve at a few temperatures, and every doubt about it."""

    kind: str
    points: tuple[tuple[float, float], ...]
    """(degC, ohm) every 20 K."""
    remarks: tuple[Remark, ...]


def look_at_sensor(words: str) -> SensorLook:
    """The curve of a sheet or of typed readings, at once."""
    sensor = open_sensor(words)
    low, high = max(sensor.curve.domain_c[0], -40.0), min(sensor.curve.domain_c[1], 140.0)
    celsius = [c for c in range(-40, 141, 20) if low <= c <= high]
    points = tuple((float(c), float(sensor.curve.resistance_ohm(float(c)))) for c in celsius)
    return SensorLook(sensor.curve.kind, points, sensor.remarks)


def rows(snapshot: Snapshot, cautions_read: bool) -> list[Row]:
    """All rows from top to bottom, as things stand."""
    setup, glance = snapshot.setup, snapshot.glance
    codes = {remark.code: remark for remark in snapshot.circuit_remarks}
    made = [
        Row("cautions", "ready" if cautions_read else "missing",
            "two people on the road; the truth is hidden while standing in; manual and law first",
            "" if cautions_read else "read them: ?  then press a"),
        Row("sensor", "missing" if "sensor_assumed" in codes else "ready", setup.sensor or "none told",
            "type: sensor 20C=2.5k,82C=300  or  sensor NAME"),
        Row("module", "missing" if "pull_up_assumed" in codes else "ready",
            setup.module or "1 kohm to 5 V assumed",
            "type: module 5.02 2.4k:2.37  (volts open, resistor:volts)  or  module NAME"),
        Row("lines", "ready" if setup.vehicle else "missing",
            setup.vehicle or "what the watched lines mean is not told", "type: vehicle NAME"),
    ]  # fmt: skip
    made.append(_board(snapshot))
    calibrated = "not_calibrated" not in codes
    made.append(
        Row(
            "calibrated",
            "ready" if calibrated else "missing",
            "the board's own tables" if calibrated else "nominal values, up to 20 % off",
            "" if calibrated else "leave, then run: locum calibrate",
        )  # fmt: skip
    )
    if glance is not None:
        safe = -0.5 < glance.node_v < 5.3
        made.append(
            Row(
                "line",
                "ready" if safe else "refused",
                f"{glance.node_v:.2f} V",
                "" if safe else "look for a short to supply; only listen",
            )  # fmt: skip
        )
        made.append(Row("supply", "ready", glance.supply.replace("_", " ")))
        disk = "refused" if glance.trouble else "ready"
        made.append(Row("record", disk, glance.trouble or "written down as it comes"))
    made.append(
        Row(
            "case",
            "ready" if snapshot.case_id else "missing",
            snapshot.case_id or "the recording is filed later",
            "press 4",
        )  # fmt: skip
    )
    return made


def _board(snapshot: Snapshot) -> Row:
    if snapshot.phase == "recording":
        kind = "VIRTUAL BOARD, an invented van" if snapshot.virtual else snapshot.board
        return Row("board", "ready", kind)
    newest = snapshot.remarks[-1].text if snapshot.remarks else "not opened"
    return Row("board", "missing", newest, "plug it in; `locum find` and `locum checkup` help")


def changed_setup(setup: Setup, line: str) -> Setup:
    """The setup after a typed line: sensor ..., module ..., vehicle ..., board ....

    Raises LocumError in plain words if it cannot be understood; the setup is then unchanged.
    """
    word, _, rest = line.strip().partition(" ")
    rest = rest.strip()
    if word == "sensor" and rest:
        look_at_sensor(rest)
        return replace(setup, sensor=rest)
    if word == "module" and rest:
        return replace(setup, module=_module(rest))
    if word in ("vehicle", "board") and rest:
        return replace(setup, **{word: None if rest == "none" else rest})
    refused = refused_circuit(line)
    if refused is not None:
        raise LocumError(refused)
    raise Misuse(
        Remark(
            "prepare",
            line,
            "sensor 20C=2.5k,82C=300, module 5.02 2.4k:2.37, vehicle NAME or board PORT",
            f"'{line}'",
            "type it like that",
        )  # fmt: skip
    )


def _module(text: str) -> str:
    """A module by name, or measured now from typed readings and kept as a sheet of the workshop."""
    parts = text.split()
    if len(parts) == 1:
        return parts[0]
    found = measure(float(parts[0].replace(",", ".")), parts[1:])
    if found.refusals:
        raise LocumError(found.refusals)
    from locum.physics.circuit import Thevenin

    source = Thevenin(found.voc_v, found.rth_ohm, found.u_voc_v, found.u_rth_ohm)
    path = workshop_sheets() / "modules" / "measured.toml"
    write_text(path, module_text(source, "Measured here"))
    return str(path)
