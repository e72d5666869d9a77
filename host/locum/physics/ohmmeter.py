"""The board's ohmmeter: a switched precise resistor from the reference to the unknown, one converter.

    VREF --[ force + range resistor ]--+-- pin --[ series ][ unknown ]-- ground

Every reading is a pair, range on and all ranges off.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from locum.errors import Refused, Remark


@dataclass(frozen=True)
class Ohmmeter:
    """Nominal values and tolerances of a board's ohmmeter."""

    ranges_ohm: tuple[float, ...]
    tolerance_pct: float = 0.1
    counts: int = 4096
    vref_v: float = 3.3

    @classmethod
    def from_board(cls, sheet: dict[str, Any]) -> Ohmmeter:
        """Of a checked board sheet; Refused if the board has none."""
        table = sheet.get("ohmmeter") or {}
        if not table.get("ranges_ohm"):
            raise Refused(
                Remark(
                    "no_ohmmeter",
                    f"board {sheet.get('id', '')}".strip(),
                    "an ohmmeter on the board, to measure its own network",
                    "none in the board sheet",
                    "use nominal values, or enter a hand meter's table",
                )
            )
        return cls(
            tuple(float(x) for x in table["ranges_ohm"]),
            float(table.get("range_tolerance_pct", 0.1)),
            1 << int(table.get("adc_bits", 12)),
            float(table.get("vref_v", 3.3)),
        )

    def ratio(self, range_index, ohm):
        """Expected reading as a fraction of full scale, no faults. Range and ohm broadcast."""
        rk = np.asarray(self.ranges_ohm)[range_index]
        return ohm / (ohm + rk)

    def ohm(self, range_index, ratio):
        """Inverse of :meth:`ratio`. [ohm]"""
        ratio = np.clip(ratio, 1e-6, 1 - 1e-6)
        return np.asarray(self.ranges_ohm)[range_index] * ratio / (1 - ratio)

    def relative_step(self, range_index, ohm):
        """What one count is worth at ``ohm``, as a fraction of it."""
        x = self.ratio(range_index, ohm)
        return 1.0 / (self.counts * x * (1.0 - x))
