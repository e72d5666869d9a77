"""``locum learn sensor`` and ``locum learn lines``: sheets learnt from a recording.

A warm-up that was listened to, with thermometer readings typed in, gives this sensor's own curve. A
drive in which somebody told the states as they came gives a vehicle sheet.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from locum.casebook.store import Store
from locum.errors import Misuse, Refused, Remark
from locum.jobs.capturing import circuit_of_drive
from locum.jobs.cases import open_casebook
from locum.jobs.circuit import open_sensor
from locum.jobs.context import ROLES, review_context
from locum.jobs.files import write_text
from locum.jobs.jsontext import Result
from locum.jobs.stored_record import chunks_of
from locum.physics.learn import learn_on_car
from locum.review import stream
from locum.review.chunk import DUTY, EDGE, OPEN_MILLIOHM, Chunk
from locum.review.context import LineSpec
from locum.review.learn import AROUND_MS, Learned, learn
from locum.settings import load_settings
from locum.sheets import values
from locum.sheets.sensor import sensor_text
from locum.sheets.vehicle import VehicleSheet, read_vehicle

NAMED_EVERY_MS = 2000
"""A span named by a person counts as one saying in so many milliseconds."""


@dataclass
class LearnSensorResult(Result):
    drive: str
    kind: str
    coefficients: dict[str, float]
    readings: list[dict[str, float]]
    """t_s, celsius, ohms and the curve's miss at each. [s, degC, ohm, K]"""
    worst_u_c: float
    """Largest expanded uncertainty (k = 2) between the coldest and the hottest reading. [K]"""
    span_c: tuple[float, float]
    prior: str
    out: str | None
    sentence: str
    warnings: list[Remark] = field(default_factory=list)


def readings_at(texts: list[str]) -> list[tuple[float, float]]:
    """(s, degC) of "600=82C,720=88C"; all faults at once."""
    pairs, remarks = [], []
    unit = load_settings().unit
    parts = [x for text in texts for x in re.split(r"[;,](?=\s*[^=,;]+=)", text)]
    for part in parts:
        left, _, right = part.partition("=")
        try:
            pairs.append((float(left), values.temperature_c(right, unit)))
        except (ValueError, Refused):
            remarks.append(Remark("reading", f"--at {part.strip()}", "seconds=temperature",
                                  part.strip() or "nothing", "type it like 600=82C"))  # fmt: skip
    if remarks:
        raise Misuse(remarks)
    return sorted(pairs)


def learn_sensor(
    drive: str, at: list[str], prior: str | None = None, u: float = 1.0, u_time: float = 5.0,
    lag: float = 0.0, out: str | None = None, casebook: str | None = None,
) -> LearnSensorResult:  # fmt: skip
    """This sensor's own curve; a sheet is written with ``out``."""
    pairs = readings_at(at)
    start = open_sensor(prior).curve if prior else None
    with open_casebook(casebook) as store:
        drive_id = store.drive_id_from(drive)
        t_s, ohms = temperature_track(store, drive_id)
    fit = learn_on_car(t_s, ohms, pairs, start, u, u_time, lag_s=lag)
    low, high = min(c for _, c in pairs), max(c for _, c in pairs)
    worst = float(np.max(2 * fit.curve.u_temperature_c(np.linspace(low, high, 25))))
    written = None
    if out:
        text = sensor_text(fit, Path(out).stem, f"learnt on the car, recording {drive_id}",
                           f"{len(pairs)} thermometer readings, within {worst:.1f} K (k = 2)")  # fmt: skip
        written = write_text(Path(out), text)
    rows = zip((t for t, _ in pairs), fit.celsius, fit.ohms, fit.residuals_c, strict=True)
    said = (f"{len(pairs)} readings from {low:.0f} to {high:.0f} degC give this sensor's own curve "
            f"within {worst:.1f} K between them.")  # fmt: skip
    return LearnSensorResult(
        drive_id, fit.kind, dict(fit.coefficients),
        [{"t_s": float(t), "celsius": float(c), "ohms": float(r), "miss_c": float(m)}
         for t, c, r, m in rows],
        worst, (low, high), prior or "", written, said, list(fit.warnings),
    )  # fmt: skip


def temperature_track(store: Store, drive_id: str) -> tuple[np.ndarray, np.ndarray]:
    """The real sensor's resistance about once a second, open and shorted moments left out."""
    context = review_context(circuit_of_drive(store, drive_id))
    track = stream.review(context, chunks_of(store, drive_id)).temperature
    ohms = track["milliohm"] / 1000
    good = (ohms > 1.0) & (track["milliohm"] < OPEN_MILLIOHM)
    return track["t_ms"][good] / 1000, ohms[good]


@dataclass
class LearnLinesResult(Result):
    drive: str
    states: list[dict]
    unnamed_s: dict[str, float]
    """Seconds that each pattern nobody named stood; bits in the order of the lines. [s]"""
    lines: list[str]
    out: str | None
    sentence: str
    warnings: list[Remark] = field(default_factory=list)


def spans_named(texts: list[str]) -> list[tuple[int, int, str]]:
    """(from ms, to ms, name) of "top gear@120-300"; all faults at once."""
    found, remarks = [], []
    for text in texts:
        match = re.match(r"^\s*(.+?)\s*@\s*(\d+(?:\.\d+)?)(?:\s*-\s*(\d+(?:\.\d+)?))?\s*$", text)
        begin = float(match[2]) if match else 0.0
        end = float(match[3]) if match and match[3] else begin
        if match is None or end < begin:
            remarks.append(Remark("state", f"--state {text}", "name@seconds or name@from-to", text,
                                  "type it like 'top gear@120-300'"))  # fmt: skip
            continue
        found.append((round(begin * 1000), round(end * 1000), match[1].strip("'\"")))
    if remarks:
        raise Misuse(remarks)
    return found


