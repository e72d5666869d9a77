"""ngspice elements made from the circuit data.

Each kind of part names an emitter here (`model` in the catalogue). A proof asks for some blocks of
the board, says in what state relays, pots and solid-state relays are, and adds its own test bench
(module, sensor, battery). A part that is missing from the data is missing from the simulation, and
a leg on the wrong net is on the wrong net there too: nothing is repeated by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from .model import NC, Circuit, Part

MODELS = """\
.model dlow d(is=3e-15 n=1.1 rs=0.8 bv=180 ibv=1u cjo=2p)
.model dsw d(is=3e-9 n=1.8 rs=0.6 bv=100 ibv=1u cjo=2p)
.model dsch d(is=2e-7 n=1.05 rs=2 bv=30 ibv=10u cjo=8p)
.model dchip d(is=1e-15 n=1.1 rs=15 cjo=3p)
.model dled d(is=1e-19 n=1.25 rs=6)
.model dbody d(is=1e-13 n=1 rs=20m cjo=100p)
.model dway d(is=1e-12 n=0.05 rs=0.1)
.model hold sw(vt=0.5 vh=0.0 ron=1m roff=1e13)
.model sink sw(vt=0.5 vh=0.1 ron=45 roff=1e12)"""


def name(net: str) -> str:
    """The node name of a net: ground is 0, others in lower case and never a bare number."""
    if net == "GND":
        return "0"
    return ("n" + net if net[0].isdigit() else net).lower()


class Elements:
    """Collects element lines for parts of a circuit, each in the state the proof wants."""

    def __init__(self, circuit: Circuit, states: dict | None = None, threshold: str = "typ"):
        self.circuit = circuit
        self.states = states or {}
        self.threshold = threshold
        """Gate thresholds of the MOSFETs: "low", "typ" or "high"."""
        self.models: dict[str, str] = {}
        self.lines: list[str] = []
        self._loose = 0

    def blocks(self, *blocks: str, leave_out: Iterable[str] = ()) -> Elements:
        skip = set(leave_out)
        for part in self.circuit.of_block(*blocks):
            if part.ref not in skip and part.kind.model in EMITTERS:
                self._emit(part)
        return self

    def parts(self, *refs: str) -> Elements:
        for ref in refs:
            if ref in self.circuit.parts:
                self._emit(self.circuit[ref])
        return self

    def _emit(self, part: Part) -> None:
        EMITTERS[part.kind.model](self, part)

    def put(self, line: str) -> None:
        self.lines.append(line)

    def node(self, part: Part, pin: str) -> str:
        """The node of a leg; a leg that is left open gets a node of its own."""
        net = part.net(pin)
        if net != NC:
            return name(net)
        self._loose += 1
        self.put(f"rloose{self._loose} loose{self._loose} 0 1e12")
        return f"loose{self._loose}"

    def text(self) -> str:
        return "\n".join([MODELS, *self.models.values(), *self.lines])


def _resistor(e: Elements, part: Part) -> None:
    a, b = (name(net) for net in part.nets.values())
    e.put(f"r_{part.ref.lower()} {a} {b} {part.si:.10g}")


def _capacitor(e: Elements, part: Part) -> None:
    a, b = (name(net) for net in part.nets.values())
    e.put(f"c_{part.ref.lower()} {a} {b} {part.si:.10g}")


def _wire(e: Elements, part: Part) -> None:
    a, b = (name(net) for net in part.nets.values())
    e.put(f"r_{part.ref.lower()} {a} {b} {'1e12' if e.states.get(part.ref) == 'open' else '1m'}")


def _pots(e: Elements, part: Part) -> None:
    """Two rheostats with the chip's own clamp diodes. State: ohms of wiper 0 and 1, None = out."""
    ref, (first, second) = part.ref.lower(), e.states.get(part.ref, (None, None))
    supply = name(part.net("VDD"))
    for channel, ohm in ((0, first), (1, second)):
        wiper, low = e.node(part, f"P{channel}W"), e.node(part, f"P{channel}B")
        e.put(f"v_{ref}_{channel} {wiper} {ref}_{channel} 0")
        e.put(f"r_{ref}_{channel} {ref}_{channel} {low} {1e12 if ohm is None else ohm:.8g}")
        e.put(f"v_{ref}_{channel}c {wiper} {ref}_{channel}c 0")
        e.put(f"d_{ref}_{channel}h {ref}_{channel}c {supply} dchip")
        e.put(f"d_{ref}_{channel}l 0 {ref}_{channel}c dchip")
    e.put(f"r_{ref}_i {supply} 0 100k")


