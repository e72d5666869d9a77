"""The chips that watch and feed, as ngspice elements: amplifiers, comparators, converter, supply."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .model import NC, Part

if TYPE_CHECKING:
    from .spice import Elements

RUNAWAY_V = 6.0
"""What a supply without its divider gives. [V]"""


def opamp(e: Elements, part: Part) -> None:
    """Both halves as followers of their + input within the rails; input diodes, capacitance, bias.
    State: offset of half A in volt (for tolerances)."""
    ref, f = part.ref.lower(), part.kind.figures
    supply = e.at(part, "VDD")
    e.put(f"v_{ref}_off {ref}_off 0 {e.states.get(part.ref, 0.0)}")
    for half in "AB":
        plus, out = e.at(part, f"IN{half}P"), e.at(part, f"OUT{half}")
        if plus == "0":
            continue
        e.put(f"b_{ref}{half.lower()} {ref}_o{half.lower()} 0 v = "
              f"max({f['low_v']}, min(v({plus})+v({ref}_off), v({supply})-{f['low_v']}))"
              f"*(0.5+0.5*tanh((v({supply})-2)/0.1))")  # fmt: skip
        e.put(f"r_{ref}{half.lower()} {ref}_o{half.lower()} {out} 10")
        e.put(f"d_{ref}{half.lower()}h {plus} {supply} dchip")
        e.put(f"d_{ref}{half.lower()}l 0 {plus} dchip")
        e.put(f"c_{ref}{half.lower()} {plus} 0 {f['input_pf'] + 3:g}p")
        e.put(f"i_{ref}{half.lower()} 0 {plus} {f['bias_a']:g}")


def comparators(e: Elements, part: Part) -> None:
    ref, f = part.ref.lower(), part.kind.figures
    for pin in part.kind.pins:
        if not pin.name.startswith("OUT") or part.net(pin.name) == NC:
            continue
        cell = pin.name[3:]
        plus, minus = (e.at(part, f"IN{cell}{sign}") for sign in "PN")
        own = f"{ref}_{cell.lower()}"
        e.put(f"b_{own} {own} 0 v = 0.5+0.5*tanh((v({minus})-v({plus}))/2m)")
        e.put(f"r_{own} {own} {own}_q 1k")
        e.put(f"c_{own} {own}_q 0 {f['delay_us'] / 0.69 * 1e-9:.4g}")
        e.put(f"s_{own} {e.at(part, pin.name)} 0 {own}_q 0 sink")


def adc(e: Elements, part: Part) -> None:
    """Clamp diodes of every channel, and leakage of channel 0 (state, ampere)."""
    ref, supply = part.ref.lower(), e.at(part, "VDD")
    for channel in range(8):
        if part.net(f"CH{channel}") == NC:
            continue
        node = e.at(part, f"CH{channel}")
        e.put(f"d_{ref}_{channel}h {node} {supply} dchip")
        e.put(f"d_{ref}_{channel}l 0 {node} dchip")
        e.put(f"r_{ref}_{channel} {node} 0 1e11")
    e.put(f"i_{ref}_0 0 {e.at(part, 'CH0')} {e.states.get(part.ref, 0.0):g}")


def supply(e: Elements, part: Part) -> None:
    """Regulated by its divider while its input is above 2 V; nothing flows back."""
    ref, source = part.ref.lower(), e.at(part, "VIN")
    volts = _divider_v(e, part) * (1 + e.states.get(part.ref, 0.0))
    e.put(f"b_{ref} {ref}_o 0 v = {volts:.6g}*(0.5+0.5*tanh((v({source})-2)/0.05))")
    e.put(f"r_{ref} {ref}_o {ref}_w 1")
    e.put(f"d_{ref} {ref}_w {e.at(part, 'VOUT')} dway")


def _divider_v(e: Elements, part: Part) -> float:
    """What a supply's divider sets; without a whole divider it runs away. [V]"""
    fb, out = part.net("FB"), part.net("VOUT")
    ohms = {
        r.other_net(fb): r.si for r in e.circuit.of_kind("res_") if fb in r.nets.values() and r.si
    }
    if not {out, "GND"} <= ohms.keys():
        return RUNAWAY_V
    return part.kind.figures["reference_v"] * (1 + ohms[out] / ohms["GND"])
