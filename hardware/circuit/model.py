"""Parts, nets and boards as plain data.

A `Kind` is a thing that can be bought: its pins, what it stands, where its figures come from. A
`Part` is one of them on a board, with each of its pins joined to a net by name. A `Circuit` is all
parts of a board. Nothing here draws, writes or simulates.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

PIN_TYPES = {
    "passive", "input", "output", "tristate", "open_collector", "power_in", "power_out",
    "bidirectional", "nc",
}  # fmt: skip
NC = "NC"
"""The net name of a leg that is left open on purpose."""


@dataclass(frozen=True)
class Pin:
    """One leg: its number on the package, its name, and what it does electrically."""

    number: str
    name: str
    type: str


@dataclass(frozen=True)
class Kind:
    """Something that can be bought, as `catalogue.toml` tells it."""

    name: str
    prefix: str
    title: str
    pins: tuple[Pin, ...]
    package: str
    footprint: str
    maker_number: str
    alternatives: str
    tolerance: str
    rating: str
    source: str
    """Where rating and pins come from: data sheet, symbol library, or memory."""
    doubt: str
    """What rests on memory, and what catches it if it is wrong. Empty if nothing does."""
    price_eur: float
    """One piece, from memory."""
    model: str
    """Name of the ngspice emitter in `spice.py`; empty if the part is never simulated."""
    figures: dict[str, float]
    """Numbers the proofs use, named with their unit."""

    def pin(self, name: str) -> Pin:
        for pin in self.pins:
            if name in (pin.name, pin.number):
                return pin
        raise KeyError(f"{self.name} has no pin {name}")


@dataclass(frozen=True)
class Part:
    """One part on a board. `nets` maps pin names to net names."""

    ref: str
    kind: Kind
    value: str
    si: float | None
    """Value in ohm or farad where it has one."""
    nets: dict[str, str]
    block: str
    tolerance: str = ""
    rating: str = ""
    maker_number: str = ""
    footprint: str = ""
    fitted: bool = True

    def net(self, pin: str) -> str:
        return self.nets[self.kind.pin(pin).name]

    def other_net(self, net: str) -> str:
        """The net at the far end of a two-legged part."""
        first, second = self.nets.values()
        if net not in (first, second):
            raise KeyError(f"{self.ref} is not on {net} but on {first} and {second}")
        return second if net == first else first


@dataclass(frozen=True)
class Circuit:
    """All parts of one board."""

    name: str
    title: str
    parts: dict[str, Part] = field(default_factory=dict)

    def __getitem__(self, ref: str) -> Part:
        return self.parts[ref]

    def blocks(self) -> list[str]:
        return list(dict.fromkeys(part.block for part in self.parts.values()))

    def of_block(self, *blocks: str) -> list[Part]:
        return [part for part in self.parts.values() if part.block in blocks]

    def of_kind(self, prefix: str) -> list[Part]:
        return [part for part in self.parts.values() if part.kind.name.startswith(prefix)]

    def nets(self) -> dict[str, list[tuple[str, Pin]]]:
        """Every net with the legs on it, in the order of the parts; open legs are left out."""
        found: dict[str, list[tuple[str, Pin]]] = {}
        for part in self.parts.values():
            for pin in part.kind.pins:
                net = part.nets[pin.name]
                if net != NC:
                    found.setdefault(net, []).append((part.ref, pin))
        return found

    def changed(self, ref: str, **changes) -> Circuit:
        """A copy in which one part differs; `nets` given here are merged into the old ones."""
        part = self.parts[ref]
        if "nets" in changes:
            changes["nets"] = {**part.nets, **changes["nets"]}
        return replace(self, parts={**self.parts, ref: replace(part, **changes)})

    def without(self, ref: str) -> Circuit:
        return replace(self, parts={k: v for k, v in self.parts.items() if k != ref})


@cache
def catalogue() -> dict[str, Kind]:
    """All kinds of `catalogue.toml`."""
    path = Path(__file__).with_name("catalogue.toml")
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    return {name: _kind(name, entry) for name, entry in raw.items()}


def _kind(name: str, entry: dict) -> Kind:
    pins = tuple(Pin(*text.split(":")) for text in entry["pins"].split())
    wrong = [pin for pin in pins if pin.type not in PIN_TYPES]
    if wrong:
        raise ValueError(f"{name}: unknown pin types {wrong}")
    return Kind(
        name=name,
        prefix=entry["prefix"],
        title=entry["title"],
        pins=pins,
        package=entry["package"],
        footprint=entry.get("footprint", ""),
        maker_number=entry.get("maker_number", ""),
        alternatives=entry.get("alternatives", ""),
        tolerance=entry.get("tolerance", ""),
        rating=entry.get("rating", ""),
        source=entry["source"],
        doubt=entry.get("doubt", ""),
        price_eur=float(entry.get("price_eur", 0.0)),
        model=entry.get("model", ""),
        figures=dict(entry.get("figures", {})),
    )


class Builder:
    """Collects parts of one board; every call names the part's nets by pin name."""

    def __init__(self, name: str, title: str) -> None:
        self._name, self._title = name, title
        self._parts: dict[str, Part] = {}
        self.block = ""

    def add(self, ref: str, kind: str, value: str = "", si: float | None = None, **nets) -> None:
        """Put one part on the board. Every pin of the kind must be given a net, or `NC`."""
        which = catalogue()[kind]
        extra = {key: nets.pop(key) for key in ("rating", "maker_number") if key in nets}
        named = {name.lstrip("_"): net for name, net in nets.items()}
        missing = {pin.name for pin in which.pins} ^ set(named)
        if missing:
            raise ValueError(f"{ref} ({kind}): pins {sorted(missing)} without a net or unknown")
        if ref in self._parts:
            raise ValueError(f"{ref} is there twice")
        ordered = {pin.name: named[pin.name] for pin in which.pins}
        self._parts[ref] = Part(ref, which, value or which.title, si, ordered, self.block, **extra)

    def resistor(self, ref: str, ohm: float, a: str, b: str, kind: str = "res_1pct", **extra):
        """A resistor between two nets; its maker number follows from the value."""
        text = e_text(ohm)
        number = catalogue()[kind].maker_number.replace("{value}", text)
        extra.setdefault("maker_number", number)
        self.add(ref, kind, text, float(ohm), _1=a, _2=b, **extra)

    def capacitor(self, ref: str, farad: float, a: str, b: str, kind: str = "cap_x7r", **extra):
        text = f"{farad * 1e6:g} uF" if farad >= 1e-7 else f"{farad * 1e9:g} nF"
        if farad < 1e-9:
            text = f"{farad * 1e12:g} pF"
        self.add(ref, kind, text, float(farad), _1=a, _2=b, **extra)

    def done(self) -> Circuit:
        return Circuit(self._name, self._title, dict(self._parts))


def e_text(ohm: float) -> str:
    """Ohms as makers print them: 33R, 2K2, 11K3, 10M."""
    for limit, letter in ((1e6, "M"), (1e3, "K"), (1.0, "R")):
        if ohm >= limit:
            whole = f"{ohm / limit:.4g}"
            return whole.replace(".", letter) if "." in whole else whole + letter
    return f"{ohm:g}R"
