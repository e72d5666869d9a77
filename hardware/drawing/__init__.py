"""Drawings made from the circuit data with schemdraw: schematic by blocks, strips, harness.

Symbols, references, values and net names all come from the data; these files only say where on the
page a part goes.
"""

from __future__ import annotations

from circuit.model import Circuit

from .harness import harness_svg
from .schematic import block_svg
from .strips import strips_svg


def drawings(circuit: Circuit) -> dict[str, str]:
    """File name to SVG text for everything that is drawn of a board."""
    found = {}
    for block in circuit.blocks():
        if block not in ("carriers", "harness"):
            found[f"{circuit.name}_{block}.svg"] = block_svg(circuit, block)
            found[f"{circuit.name}_strips_{block}.svg"] = strips_svg(circuit, block)
    found[f"{circuit.name}_carrier.svg"] = block_svg(circuit, "carriers")
    found[f"{circuit.name}_harness.svg"] = harness_svg(circuit)
    return found
