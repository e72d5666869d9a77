"""What opens and closes, as ngspice elements: wires, wipers, relays, solid-state relays, MOSFETs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .model import Part

if TYPE_CHECKING:
    from .spice import Elements


def wire(e: Elements, part: Part) -> None:
    a, b = e.both(part)
    e.put(f"r_{part.ref.lower()} {a} {b} {'1e12' if e.states.get(part.ref) == 'open' else '1m'}")


def pots(e: Elements, part: Part) -> None:
    """Two rheostats with the chip's own clamp diodes. State: ohms of wiper 0 and 1, None = out."""
    ref, (first, second) = part.ref.lower(), e.states.get(part.ref, (None, None))
    supply = e.at(part, "VDD")
    for channel, ohm in ((0, first), (1, second)):
        wiper, low = e.node(part, f"P{channel}W"), e.node(part, f"P{channel}B")
        e.put(f"v_{ref}_{channel} {wiper} {ref}_{channel} 0")
        e.put(f"r_{ref}_{channel} {ref}_{channel} {low} {1e12 if ohm is None else ohm:.8g}")
        e.put(f"v_{ref}_{channel}c {wiper} {ref}_{channel}c 0")
        e.put(f"d_{ref}_{channel}h {ref}_{channel}c {supply} dchip")
        e.put(f"d_{ref}_{channel}l 0 {ref}_{channel}c dchip")
    e.put(f"r_{ref}_i {supply} 0 100k")


def relay(e: Elements, part: Part) -> None:
    """Contacts follow node `pos_<ref>`, 0 at rest and 1 energised. State: "rest", "energised",
    "bench" (the proof drives the node) or "coil" (the coil's current does, with hysteresis)."""
    ref, figures = part.ref.lower(), part.kind.figures
    state = e.states.get(part.ref, "rest")
    early, late = 0.02, 0.98
    open_nc, close_no = (late, early) if figures["overlap"] > 0 else (early, late)
    ron = figures["contact_ohm"]
    e.models[f"{ref}nc"] = f".model {ref}nc sw(vt=-{open_nc} vh=0 ron={ron} roff=1e13)"
    e.models[f"{ref}no"] = f".model {ref}no sw(vt={close_no} vh=0 ron={ron} roff=1e13)"
    for pole in (1, 2):
        com, nc, no = (e.node(part, f"{throw}{pole}") for throw in ("COM", "NC", "NO"))
        e.put(f"s_{ref}_nc{pole} {com} {nc} 0 pos_{ref} {ref}nc")
        e.put(f"s_{ref}_no{pole} {com} {no} pos_{ref} 0 {ref}no")
    if state in ("rest", "energised"):
        e.put(f"v_{ref}_pos pos_{ref} 0 {1 if state == 'energised' else 0}")
    elif state == "coil":
        _coil(e, part)


def _coil(e: Elements, part: Part) -> None:
    ref, f = part.ref.lower(), part.kind.figures
    middle = (f["pull_in_v"] + f["drop_out_v"]) / 2
    half = (f["pull_in_v"] - f["drop_out_v"]) / 2
    e.models[f"{ref}arm"] = f".model {ref}arm sw(vt={middle} vh={half} ron=0.1 roff=1e9)"
    e.put(f"r_{ref}_coil {e.at(part, 'COILP')} {ref}_l {f['coil_ohm']}")
    e.put(f"l_{ref}_coil {ref}_l {ref}_s {f['coil_h']}")
    e.put(f"v_{ref}_coil {ref}_s {e.at(part, 'COILN')} 0")
    e.put(f"b_{ref}_u {ref}_u 0 v = i(v_{ref}_coil)*{f['coil_ohm']}")
    e.put(f"s_{ref}_arm {ref}_one {ref}_want {ref}_u 0 {ref}arm off")
    e.put(f"v_{ref}_one {ref}_one 0 1")
    e.put(f"r_{ref}_want {ref}_want 0 100")
    # A first order lag: 98 % of the way in four time constants, slower than the part's own 3 ms.
    e.put(f"r_{ref}_pos {ref}_want pos_{ref} 1k")
    e.put(f"c_{ref}_pos pos_{ref} 0 {f['move_ms'] / 3 * 1e-6:.6g}")


def photomos(e: Elements, part: Part) -> None:
    """State: "on", "off" or "led" (the LED's current moves it, with the part's times)."""
    ref, f = part.ref.lower(), part.kind.figures
    a, b = e.at(part, "L1"), e.at(part, "L2")
    e.models[f"{ref}sw"] = f".model {ref}sw sw(vt=0.5 vh=0 ron={f['on_ohm']} roff=5e11)"
    e.put(f"s_{ref} {a} {b} g_{ref} 0 {ref}sw")
    state = e.states.get(part.ref, "off")
    if state != "led":
        e.put(f"v_{ref}_g g_{ref} 0 {1 if state == 'on' else 0}")
        return
    led, low = e.at(part, "A"), e.at(part, "K")
    rise, fall = f["on_ms"] * 1e-3 / 0.69, f["off_ms"] * 1e-3 / 0.69
    e.put(f"d_{ref} {led} {ref}_cath dled")
    e.put(f"v_{ref}_led {ref}_cath {low} 0")
    lit = f"u(i(v_{ref}_led)-{f['led_ma'] * 1e-3})"
    e.put(f"b_{ref} 0 g_{ref} i = {lit}*(1-v(g_{ref}))*{1e-6 / rise:.6g}"
          f" - (1-{lit})*v(g_{ref})*{1e-6 / fall:.6g}")  # fmt: skip
    e.put(f"c_{ref} g_{ref} 0 1u")
    e.put(f"r_{ref} g_{ref} 0 1e9")


def mosfet(e: Elements, part: Part) -> None:
    f, kind = part.kind.figures, part.kind.name
    low, high = f["threshold_low_v"], f["threshold_high_v"]
    vto = {"low": low, "high": high, "typ": (low + high) / 2}[e.threshold]
    sign = 1 if kind == "mosfet_n" else -1
    ref = part.ref.lower()
    drain, gate, source = (e.at(part, pin) for pin in "DGS")
    over = f"({sign}*v({gate},{source})-{vto:.3f})"
    # A conductance that grows from nothing below the threshold (70 mV a decade) to the data
    # sheet's at 2.5 V. Saturation is left out: here MOSFETs are switches.
    siemens = 1 / f["on_ohm"] / (2.5 - high)
    e.put(f"b_{ref} {drain} {source} i = v({drain},{source})*(1e-12+{siemens:.5g}*0.03"
          f"*ln(1+exp({over}/0.03)))")  # fmt: skip
    e.put(f"c_{ref} {gate} {source} 700p")
    body = (source, drain) if sign > 0 else (drain, source)
    e.put(f"d_{ref} {body[0]} {body[1]} dbody")
