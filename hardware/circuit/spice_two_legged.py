"""Resistors, capacitors, diodes and fuses as ngspice elements."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from .model import Part

if TYPE_CHECKING:
    from .spice import Elements


def resistor(e: Elements, part: Part) -> None:
    a, b = e.both(part)
    e.put(f"r_{part.ref.lower()} {a} {b} {part.si:.10g}")


def capacitor(e: Elements, part: Part) -> None:
    a, b = e.both(part)
    e.put(f"c_{part.ref.lower()} {a} {b} {part.si:.10g}")


def pair(model: str) -> Callable[[Elements, Part], None]:
    def emit(e: Elements, part: Part) -> None:
        low, high, middle = (e.at(part, pin) for pin in "AKM")
        e.put(f"d_{part.ref.lower()}_l {low} {middle} {model}")
        e.put(f"d_{part.ref.lower()}_h {middle} {high} {model}")

    return emit


def single(model: str) -> Callable[[Elements, Part], None]:
    def emit(e: Elements, part: Part) -> None:
        e.put(f"d_{part.ref.lower()} {e.at(part, 'A')} {e.at(part, 'K')} {model}")

    return emit


def tvs(e: Elements, part: Part) -> None:
    """For each direction a diode behind a source of the breakdown voltage; leakage at 5 V as a
    resistor. (Two zeners back to back leave a node between them that ngspice settles badly.)"""
    ref, f = part.ref.lower(), part.kind.figures
    model = f"tvs{f['breakdown_v']:.0f}"
    ohm = (f["clamp_v"] - f["breakdown_v"] - 0.1) / f["clamp_a"]
    e.models[model] = f".model {model} d(is=1e-14 n=1 rs={ohm:.4g} cjo=100p)"
    a, b = e.both(part)
    for number, (high, low) in enumerate(((a, b), (b, a))):
        e.put(f"d_{ref}_{number} {high} {ref}_{number} {model}")
        e.put(f"v_{ref}_{number} {ref}_{number} {low} {f['breakdown_v'] - 0.65:.4g}")
    e.put(f"r_{ref} {a} {b} {5 / f['leak_a']:.4g}")


def zener(e: Elements, part: Part) -> None:
    f = part.kind.figures
    model = f"z{f['breakdown_v'] * 10:.0f}"
    e.models[model] = (
        f".model {model} d(is=1e-12 n=1.2 bv={f['breakdown_v']} ibv=5m rs={f['impedance_ohm']})"
    )
    e.put(f"d_{part.ref.lower()} {e.at(part, 'A')} {e.at(part, 'K')} {model}")


def fuse(e: Elements, part: Part) -> None:
    """Cold resistance; opens when the excess over twice its rating has brought its melting I2t."""
    ref, f = part.ref.lower(), part.kind.figures
    a, b = e.both(part)
    e.models[f"{ref}sw"] = f".model {ref}sw sw(vt=-0.5 vh=0.5 ron={f['cold_ohm']} roff=1e10)"
    e.put(f"v_{ref} {a} {ref}_m 0")
    e.put(f"s_{ref} {ref}_m {b} 0 {ref}_q {ref}sw on")
    excess = f"max(0, i(v_{ref})*i(v_{ref})-{(2 * f['hold_a']) ** 2:.4g})"
    e.put(f"b_{ref} 0 {ref}_q i = {excess}*{1e-6 / f['melt_a2s']:.6g}")
    e.put(f"c_{ref} {ref}_q 0 1u")
    e.put(f"r_{ref}_q {ref}_q 0 1e9")
    e.put(f".ic v({ref}_q)=0")
