"""ngspice elements made from the circuit data.

Each kind of part names an emitter here (`model` in the catalogue). A proof asks for some blocks of
the board, says in what state relays, pots and solid-state relays are, and adds its own test bench
(module, sensor, battery). A part that is missing from the data is missing from the simulation, and
a leg on the wrong net is on the wrong net there too: nothing is repeated by hand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from . import spice_chips as chips
from . import spice_switches as switches
from . import spice_two_legged as two_legged
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

    def at(self, part: Part, pin: str) -> str:
        """The node of a leg's net."""
        return name(part.net(pin))

    def both(self, part: Part) -> tuple[str, str]:
        """The nodes of a two-legged part."""
        first, second = part.nets.values()
        return name(first), name(second)

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


EMITTERS: dict[str, Callable[[Elements, Part], None]] = {
    "resistor": two_legged.resistor,
    "capacitor": two_legged.capacitor,
    "tvs": two_legged.tvs,
    "zener": two_legged.zener,
    "fuse": two_legged.fuse,
    "diode": two_legged.single("dsw"),
    "schottky": two_legged.single("dsch"),
    "diode_pair": two_legged.pair("dlow"),
    "schottky_pair": two_legged.pair("dsch"),
    "wire": switches.wire,
    "pots": switches.pots,
    "relay": switches.relay,
    "photomos": switches.photomos,
    "mosfet_n": switches.mosfet,
    "mosfet_p": switches.mosfet,
    "opamp": chips.opamp,
    "comparators": chips.comparators,
    "adc": chips.adc,
    "supply": chips.supply,
}
"""What writes each kind of part, by `model` in the catalogue."""