def _relay(e: Elements, part: Part) -> None:
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
    e.put(f"r_{ref}_coil {name(part.net('COILP'))} {ref}_l {f['coil_ohm']}")
    e.put(f"l_{ref}_coil {ref}_l {ref}_s {f['coil_h']}")
    e.put(f"v_{ref}_coil {ref}_s {name(part.net('COILN'))} 0")
    e.put(f"b_{ref}_u {ref}_u 0 v = i(v_{ref}_coil)*{f['coil_ohm']}")
    e.put(f"s_{ref}_arm {ref}_one {ref}_want {ref}_u 0 {ref}arm off")
    e.put(f"v_{ref}_one {ref}_one 0 1")
    e.put(f"r_{ref}_want {ref}_want 0 100")
    # A first order lag: 98 % of the way in four time constants, slower than the part's own 3 ms.
    e.put(f"r_{ref}_pos {ref}_want pos_{ref} 1k")
    e.put(f"c_{ref}_pos pos_{ref} 0 {f['move_ms'] / 3 * 1e-6:.6g}")


def _photomos(e: Elements, part: Part) -> None:
    """State: "on", "off" or "led" (the LED's current moves it, with the part's times)."""
    ref, f = part.ref.lower(), part.kind.figures
    a, b = name(part.net("L1")), name(part.net("L2"))
    e.models[f"{ref}sw"] = f".model {ref}sw sw(vt=0.5 vh=0 ron={f['on_ohm']} roff=5e11)"
    e.put(f"s_{ref} {a} {b} g_{ref} 0 {ref}sw")
    state = e.states.get(part.ref, "off")
    if state != "led":
        e.put(f"v_{ref}_g g_{ref} 0 {1 if state == 'on' else 0}")
        return
    led, low = name(part.net("A")), name(part.net("K"))
    rise, fall = f["on_ms"] * 1e-3 / 0.69, f["off_ms"] * 1e-3 / 0.69
    e.put(f"d_{ref} {led} {ref}_cath dled")
    e.put(f"v_{ref}_led {ref}_cath {low} 0")
    lit = f"u(i(v_{ref}_led)-{f['led_ma'] * 1e-3})"
    e.put(f"b_{ref} 0 g_{ref} i = {lit}*(1-v(g_{ref}))*{1e-6 / rise:.6g}"
          f" - (1-{lit})*v(g_{ref})*{1e-6 / fall:.6g}")  # fmt: skip
    e.put(f"c_{ref} g_{ref} 0 1u")
    e.put(f"r_{ref} g_{ref} 0 1e9")


def _mosfet(e: Elements, part: Part) -> None:
    f, kind = part.kind.figures, part.kind.name
    low, high = f["threshold_low_v"], f["threshold_high_v"]
    vto = {"low": low, "high": high, "typ": (low + high) / 2}[e.threshold]
    sign = 1 if kind == "mosfet_n" else -1
    ref = part.ref.lower()
    drain, gate, source = (name(part.net(pin)) for pin in "DGS")
    over = f"({sign}*v({gate},{source})-{vto:.3f})"
    # A conductance that grows from nothing below the threshold (70 mV a decade) to the data
    # sheet's at 2.5 V. Saturation is left out: here MOSFETs are switches.
    siemens = 1 / f["on_ohm"] / (2.5 - high)
    e.put(f"b_{ref} {drain} {source} i = v({drain},{source})*(1e-12+{siemens:.5g}*0.03"
          f"*ln(1+exp({over}/0.03)))")  # fmt: skip
    e.put(f"c_{ref} {gate} {source} 700p")
    body = (source, drain) if sign > 0 else (drain, source)
    e.put(f"d_{ref} {body[0]} {body[1]} dbody")


def _pair(model: str) -> Callable[[Elements, Part], None]:
    def emit(e: Elements, part: Part) -> None:
        low, high, middle = (name(part.net(pin)) for pin in "AKM")
        e.put(f"d_{part.ref.lower()}_l {low} {middle} {model}")
        e.put(f"d_{part.ref.lower()}_h {middle} {high} {model}")

    return emit


def _single(model: str) -> Callable[[Elements, Part], None]:
    def emit(e: Elements, part: Part) -> None:
        e.put(f"d_{part.ref.lower()} {name(part.net('A'))} {name(part.net('K'))} {model}")

    return emit


def _tvs(e: Elements, part: Part) -> None:
    """For each direction a diode behind a source of the breakdown voltage; leakage at 5 V as a
    resistor. (Two zeners back to back leave a node between them that ngspice settles badly.)"""
    ref, f = part.ref.lower(), part.kind.figures
    model = f"tvs{f['breakdown_v']:.0f}"
    ohm = (f["clamp_v"] - f["breakdown_v"] - 0.1) / f["clamp_a"]
    e.models[model] = f".model {model} d(is=1e-14 n=1 rs={ohm:.4g} cjo=100p)"
    a, b = (name(net) for net in part.nets.values())
    for number, (high, low) in enumerate(((a, b), (b, a))):
        e.put(f"d_{ref}_{number} {high} {ref}_{number} {model}")
        e.put(f"v_{ref}_{number} {ref}_{number} {low} {f['breakdown_v'] - 0.65:.4g}")
    e.put(f"r_{ref} {a} {b} {5 / f['leak_a']:.4g}")


