"""Electrical rule check of a circuit: what no drawing program knows about this board is here.

Each rule is a function from a circuit to sentences; an empty list is a clean board. The general
rules (two outputs on one net, an input that nothing drives) are SKiDL's, run by `netlist.py` when
the netlist is made.
"""

from __future__ import annotations

from collections.abc import Callable

from . import pins
from .model import NC, Circuit, Part

RAILS = {"GND", "3V3", "VREF", "VBUS", "VPOT"}
FIVE_VOLT = {"VPOT", "VBUS"}
VEHICLE_LEADS = {
    "reference": ("LINE", "SENS", "BATN", "THROTTLE", *(f"W{n}" for n in range(1, 7))),
    "starter": ("LINE", "W1", "W2"),
}
SUPPLY_PINS = {"VDD", "VCC", "VIN"}


def check(circuit: Circuit) -> list[str]:
    """All sentences of all rules; empty if the board is clean."""
    return [sentence for rule in RULES for sentence in rule(circuit)]


def lonely_nets(circuit: Circuit) -> list[str]:
    """A net with a single leg joins nothing; a misspelled name shows here."""
    return [
        f"net {net} has one leg only: {legs[0][0]}.{legs[0][1].name}"
        for net, legs in circuit.nets().items()
        if len(legs) < 2
    ]


def open_legs(circuit: Circuit) -> list[str]:
    """Inputs and supplies may not be left open; only spare outputs, contacts and pads may."""
    may = {"passive", "open_collector", "nc", "bidirectional", "power_out"}
    carriers = {"A1", "J5"}
    return [
        f"{part.ref}.{pin.name} ({pin.type}) is left open"
        for part in circuit.parts.values()
        for pin in part.kind.pins
        if part.nets[pin.name] == NC and pin.type not in may and part.ref not in carriers
    ]


def several_drivers(circuit: Circuit) -> list[str]:
    """No two outputs on a net; open collectors and three-state outputs may share one."""
    found = []
    for net, legs in circuit.nets().items():
        strong = [ref for ref, pin in legs if pin.type in ("output", "power_out") and ref != "A1"]
        if len(strong) > 1:
            found.append(f"net {net} is driven by {', '.join(strong)}")
    return found


def open_collectors_pulled(circuit: Circuit) -> list[str]:
    """An open collector needs a resistor to 3V3."""
    return [
        f"net {net} is an open collector's without a pull-up to 3V3"
        for net, legs in circuit.nets().items()
        if any(pin.type == "open_collector" for _, pin in legs) and not _pulls(circuit, net, "3V3")
    ]


def gates_held(circuit: Circuit) -> list[str]:
    """Every MOSFET gate has a resistor to the rail that turns it off, or a comparator on it."""
    found = []
    for part in circuit.of_kind("mosfet_"):
        off = "3V3" if part.kind.name == "mosfet_p" else "GND"
        gate = part.net("G")
        if gate != "TRIP" and not _pulls(circuit, gate, off):
            found.append(f"{part.ref}: gate {gate} has no resistor to {off} that turns it off")
    return found


def chips_supplied(circuit: Circuit) -> list[str]:
    """Each chip's supply pin is on a rail that has a 100 nF or larger ceramic."""
    found = []
    fed = {part.nets["1"] for part in circuit.of_kind("cap_") if (part.si or 0) >= 90e-9}
    for part in circuit.parts.values():
        if part.kind.prefix != "U":
            continue
        for pin in part.kind.pins:
            net = part.nets[pin.name]
            if pin.name in SUPPLY_PINS and (net not in RAILS - {"GND"} or net not in fed):
                found.append(f"{part.ref}.{pin.name} on {net}: no rail, or no capacitor there")
            if pin.name in ("VSS", "GND", "DGND", "AGND") and net != "GND":
                found.append(f"{part.ref}.{pin.name} is on {net}, wanted GND")
    return found


def decoupling_count(circuit: Circuit) -> list[str]:
    """At least one 100 nF per chip and rail, so that each chip can have one beside it."""
    need: dict[str, int] = {}
    have: dict[str, int] = {}
    for part in circuit.parts.values():
        if part.kind.prefix == "U" and part.kind.name != "charge_pump":
            rail = next(part.nets[p.name] for p in part.kind.pins if p.name in SUPPLY_PINS)
            need[rail] = need.get(rail, 0) + 1
        if part.kind.name == "cap_x7r" and part.si == 100e-9:
            have[part.nets["1"]] = have.get(part.nets["1"], 0) + 1
    return [
        f"{rail}: {count} chips but {have.get(rail, 0)} capacitors of 100 nF"
        for rail, count in need.items()
        if have.get(rail, 0) < count
    ]


def leads_protected(circuit: Circuit) -> list[str]:
    """Each lead from the vehicle has a TVS to ground, and no lead goes straight to a chip."""
    found = []
    nets = circuit.nets()
    for lead in VEHICLE_LEADS[circuit.name]:
        if lead not in nets:
            found.append(f"vehicle lead {lead} is missing")
            continue
        if not any(
            part.kind.model == "tvs" and set(part.nets.values()) == {lead, "GND"}
            for part in circuit.parts.values()
        ):
            found.append(f"vehicle lead {lead} has no TVS to GND")
        chips = [ref for ref, _ in nets[lead] if circuit[ref].kind.prefix in "UA"]
        if chips:
            found.append(f"vehicle lead {lead} goes straight to {', '.join(chips)}")
    return found


