"""Make everything that is made from the circuit data.

    python hardware/build.py            write what has changed, say what
    python hardware/build.py --check    write nothing; exit 1 if a file is not as it should be

Makes: `netlists/*.net` (KiCad's format), `bom/*.csv`, `circuits/*.cir` (ngspice), `drawings/*.svg`,
and the pin tables and watch lines of `boards/*.toml`. Running it twice changes nothing.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from circuit.bom import as_csv, cost_eur
from circuit.model import Circuit
from circuit.netlist import kicad_netlist
from circuit.reference import reference
from circuit.rules import check
from circuit.sheets import merged
from circuit.starter import starter
from drawing import drawings
from proofs import accuracy, battery, coil, contacts, leads, loading, standing

HERE = Path(__file__).parent


def made(folder: Path = HERE) -> dict[str, str]:
    """Relative file name to text, of everything generated. Board sheets are read from `folder`."""
    found: dict[str, str] = {}
    for circuit in (reference(), starter()):
        found[f"netlists/{circuit.name}.net"] = kicad_netlist(circuit)[0]
        found[f"bom/{circuit.name}.csv"] = as_csv(circuit)
        found |= {f"drawings/{name}": text for name, text in drawings(circuit).items()}
    found |= {f"circuits/{name}.cir": text for name, text in decks(reference()).items()}
    for board in ("reference", "starter", "pi"):
        path = folder / "boards" / f"{board}.toml"
        old = path.read_text(encoding="utf-8") if path.exists() else ""
        found[f"boards/{board}.toml"] = merged(old, board)
    return found


def decks(circuit: Circuit) -> dict[str, str]:
    """The ngspice files of the proofs, to be run and changed by hand: `ngspice circuits/x.cir`."""

    def rng() -> np.random.Generator:
        return np.random.default_rng(accuracy.SEED)

    return {
        "loading_powered": loading.deck(circuit, True).text(),
        "loading_dead": loading.deck(circuit, False).text(),
        "node_tolerances": accuracy.node_deck(circuit, rng()).text(),
        "ohmmeter_tolerances": accuracy.ohm_deck(circuit, rng()).text(),
        "watch_threshold": accuracy.watch_deck(circuit, {}, 3.3).text(),
        "hot_end_currents": standing.current_deck(circuit).text(),
        "battery_on_line": battery.battery_deck(circuit, 14.5).text(),
        "discharge_line": leads.discharge_deck(circuit, "line").text(),
        "changeover_mbb": contacts.changeover_deck(circuit, "relay_mbb", 1000.0).text(),
        "changeover_bbm": contacts.changeover_deck(circuit, "relay_bbm", 1000.0).text(),
        "edge_open": contacts.edge_deck(circuit, "conn").text(),
        "edge_short": contacts.edge_deck(circuit, "short").text(),
        "trip": contacts.trip_deck(circuit).text(),
        "pump_stopped_high": coil.pump_deck(circuit, "high", "low").text(),
        "pump_stopped_low": coil.pump_deck(circuit, "low", "low").text(),
        "usb_pulled": coil.unplugged_deck(circuit).text(),
        "carrier_in_reset": coil.reset_deck(circuit).text(),
    }


def main(argv: list[str] | None = None) -> int:
    checking = "--check" in (sys.argv[1:] if argv is None else argv)
    broken = [s for circuit in (reference(), starter()) for s in check(circuit)]
    if broken:
        print("Rule check broken:\n  " + "\n  ".join(broken))
        return 1
    stale = []
    for name, text in made().items():
        path = HERE / name
        if path.exists() and path.read_text(encoding="utf-8") == text:
            continue
        stale.append(name)
        if not checking:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, encoding="utf-8")
    for circuit in (reference(), starter()):
        print(f"{circuit.title}: {len(circuit.parts)} parts, {len(circuit.nets())} nets, rule check"
              f" clean, parts about {cost_eur(circuit):.0f} EUR (prices from memory)")  # fmt: skip
    print(f"{'not up to date' if checking else 'written'}: {', '.join(stale) or 'nothing'}")
    return 1 if checking and stale else 0


if __name__ == "__main__":
    sys.exit(main())