def _zener(e: Elements, part: Part) -> None:
    f = part.kind.figures
    model = f"z{f['breakdown_v'] * 10:.0f}"
    e.models[model] = (
        f".model {model} d(is=1e-12 n=1.2 bv={f['breakdown_v']} ibv=5m rs={f['impedance_ohm']})"
    )
    e.put(f"d_{part.ref.lower()} {name(part.net('A'))} {name(part.net('K'))} {model}")


def _fuse(e: Elements, part: Part) -> None:
    """Cold resistance; opens when the excess over twice its rating has brought its melting I2t."""
    ref, f = part.ref.lower(), part.kind.figures
    a, b = (name(net) for net in part.nets.values())
    e.models[f"{ref}sw"] = f".model {ref}sw sw(vt=-0.5 vh=0.5 ron={f['cold_ohm']} roff=1e10)"
    e.put(f"v_{ref} {a} {ref}_m 0")
    e.put(f"s_{ref} {ref}_m {b} 0 {ref}_q {ref}sw on")
    excess = f"max(0, i(v_{ref})*i(v_{ref})-{(2 * f['hold_a']) ** 2:.4g})"
    e.put(f"b_{ref} 0 {ref}_q i = {excess}*{1e-6 / f['melt_a2s']:.6g}")
    e.put(f"c_{ref} {ref}_q 0 1u")
    e.put(f"r_{ref}_q {ref}_q 0 1e9")
    e.put(f".ic v({ref}_q)=0")


def _opamp(e: Elements, part: Part) -> None:
    """Both halves as followers of their + input within the rails; input diodes, capacitance, bias.
    State: offset of half A in volt (for tolerances)."""
    ref, f = part.ref.lower(), part.kind.figures
    supply = name(part.net("VDD"))
    e.put(f"v_{ref}_off {ref}_off 0 {e.states.get(part.ref, 0.0)}")
    for half in "AB":
        plus, out = name(part.net(f"IN{half}P")), name(part.net(f"OUT{half}"))
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


def _comparators(e: Elements, part: Part) -> None:
    ref, f = part.ref.lower(), part.kind.figures
    for pin in part.kind.pins:
        if not pin.name.startswith("OUT") or part.net(pin.name) == NC:
            continue
        cell = pin.name[3:]
        plus, minus = (name(part.net(f"IN{cell}{sign}")) for sign in "PN")
        own = f"{ref}_{cell.lower()}"
        e.put(f"b_{own} {own} 0 v = 0.5+0.5*tanh((v({minus})-v({plus}))/2m)")
        e.put(f"r_{own} {own} {own}_q 1k")
        e.put(f"c_{own} {own}_q 0 {f['delay_us'] / 0.69 * 1e-9:.4g}")
        e.put(f"s_{own} {name(part.net(pin.name))} 0 {own}_q 0 sink")


def _adc(e: Elements, part: Part) -> None:
    """Clamp diodes of every channel, and leakage of channel 0 (state, ampere)."""
    ref, supply = part.ref.lower(), name(part.net("VDD"))
    for channel in range(8):
        net = part.net(f"CH{channel}")
        if net == NC:
            continue
        e.put(f"d_{ref}_{channel}h {name(net)} {supply} dchip")
        e.put(f"d_{ref}_{channel}l 0 {name(net)} dchip")
        e.put(f"r_{ref}_{channel} {name(net)} 0 1e11")
    e.put(f"i_{ref}_0 0 {name(part.net('CH0'))} {e.states.get(part.ref, 0.0):g}")


def _supply(e: Elements, part: Part) -> None:
    """Regulated by its divider while its input is above 2 V; nothing flows back."""
    ref, f = part.ref.lower(), part.kind.figures
    fb, out, source = (part.net(pin) for pin in ("FB", "VOUT", "VIN"))
    ohms = {
        r.other_net(fb): r.si for r in e.circuit.of_kind("res_") if fb in r.nets.values() and r.si
    }
    volts = f["reference_v"] * (1 + ohms[out] / ohms["GND"]) if {out, "GND"} <= ohms.keys() else 6.0
    volts *= 1 + e.states.get(part.ref, 0.0)
    e.put(f"b_{ref} {ref}_o 0 v = {volts:.6g}*(0.5+0.5*tanh((v({name(source)})-2)/0.05))")
    e.put(f"r_{ref} {ref}_o {ref}_w 1")
    e.put(f"d_{ref} {ref}_w {name(out)} dway")


EMITTERS: dict[str, Callable[[Elements, Part], None]] = {
    "resistor": _resistor, "capacitor": _capacitor, "wire": _wire, "pots": _pots,
    "relay": _relay, "photomos": _photomos, "mosfet_n": _mosfet, "mosfet_p": _mosfet,
    "diode_pair": _pair("dlow"), "schottky_pair": _pair("dsch"), "schottky": _single("dsch"),
    "diode": _single("dsw"), "tvs": _tvs, "zener": _zener, "fuse": _fuse, "opamp": _opamp,
    "comparators": _comparators, "adc": _adc, "supply": _supply,
}  # fmt: skip