def ground_tap_fused(circuit: Circuit) -> list[str]:
    """The only way from the board's ground to the vehicle is F1; LINE has no fuse (series ohms)."""
    joins = [p for p in circuit.parts.values() if "CAR_RETURN" in p.nets.values()]
    kinds = sorted(part.kind.name for part in joins)
    if kinds != ["fuse_500", "tap_clip"] or "GND" in circuit["X1"].nets.values():
        return ["the ground tap is not fused by F1 alone"]
    return []


def stand_in_fused(circuit: Circuit) -> list[str]:
    """NO1 reaches pots, K3 and Rs only through F2."""
    on_net = {
        ref
        for ref, _ in circuit.nets().get("NO1", [])
        if ref != "K1" and circuit[ref].kind.model != "fuse"
    }
    return [f"NO1 reaches {ref} without a fuse" for ref in sorted(on_net)]


def rest_is_the_real_sensor(circuit: Circuit) -> list[str]:
    """Pole 1 at rest joins LINE to SENS; the other throws cross over."""
    relay = circuit["K1"]
    want = {"COM1": "LINE", "NC1": "SENS", "NO1": "NO1"}
    if circuit.name == "reference":
        want |= {"COM2": "OHM", "NC2": "NO1", "NO2": "SENS"}
    return [
        f"K1.{pin} is on {relay.nets[pin]}, wanted {net}"
        for pin, net in want.items()
        if relay.nets[pin] != net
    ]


def clamps_to_the_pots_rail(circuit: Circuit) -> list[str]:
    """NET is clamped to the rail the pots live on, and to ground, not to another."""
    rail = circuit["U1"].nets["VDD"]
    found = []
    for part in circuit.of_kind("clamp_pair"):
        high = rail if part.nets["M"] == "NET" else "3V3"
        if (part.nets["K"], part.nets["A"]) != (high, "GND"):
            found.append(f"{part.ref}: {part.nets['M']} clamped to {part.nets['K']}, wanted {high}")
    return found


def five_volts_kept_from_the_pico(circuit: Circuit) -> list[str]:
    """No output of a chip on 5 V is on a net of the carrier, unless an open collector."""
    carrier = {net for net in circuit["A1"].nets.values() if net != NC}
    return [
        f"{ref}.{pin.name} of a 5 V chip drives {net}, a pin of the carrier"
        for net, legs in circuit.nets().items()
        if net in carrier - RAILS
        for ref, pin in legs
        if pin.type in ("output", "tristate") and FIVE_VOLT & set(circuit[ref].nets.values())
    ]


def pins_as_published(circuit: Circuit) -> list[str]:
    """The carrier's legs are on the nets of the pin tables that the firmware is tested against."""
    found = []
    for ref, table, label in (
        ("A1", pins.pico_signals(circuit.name), "GP"),
        ("J5", pins.PI, "BCM"),
    ):
        if ref not in circuit.parts:
            continue
        for signal, number in table.items():
            net = circuit[ref].nets[f"{label}{number}"]
            if net != signal:
                found.append(f"{ref}.{label}{number} is on {net}, pin table says {signal}")
    return found


def boots_quietly(circuit: Circuit) -> list[str]:
    """On a booting Pi, outputs that switch something on sit on pins that are pulled to off."""
    found = []
    for signal in ("RELAY", "HEART", "CONN", "SHORT", "HOT1", "HOT2"):
        if pins.PI[signal] in pins.PI_BOOT_PULL_UP:
            found.append(f"{signal} is on BCM {pins.PI[signal]}, which a booting Pi pulls up")
    for signal in ("RANGE_1K5", "RANGE_12K", "RANGE_100K"):
        if pins.PI[signal] not in pins.PI_BOOT_PULL_UP:
            found.append(f"{signal} is on BCM {pins.PI[signal]}, which a booting Pi pulls down")
    return found


def _pulls(circuit: Circuit, net: str, rail: str) -> list[Part]:
    """Resistors up to 1 Mohm from `net` to `rail`, also behind one small series resistor."""
    near = {net}
    for part in circuit.of_kind("res_"):
        if net in part.nets.values() and (part.si or 0) <= 1000:
            near.add(part.other_net(net))
    near -= RAILS
    return [
        part
        for part in circuit.of_kind("res_")
        if rail in part.nets.values() and near & set(part.nets.values()) and (part.si or 0) <= 1e6
    ]


RULES: tuple[Callable[[Circuit], list[str]], ...] = (
    lonely_nets, open_legs, several_drivers, open_collectors_pulled, gates_held, chips_supplied,
    decoupling_count, leads_protected, ground_tap_fused, stand_in_fused, rest_is_the_real_sensor,
    clamps_to_the_pots_rail, five_volts_kept_from_the_pico, pins_as_published, boots_quietly,
)  # fmt: skip
