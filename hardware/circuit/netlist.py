"""The netlist in KiCad's format, written by SKiDL from our data.

SKiDL is used without any of KiCad's libraries: every part is a template made from `catalogue.toml`.
It also runs its own rule check. What it would put in that changes from run to run or from machine
to machine (date, file and line, random tags) is taken out, so that the file only changes when the
circuit does.
"""

from __future__ import annotations

import contextlib
import os
import re
import tempfile
import uuid
import warnings
from pathlib import Path

from .model import NC, Circuit

SKIDL_TYPES = {
    "passive": "PASSIVE", "input": "INPUT", "output": "OUTPUT", "tristate": "TRISTATE",
    "open_collector": "OPENCOLL", "power_in": "PWRIN", "power_out": "PWROUT",
    "bidirectional": "PASSIVE", "nc": "NOCONNECT",
}  # fmt: skip
# A carrier's pin is what its program makes of it, so SKiDL is not asked to judge it ("PASSIVE").
FED = ("GND", "VREF", "VPOT", "VBUS", "3V3")
"""Nets that are supplied from somewhere SKiDL's check cannot see."""


def kicad_netlist(circuit: Circuit) -> tuple[str, str]:
    """The netlist text and the summary of SKiDL's rule check."""
    with _quiet_folder() as folder:
        skidl = _skidl()
        board = skidl.Circuit(name=circuit.name)
        _fill(skidl, board, circuit)
        with open(os.devnull, "w") as sink, contextlib.redirect_stderr(sink):
            board.ERC()
            raw = board.generate_netlist(tool=skidl.KICAD9, file_="board.net")
        report = "".join(path.read_text() for path in sorted(folder.glob("*.erc")))
    return _settled(raw, circuit), report


@contextlib.contextmanager
def _quiet_folder():
    """SKiDL leaves logs where it is called; give it a folder of its own."""
    here = Path.cwd()
    with tempfile.TemporaryDirectory() as name:
        os.chdir(name)
        try:
            yield Path(name)
        finally:
            os.chdir(here)


def _skidl():
    with (
        open(os.devnull, "w") as sink,
        contextlib.redirect_stderr(sink),
        contextlib.redirect_stdout(sink),
        warnings.catch_warnings(),
    ):
        warnings.simplefilter("ignore")
        import skidl
    return skidl


def _fill(skidl, board, circuit: Circuit) -> None:
    made = {}
    for part in circuit.parts.values():
        legs = [
            skidl.Pin(num=pin.number, name=pin.name, func=skidl.Pin.types[SKIDL_TYPES[pin.type]])
            for pin in part.kind.pins
        ]
        template = skidl.Part(
            name=part.kind.name, tool=skidl.SKIDL, dest=skidl.TEMPLATE,
            ref_prefix=part.kind.prefix, pins=legs,
        )  # fmt: skip
        made[part.ref] = template(
            ref=part.ref, value=part.value, circuit=board, tag=part.ref,
            footprint=part.footprint or part.kind.footprint,
        )  # fmt: skip
    for name, legs in circuit.nets().items():
        net = skidl.Net(name, circuit=board)
        for ref, pin in legs:
            net += made[ref][pin.number]
        if name in FED:
            net.drive = skidl.POWER
    for part in circuit.parts.values():
        for pin in part.kind.pins:
            if part.nets[pin.name] == NC:
                board.NC += made[part.ref][pin.number]


def _settled(raw: str, circuit: Circuit) -> str:
    """`raw` without what depends on when and where it was made; identifiers made from references."""
    text = re.sub(r'\n\s*\(date "[^"]*"\)', "", raw)
    text = re.sub(r'\(source "[^"]*"\)', '(source "hardware/circuit")', text)
    text = re.sub(r'\(tool "[^"]*"\)', '(tool "SKiDL")', text)
    text = re.sub(r'\n\s*\(field\s+\(name "SKiDL (?:Line|Tag)"\)(?:\s*"[^"]*")?\)', "", text)
    text = re.sub(r"\n\s*\(comment\s+\(number \"\d\"\)\s+\(value \"\"\)\)", "", text)
    space = uuid.uuid5(uuid.NAMESPACE_URL, f"locum/{circuit.name}")
    parts = re.split(r"(?=\(comp\n)", text)
    for at, block in enumerate(parts):
        ref = re.search(r'\(ref "([^"]+)"\)', block)
        if block.startswith("(comp\n") and ref:
            parts[at] = re.sub(
                r'\(tstamps "[0-9a-f-]{36}"\)',
                f'(tstamps "{uuid.uuid5(space, ref.group(1))}")',
                block,
            )
    return "".join(parts).rstrip() + "\n"
