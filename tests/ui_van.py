"""`locum` on a virtual board whose engine runs under MicroPython, in a van that kicks out soon.

Started by the tests in a terminal of its own: ``python ui_van.py WITNESS ARGUMENTS-OF-LOCUM``. The
program is the real one; only what the virtual board is made of differs: another interpreter for its
engine, a fault that comes every minute instead of every half hour, and the independent monitor, whose
findings are in the file WITNESS when the program has gone.
"""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from functools import partial
from pathlib import Path

import monitor
from locum import cli
from locum.bodies import virtual
from locum.jobs import connection
from locum.virtual.scenarios import make_demo_world
from locum.virtual.world import World


def lively_world(seed: int) -> World:
    """The demo's van on one road without stops, warm, its fault as frequent as a test has patience."""
    facts = make_demo_world(seed).truth.facts
    fault = replace(facts.fault, culprit="harness", bursts_per_exposed_h=40.0, drive_shape=1e6,
                    after_min=0.2, length_median_s=0.6, length_sigma=0.1)  # fmt: skip
    driver = replace(facts.driver, own_downshifts_per_h=0.0)
    trip = replace(facts.trip, all_road=True)
    world = World(replace(facts, fault=fault, driver=driver, trip=trip), seed)
    world.tell("engine_start", cold_c=75.0)
    world.tell("drive")
    return world


def main(witness: str, arguments: list[str]) -> int:
    """Run `locum` with these arguments; the exit code."""
    watched: list[monitor.Monitor] = []
    bodies: list[virtual.VirtualBody] = []
    made = connection.virtual_connection

    def watch(body) -> None:
        bodies.append(body)
        watched.append(monitor.attach(body))

    def with_witness(*given, **options):
        return made(*given, **options, monitor=watch)

    virtual.VirtualBody = partial(virtual.VirtualBody, interpreter="micropython")  # type: ignore[misc]
    connection.virtual_connection = with_witness
    connection._desk_world = lively_world
    try:
        return cli.main(arguments)
    finally:
        told = {
            "stretches": [one.stretches for one in watched],
            "breaches": [breach for one in watched for breach in one.breaches],
            "energised": [bool(body.hands.energised) for body in bodies],
            "engines": [Path(body.engine._process.args[0]).name for body in bodies],
        }
        Path(witness).write_text(json.dumps(told), encoding="utf-8")


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1], sys.argv[2:]))
