"""What the starter board can and cannot be, computed from its sheet.

    python hardware/starter_limits.py

For two sensors (A: 8 kohm, B: 2.5 kohm at 20 degC) it prints the span of temperatures, the largest
half step with both wipers, and, for each pull-up, how warm it may go before a wiper carries more
than a plan allows. Nominal parts; a pot is +-20 %.
"""

from __future__ import annotations

import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from proofs.bench import CURVES

SHEET = Path(__file__).parent / "boards" / "starter.toml"
PULL_UPS_OHM = (1000.0, 2490.0, 10000.0)
VOC_V = 4.9


@dataclass(frozen=True)
class Span:
    """One sensor on the starter board."""

    curve: str
    cold_c: float
    hot_c: float
    worst_half_step_k: float
    """From 5 K above the cold end to 100 degC, nominal parts."""
    warmest_c: dict[float, float]
    """Pull-up to the warmest temperature whose wiper currents a plan allows."""


def pair_ohm(sheet: dict) -> tuple[np.ndarray, np.ndarray]:
    """Every pair of codes: the stand-in's ohms and the larger share of the current, flattened."""
    network = sheet["network"]
    tables = [
        w["wiper_ohm"] + w["rab_ohm"] * np.arange(w["taps"]) / (w["taps"] - 1)
        for w in network["wiper"]
    ]
    first, second = np.meshgrid(*tables, indexing="ij")
    both = first * second / (first + second)
    share = both / np.minimum(first, second)
    alone = tables[0]  # the second wiper out
    ohm = np.concatenate([both.ravel(), alone])
    return ohm + network["series_ohm"], np.concatenate([share.ravel(), np.ones_like(alone)])


def spans(sheet: dict) -> list[Span]:
    ohm, share = pair_ohm(sheet)
    order = np.argsort(ohm)
    ohm, share = ohm[order], share[order]
    limit_a = sheet["limits"]["plan_wiper_ma"] * 1e-3
    found = []
    for name, curve in CURVES.items():
        celsius = curve.temperature_c(ohm)
        steps = np.abs(np.diff(celsius)) / 2
        middle = (celsius[1:] > celsius[-1] + 5) & (celsius[1:] < 100.0)
        warmest = {}
        for pull_up in PULL_UPS_OHM:
            allowed = VOC_V / (pull_up + ohm) * share <= limit_a
            warmest[pull_up] = float(celsius[allowed].max())
        found.append(
            Span(name, float(celsius[-1]), float(celsius[0]), float(steps[middle].max()), warmest)
        )
    return found


def main() -> int:
    sheet = tomllib.loads(SHEET.read_text(encoding="utf-8"))
    ohm, _ = pair_ohm(sheet)
    print(f"Starter board: {ohm.min():.0f} ohm .. {ohm.max() / 1e3:.1f} kohm nominal;"
          f" the sheet grants {sheet['limits']['reach_low_ohm']:.0f} ohm .."
          f" {sheet['limits']['reach_high_ohm'] / 1e3:.1f} kohm whatever the parts.")  # fmt: skip
    for span in spans(sheet):
        warmest = ", ".join(f"{k / 1e3:g} kohm {v:.0f}" for k, v in span.warmest_c.items())
        print(f"Sensor {span.curve}: {span.cold_c:.0f} .. {span.hot_c:.0f} degC nominal,"
              f" half steps up to {span.worst_half_step_k:.2f} K below 100 degC,"
              f" warmest by wiper current (pull-up): {warmest} degC")  # fmt: skip
    print(
        f"Open-circuit voltage of the module: at most VBUS - {sheet['limits']['supply_margin_v']:g} V"
        " (measure both). No true temperature while standing in: silence of the host = rest at once."
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
