"""The stand-in's true ohms for one state at a time, by plain floats: much quicker than arrays of one.

The same numbers as :class:`~locum.virtual.analog.NetworkTruth` gives for whole sweeps; a test compares
them.
"""

from __future__ import annotations

from dataclasses import dataclass

from .wiper import ChipLaw


@dataclass(frozen=True)
class PlainNetwork:
    """A board at its present temperature."""

    tables: list[list[float]]
    """Ohms of each wiper at each tap, at 0 V. [ohm]"""
    hot: list[float]
    off: list[float]
    """A wiper that has left. [ohm]"""
    swell: list[float]
    series: float
    leak: float
    """All pots together. [A]"""
    laws: list[ChipLaw]

    def node_v(
        self, codes, out, hot: int, open_v: float, pull_up_ohm: float, load_siemens: float
    ) -> float:
        """LINE with a module's pull-up feeding it. [V]"""
        fixed, switches = self._branches(codes, out, hot)
        fixed += load_siemens
        series, leak = self.series, self.leak
        net_v = open_v / 2
        for _ in range(4):
            net = 1 / _siemens(fixed, switches, net_v)
            total = pull_up_ohm + series + net
            net_v = (open_v - leak * (pull_up_ohm + series)) * net / total
        return net_v + (open_v - net_v) * series / (pull_up_ohm + series)

    def metered_ohm(self, codes, out, hot: int, vref_v: float, reference_ohm: float) -> float:
        """What the ohmmeter has before it, fed through one of its references. [ohm]"""
        fixed, switches = self._branches(codes, out, hot)
        net_v, net = 0.5 * vref_v, 1.0
        for _ in range(8):
            net = 1 / _siemens(fixed, switches, net_v)
            net_v = vref_v * net / (reference_ohm + self.series + net)
        return self.series + net

    def _branches(self, codes, out, hot: int) -> tuple[float, list[tuple[float, ChipLaw, float]]]:
        """(siemens that no voltage changes, [ohms at 0 V, law, swell] of each wiper connected)."""
        fixed = sum(1 / ohm for i, ohm in enumerate(self.hot) if hot >> i & 1)
        fixed += sum(1 / off for i, off in enumerate(self.off) if out[i])
        switches = [
            (self.tables[i][codes[i]], law, self.swell[i])
            for i, law in enumerate(self.laws)
            if not out[i]
        ]
        return fixed, switches


def _siemens(fixed: float, switches: list[tuple[float, ChipLaw, float]], net_v: float) -> float:
    return fixed + sum(1 / (ohm + law.scalar(net_v) * swell) for ohm, law, swell in switches)
