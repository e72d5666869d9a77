"""The thermistor of the virtual vehicle: what it is by its table, and what this one is.

The table is the 2.5 kohm coolant sensor published in service information for the Jeep Compass
2021 (mean values at 0, 40 and 100 degC), carried on by 1/T = a + b ln R + c (ln R)^3. One specimen
differs by a factor and by a slope; a drifted one by a further factor that grows as it gets hot.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

ZERO_C_K = 273.15
TABLE_A, TABLE_B, TABLE_C = 1.33514771e-3, 2.56168319e-4, 1.49630613e-7
"""Through 5975, 1152 and 175.7 ohm at 0, 40 and 100 degC."""


def table_ohm(celsius: float) -> float:
    """Nominal resistance of the sensor at a temperature, -60..200 degC. [ohm]"""
    x = (TABLE_A - 1 / (celsius + ZERO_C_K)) / TABLE_C
    y = math.sqrt((TABLE_B / (3 * TABLE_C)) ** 3 + x * x / 4)
    return math.exp(math.cbrt(y - x / 2) - math.cbrt(y + x / 2))


def table_c(ohm: float) -> float:
    """Temperature that the table gives for a resistance. [degC]"""
    ln = math.log(ohm)
    return 1 / (TABLE_A + TABLE_B * ln + TABLE_C * ln**3) - ZERO_C_K


@dataclass(frozen=True)
class Thermistor:
    """One specimen."""

    factor: float = 1.0
    """Its ohms over the table's at 25 degC."""
    slope: float = 0.0
    """Relative change of the factor per 100 K above 25 degC."""
    drift_c: float = 0.0
    """How much too cold it reads when it is fully warm (60 degC and more); half at 30 degC. [K]"""

    def ohm(self, celsius: float, swing_c: float = 0.0) -> float:
        """Its resistance; ``swing_c`` is what a drifted one reads too cold at the moment besides."""
        low_by = self.drift_c * min(1.0, max(0.0, celsius / 60.0)) + swing_c
        return table_ohm(celsius - low_by) * (self.factor * (1 + self.slope * (celsius - 25) / 100))
