"""``locum demo``: a whole case on the virtual board, by the same jobs a person would use.

Scenario, invented: a parcel van whose radiator fan runs and whose converter clutch lets go at
random, more in wet weather; the coolant sensor's circuit is suspected. The world keeps its secret;
what is concluded comes from the casebook alone.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from locum.casebook.store import Store
from locum.jobs import sensors
from locum.jobs.calibrated import with_calibration
from locum.jobs.calibrating import measure_board
from locum.jobs.case_report import case_page
from locum.jobs.circuit import Circuit, open_circuit
from locum.jobs.connection import Connection, virtual_connection
from locum.jobs.demo_drives import DemoCase, follow, further, listen, provoke, quiet, reverse
from locum.jobs.evidence import case_evidence
from locum.jobs.files import write_text
from locum.jobs.jsontext import Result, plain_json
from locum.jobs.modules import measure, module_text
from locum.locations import asset_root
from locum.physics.circuit import Thevenin
from locum.report import render_case
from locum.report.number_words import NOTHING_TO_COMPARE, nothing_to_compare, number_words
from locum.sheets.lookup import find_sheet
from locum.verdict.finding import Number
from locum.verdict.weigh import weigh

START = datetime(2026, 3, 2, 7, 30, tzinfo=UTC)
"""The scenario's own calendar."""
TITLE = "Parcel van: fan runs and converter clutch lets go at random"
COMPLAINT = {
    "words": "The fan comes on for no reason and at the same moment the engine revs up as if the "
    "gearbox let go. Only once it is warm, more often in the rain. No lamp, no codes.",
    "conditions": "warm engine, steady speed, worse when wet",
}
LOAD_OHM = 1000.0
METER_STEP_V = 0.01


@dataclass
class DemoResult(Result):
    title: str
    report: str
    customer_report: str
    casebook: str
    case: str
    drives: list[dict[str, Any]]
    verdict: dict[str, Any]
    numbers: list[str]
    simulated_s: float
    wall_s: float


def say(words: str) -> None:
    print(words, file=sys.stderr, flush=True)


def meter_readings(world) -> tuple[float, float]:
    """Volts at the open plug and with 1 kohm across its pins, as a hand meter shows them."""
    from locum.virtual.world import Load

    readings = []
    at_ms = 0
    for load in (Load("open"), Load("standin", LOAD_OHM)):
        scene = world.step(at_ms, at_ms + 2000, load)
        at_ms += 2000
        readings.append(round(float(scene.node_v[-500:].mean()) / METER_STEP_V) * METER_STEP_V)
    return readings[0], readings[1]


def prepare_sheets(
    folder: Path, seed: int, innocent: bool
) -> tuple[dict[str, str], dict[str, Any]]:
    """Fit the sensor from its published table, measure the module from two readings; the sheets and
    the readings."""
    from locum.virtual.scenarios import make_demo_world

    points = asset_root("profiles/sensors") / "coolant_2k5_published.csv"
    sensor = folder / "coolant_2k5.toml"
    fitted = sensors.fit(str(points), out=str(sensor))
    say(f"Sensor curve from its published table: worst residual {fitted.worst_c:.2f} K.")
    open_v, loaded_v = meter_readings(make_demo_world(seed, innocent))
    found = measure(open_v, [f"{LOAD_OHM:.0f}ohm:{loaded_v:.2f}"])
    say(f"Module: {open_v:.2f} V open, {loaded_v:.2f} V with 1 kohm: pull-up "
        f"{found.rth_ohm:.0f} ohm +- {2 * found.u_rth_ohm:.0f} (k = 2).")  # fmt: skip
    source = Thevenin(found.voc_v, found.rth_ohm, found.u_voc_v, found.u_rth_ohm)
    module = folder / "van_module.toml"
    write_text(module, module_text(source, "Parcel van engine module, measured"))
    readings = {
        "open": {"value": round(open_v, 2), "unit": "V", "note": "plug open, ignition on"},
        "1 kohm": {"value": round(loaded_v, 2), "unit": "V", "note": "resistor across its pins"},
    }
    return {"sensor": str(sensor), "module": str(module), "vehicle": "parcel_van"}, readings


def open_case(store: Store, sheets: dict[str, str], readings: dict[str, Any] | None = None) -> str:
    """The case with everything known before the first drive, sheets copied verbatim."""
    fields = {
        "title": TITLE, "workshop": "Example workshop", "technician": "demo",
        "vehicle": {"make": "invented", "model": "parcel van", "year": "2004"},
        "component": "coolant sensor circuit", "complaint": COMPLAINT,
        "tap": {"end": "module", "ground": "sensor return", "connector": "engine module plug"},
        "rule": {"minutes_after_start": 10, "above_c": 60},
    }  # fmt: skip
    if readings:
        fields["module_readings"] = readings
    case_id = store.new_case(fields, author="demo")
    for role, name in sheets.items():
        found = find_sheet(role, name)
        store.attach_sheet(case_id, role, found.name, found.text)
    return case_id


