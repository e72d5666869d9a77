"""The parts of a network: rheostats with their tables and voltage laws, switched hot branches."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from locum.physics.pot import rheostat_table_ohm, wiper_law


@dataclass(frozen=True, eq=False)
class Wiper:
    """One rheostat of the network."""

    name: str
    part: str
    chip: int
    channel: int
    table_ohm: np.ndarray
    """Resistance of each code with the wiper near 0 V, its wiper switch included. [ohm]"""
    rating_a: float = 2.5e-3
    can_leave: bool = True
    law_ohm: float = 0.0
    """Wiper switch's share that grows with voltage by :func:`~locum.physics.pot.wiper_law`;
    0 where it was not calibrated. [ohm]"""
    law_supply_v: float = 5.3
    knots_v: tuple[float, ...] = ()
    knots_ohm: tuple[float, ...] = ()
    """Departure from that law at these voltages, linear between them, 0 at 0 V. [ohm]"""
    out_siemens: float = 0.0
    """What still leaks through a wiper that left; 0 where it was not calibrated. [S]"""

    def grown_ohm(self, net_v):
        """What the wiper's voltage adds to every entry of the table. [ohm]"""
        grown = self.law_ohm * (wiper_law(net_v, self.law_supply_v) - 1.0)
        if not self.knots_v:
            return grown
        return grown + np.interp(net_v, (0.0, *self.knots_v), (0.0, *self.knots_ohm))


@dataclass(frozen=True)
class HotBranch:
    """One switched resistor."""

    name: str
    ohm: float
    """Resistor and its switch. [ohm]"""


def wiper_of(row: dict[str, Any], limits: dict[str, Any], supply_v: float) -> Wiper:
    """The wiper of one row of a board sheet, with its nominal table."""
    taps = int(row.get("taps", 257))
    table = rheostat_table_ohm(
        float(row["rab_ohm"]), float(row.get("wiper_ohm", 75.0)), taps, row.get("divisor")
    )
    return Wiper(
        name=row["name"],
        part=row.get("part", ""),
        chip=int(row.get("chip", 1)),
        channel=int(row.get("channel", 0)),
        table_ohm=frozen(table),
        rating_a=1e-3 * float(row.get("rating_ma", limits.get("wiper_ma", 2.5))),
        can_leave=bool(row.get("can_leave", True)),
        law_supply_v=supply_v,
    )


def frozen(table) -> np.ndarray:
    """A float copy that cannot be written to."""
    table = np.array(table, float)
    table.setflags(write=False)
    return table