def moments_named(spans: list[tuple[int, int, str]]) -> list[tuple[int, str]]:
    """Sayings inside the spans, far enough from their beginning to mean nothing else."""
    made = []
    for begin, end, name in spans:
        first = min(begin + AROUND_MS, end)
        made += [(t, name) for t in range(first, end + 1, NAMED_EVERY_MS)] or [(end, name)]
    return sorted(made)


def learn_lines(
    drive: str, state: list[str], top: list[str] | None = None, line: list[str] | None = None,
    out: str | None = None, casebook: str | None = None,
) -> LearnLinesResult:  # fmt: skip
    """A vehicle sheet from a recording and the times at which each state stood."""
    spans = spans_named(state)
    names = list(dict.fromkeys(name for _, _, name in spans))
    held = top or names[:1]
    if strange := [name for name in held if name not in names]:
        raise Misuse(Remark("no_such_state", "--top", f"one of {', '.join(names)}",
                            ", ".join(strange), "name it with --state as well"))  # fmt: skip
    with open_casebook(casebook) as store:
        drive_id = store.drive_id_from(drive)
        vehicle = circuit_of_drive(store, drive_id).vehicle
        specs = _specs(store, drive_id, vehicle, line or [])
        record = edges_of(store, drive_id)
    learnt = learn(specs, record, moments_named(spans), held)
    text = vehicle_text(specs, learnt, Path(out).stem if out else "learnt", vehicle)
    fits = bool(learnt.patterns)
    if fits:
        read_vehicle(text, "learnt")  # what is written must be readable
    written = write_text(Path(out), text) if out and fits else None
    rows = [{"name": p.name, "lines": _levels(p, specs), "top": p.held} for p in learnt.patterns]
    said = f"{len(rows)} of {len(names)} states have a pattern of their own."
    return LearnLinesResult(
        drive_id, rows, learnt.seconds, [s.name for s in specs], written, said, list(learnt.remarks)
    )


def edges_of(store: Store, drive_id: str) -> Chunk:
    """The whole recording's lines in one chunk, without its samples."""
    parts = list(chunks_of(store, drive_id))
    end = max((c.end_ms for c in parts), default=0)
    edges = [np.empty(0, EDGE), *(c.edges for c in parts)]
    duties = [np.empty(0, DUTY), *(c.duties for c in parts)]
    return Chunk(0, end, edges=np.concatenate(edges), duties=np.concatenate(duties))


def _specs(store: Store, drive_id: str, vehicle: VehicleSheet | None, told: list[str]) -> list:
    """Lines to learn from: those told as NUMBER=NAME, else the recording's vehicle sheet's."""
    specs = {}
    for row in vehicle.lines if vehicle else ():
        specs[row.input] = LineSpec(row.input, row.name, int(row.active == "high"), row.kind,
                                    ROLES[row.role], row.debounce_ms)  # fmt: skip
    for text in told:
        number, _, rest = text.partition("=")
        if not number.strip().isdigit() or not 1 <= int(number) <= 6 or not rest.strip():
            raise Misuse(Remark("line", f"--line {text}", "NUMBER=NAME, 1 to 6", text,
                                "type it like '1=converter clutch' or '1=clutch:low'"))  # fmt: skip
        name, _, level = rest.strip().partition(":")
        specs[int(number)] = LineSpec(int(number), name, int(level != "low"), "switched", "output")
    if not any(spec.role == "output" for spec in specs.values()):
        raise Misuse(Remark("no_lines", "learn lines", "lines that are commanded outputs", "none",
                            "name them, such as --line '1=converter clutch'"))  # fmt: skip
    return [specs[number] for number in sorted(specs)]


def _levels(pattern, specs: list) -> dict[str, str]:
    names = {spec.line: spec.name for spec in specs}
    return {names[line]: "on" if on else "off" for line, on in pattern.levels}


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def vehicle_text(
    specs: list, learnt: Learned, title: str, before: VehicleSheet | None = None
) -> str:
    """The vehicle sheet as TOML; rule and limits of the recording's own sheet are kept."""
    role = {there: ours for ours, there in ROLES.items()}
    rows = ["schema = 1", f"title = {_quoted(title)}", ""]
    for s in specs:
        rows += ["[[line]]", f"input = {s.line}", f"name = {_quoted(s.name)}",
                 f"role = {_quoted(role.get(s.role, 'other'))}", f"kind = {_quoted(s.kind)}",
                 f"active = {_quoted('high' if s.on_level else 'low')}",
                 f"debounce_ms = {s.debounce_ms}", ""]  # fmt: skip
    for p in learnt.patterns:
        levels = ", ".join(f"{_quoted(k)} = {_quoted(v)}" for k, v in _levels(p, specs).items())
        rows += ["[[state]]", f"name = {_quoted(p.name)}", f"lines = {{ {levels} }}"]
        rows += ["top = true", ""] if p.held else [""]
    if before is not None:
        rule = before.exposure
        rows += ["[exposure]", f"after_min = {rule.after_min!r}"]
        rows += [f"above_c = {rule.above_c!r}"] if rule.above_c is not None else []
        if before.throttle is not None:
            rows += ["", "[throttle]", "idle_v = {!r}\nfull_v = {!r}".format(*before.throttle)]
        if before.highest_c is not None:
            rows += ["", "[limits]", f"highest_c = {before.highest_c!r}"]
    return "\n".join(rows) + "\n"