def demo(out: str | None = None, seed: int = 1, innocent: bool = False) -> DemoResult:
    """Play the whole case; raises the same errors as any other job."""
    from locum.virtual.scenarios import make_demo_world

    began = time.monotonic()
    folder = Path(out) if out else Path("locum-demo")
    folder.mkdir(parents=True, exist_ok=True)
    sheets, readings = prepare_sheets(folder, seed, innocent)
    circuit = open_circuit(sheets["sensor"], sheets["module"], sheets["vehicle"])
    world = make_demo_world(seed, innocent)
    connection = virtual_connection(world, circuit.board, seed, start_utc=START)
    with Store.open(folder / "casebook.sqlite", now=connection.clock.utc) as store:
        case_id = open_case(store, sheets, readings)
        simulated_s = play(DemoCase(store, case_id, circuit, connection, world, seed, say))
        result = finish(store, case_id, folder)
    result.simulated_s = simulated_s
    result.wall_s = time.monotonic() - began
    return result


def self_check(connection: Connection, circuit: Circuit) -> None:
    passed, words = connection.board.self_test()
    say(f"Board {connection.identity.model} {connection.identity.serial}: "
        f"self-check {'passed' if passed else 'FAILED'}{' - ' + words if words else ''}.")  # fmt: skip


def calibrated_circuit(case: DemoCase) -> Circuit:
    """The board measures its own network, as `locum calibrate` does; then its tables are used."""
    # a demo is the same whatever one that was cut off has left
    made, taken = measure_board(case.connection, case.circuit.board, resumable=False)
    assert made is not None
    case.store.add_calibration(case.connection.identity.serial, made.to_dict())
    say(f"Board calibrated from {taken} readings of itself.")
    return with_calibration(case.store, case.connection, case.circuit)


def play(case: DemoCase) -> float:
    """All drives in their order; simulated seconds."""
    self_check(case.connection, case.circuit)
    case.circuit = calibrated_circuit(case)
    listen(case, hours_wanted=1.5)
    provoke(case, hours_wanted=0.5, lengths_ms=case.lengths_to_give_ms())
    follow(case, hours_wanted=1.0)
    reverse(case, hours_wanted=0.5)
    further(case)
    if case.circuit_blamed():
        quiet(case, case.repair())
    return case.connection.clock.now_s()


def finish(store: Store, case_id: str, folder: Path) -> DemoResult:
    """Verdict and pages from the casebook alone."""
    verdict = weigh(case_evidence(store, case_id))
    store.add_finding(case_id, "verdict", plain_json(verdict.as_dict()), "locum")
    facts = case_page(store, case_id)
    page = facts.as_dict()
    report = write_text(folder / f"report-{case_id[-6:]}.html", render_case(page))
    customer = write_text(
        folder / f"report-{case_id[-6:]}-customer.html", render_case(page, style="customer")
    )
    write_text(folder / f"report-{case_id[-6:]}.json", json.dumps(page, indent=1))
    drives = [
        {"id": d.id, "kind": d.kind, "exposure_h": d.exposure_h, "kick_outs": d.kick_outs,
         "glitches": sum(not g.ours for g in d.glitches), "words": d.note,
         "given": sum(g.ours for g in d.glitches),
         "answered": sum(g.ours and bool(g.answered) for g in d.glitches)}
        for d in facts.drives
    ]  # fmt: skip
    numbers = [_number_line(n) for n in verdict.numbers]
    return DemoResult(
        title=TITLE, report=report, customer_report=customer,
        casebook=str((folder / "casebook.sqlite").resolve()), case=case_id, drives=drives,
        verdict=plain_json(verdict.as_dict()), numbers=numbers, simulated_s=0.0, wall_s=0.0,
    )  # fmt: skip


def _number_line(number: Number) -> str:
    """One number of the verdict as a line: what it is, its value, how it is to be read."""
    if nothing_to_compare(number.test, number.value, number.inputs):
        return f"{number_words(number.name)}: {NOTHING_TO_COMPARE}"
    value = f"{number.value:.4g} {number.unit}" if number.unit else f"p = {number.value:.2g}"
    convention = f" ({number.convention})" if number.convention else ""
    return f"{number_words(number.name)}: {value}{convention}"
