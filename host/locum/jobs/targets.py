"""What a typed value asks for: degrees, ohms, or the present value."""

from __future__ import annotations

from dataclasses import dataclass

from locum.errors import Misuse, Refused, Remark
from locum.jobs.quantities import said_c, said_ohm
from locum.sheets import values


@dataclass(frozen=True)
class Target:
    """Exactly one of the three is set; ``now`` means the real sensor's present value."""

    celsius: float | None = None
    ohm: float | None = None
    now: bool = False


HOTTEST = {"celsius": 200.0, "fahrenheit": 390.0}
"""A bare number above this is no temperature of a 2-wire sensor's circuit: it means ohms."""


def _means_ohms(words: str, unit: str) -> bool:
    if values.is_resistance(words):
        return True
    try:
        return float(words.replace(",", ".")) > HOTTEST[unit]
    except ValueError:
        return False


def said(target: Target, unit: str = "celsius") -> str:
    """What was understood, in words: "80.0 C", "320 ohm", "what the sensor says now"."""
    if target.celsius is not None:
        return said_c(target.celsius, unit)
    return "what the sensor says now" if target.ohm is None else said_ohm(target.ohm)


def target_of(text: str, unit: str = "celsius") -> Target:
    """ "82C", "180F", "320ohm", "300", "1.5k", "now"; Misuse with examples for anything else."""
    words = text.strip()
    if words.lower() in ("now", "hold now"):
        return Target(now=True)
    try:
        if _means_ohms(words, unit):
            return Target(ohm=values.resistance_ohm(words))
        return Target(celsius=values.temperature_c(words, unit))
    except Refused:
        raise Misuse(
            Remark(
                "value", text, "82C, 180F, 320ohm, 1.5k or now", f"'{text}'", "type one of these"
            )
        ) from None
