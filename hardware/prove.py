"""Prove the reference circuit with ngspice: every result beside its limit.

    python hardware/prove.py                    all proofs, about half a minute
    python hardware/prove.py --only coil        one of them
    python hardware/prove.py --plant NAME       with a mistake planted: must fail
    python hardware/prove.py --plants           list the mistakes that can be planted

The circuits are made from the data in `hardware/circuit`, never typed. The last line sums up; the
exit code is 1 if a limit is missed, 3 if ngspice is not there.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from circuit.model import Circuit
from circuit.reference import reference
from circuit.rules import check
from proofs import accuracy, coil, contacts, loading, stress
from proofs.deck import Row, SimulationFailed, SimulatorMissing
from proofs.plants import PLANTS

PROOFS: dict[str, tuple[str, Callable[[Circuit], list[Row]]]] = {
    "loading": ("Loading of the sensor's line", loading.rows),
    "accuracy": ("Errors of node, ohmmeter and thresholds over tolerances", accuracy.rows),
    "stress": ("Currents, terminals, batteries on leads, discharge", stress.rows),
    "contacts": ("Changeover, edges, trip", contacts.rows),
    "coil": ("The coil's pump, the plug pulled, the carrier in reset", coil.rows),
}


def prove(circuit: Circuit, only: list[str]) -> tuple[int, list[str]]:
    """Run and print; returns how many results there were and what failed."""
    failed: list[str] = []
    broken = check(circuit)
    print("Rule check")
    print("\n".join(f"  BROKEN  {sentence}" for sentence in broken) or "  clean")
    failed += broken
    count = 0
    for name in only:
        title, rows = PROOFS[name]
        print(f"\n{title}")
        try:
            results = rows(circuit)
        except SimulationFailed as trouble:
            failed.append(f"{name}: no answer from ngspice")
            print(f"  BROKEN  no answer from ngspice: {str(trouble).splitlines()[0]}")
            continue
        for row in results:
            print_row(row)
            count += 1
            if not row.ok:
                failed.append(row.what)
    return count, failed


def print_row(row: Row) -> None:
    mark = "ok" if row.ok else "MISSED"
    print(
        f"  {mark:6}  {row.what:64} {row.found:9.4g} {row.unit:5} {row.limit:>16}   {row.note}".rstrip()
    )


def arguments(argv: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="hardware/prove.py", description="Prove the reference circuit with ngspice."
    )
    parser.add_argument("--only", action="append", choices=list(PROOFS), help="run one proof")
    parser.add_argument("--plant", choices=list(PLANTS), help="plant a mistake: must fail")
    parser.add_argument("--plants", action="store_true", help="list the mistakes")
    return parser.parse_args(argv)


def main(argv: list[str] | None = None) -> int:
    asked = arguments(argv)
    if asked.plants:
        for name, plant in PLANTS.items():
            print(f"{name:28} {(plant.__doc__ or '').strip()}")
        return 0
    started = time.monotonic()
    circuit = reference()
    if asked.plant:
        circuit = PLANTS[asked.plant](circuit)
        print(f"Planted: {(PLANTS[asked.plant].__doc__ or '').strip()}\n")
    try:
        count, failed = prove(circuit, asked.only or list(PROOFS))
    except SimulatorMissing as missing:
        print(missing, file=sys.stderr)
        return 3
    seconds = time.monotonic() - started
    if failed:
        print(f"\n{len(failed)} of {count} results outside their limits: {'; '.join(failed)}")
        return 1
    print(f"\nAll {count} results within their limits, rule check clean, {seconds:.0f} s.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
