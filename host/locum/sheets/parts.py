"""Parts data shipped with the project: potentiometers and preferred resistor values."""

from __future__ import annotations

import tomllib
from functools import cache

import numpy as np

from locum.errors import Misuse, Remark
from locum.locations import asset_root
from locum.physics.pot import PotPart

SERIES = ("E12", "E24", "E96")


@cache
def read_pots() -> dict[str, PotPart]:
    """Every potentiometer of ``hardware/parts/digipots.toml`` by its name."""
    data = _read("digipots.toml")
    return {name: _pot(name, row) for name, row in data.items() if isinstance(row, dict)}


def find_pot(name: str) -> PotPart:
    """A part by its name, resistance suffix allowed (``MCP4251-103``); Misuse if unknown."""
    stem = name.split("-")[0]
    pots = read_pots()
    if stem not in pots:
        raise Misuse(
            Remark("unknown_part", name, f"one of {', '.join(pots)}", f"'{name}'", "check the name")
        )
    return pots[stem]


@cache
def preferred_ohm(series: str = "E24", low: float = 10.0, high: float = 1e6) -> np.ndarray:
    """Preferred values of IEC 60063 within [low, high], rising. [ohm]"""
    if series not in SERIES:
        raise Misuse(Remark("unknown_series", series, " or ".join(SERIES), f"'{series}'"))
    decade = np.array(_read("eseries.toml")[series])
    powers = 10.0 ** np.arange(int(np.floor(np.log10(low))), int(np.ceil(np.log10(high))) + 1)
    values = np.round(np.outer(powers, decade).reshape(-1), 6)
    return values[(values >= low) & (values <= high)]


def _read(name: str) -> dict:
    return tomllib.loads((asset_root("hardware/parts") / name).read_text(encoding="utf-8"))


def _pot(name: str, row: dict) -> PotPart:
    rating = row["rating_ma"]
    lowest = min(rating.values()) if isinstance(rating, dict) else rating
    return PotPart(
        name=name,
        channels=int(row["channels"]),
        taps=int(row["taps"]),
        divisor=int(row["divisor"]),
        rab_options_ohm=tuple(float(x) for x in row["rab_options_ohm"]),
        rab_tolerance_pct=float(row["rab_tolerance_pct"]),
        zero_ohm=float(row.get("zero_ohm", row["wiper_ohm"])),
        zero_max_ohm=float(max(row.get("zero_ohm", 0.0), row["wiper_max_ohm"])),
        rating_a=1e-3 * float(lowest),
        supply_v=(float(row["supply_v"][0]), float(row["supply_v"][1])),
        can_leave=bool(row["can_leave"]),
        shutdown_is_short=bool(row["shutdown_is_short"]),
        over_range=row["over_range"],
        source=row["source"],
        confidence=row["confidence"],
        from_memory=tuple(row["from_memory"]),
    )
