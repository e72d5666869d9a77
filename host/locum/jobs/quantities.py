"""Typed quantities: a meter reading in any order people write it, and how values are echoed.

"20C=2.5k", "2,5k at 20", "68F 2500 ohm" and "20 2500" are one reading: the letter decides which
is the temperature; without letters the temperature stands first.
"""

from __future__ import annotations

import re

from locum.errors import Refused, Remark
from locum.settings import load_settings
from locum.sheets import values

NUMBER = r"[-+]?\d+(?:[.,]\d+)?"
QUANTITY = re.compile(
    rf"(?P<split>\d+[kKMrR]\d+)"
    rf"|(?P<number>{NUMBER})\s*(?:°|deg)?\s*(?P<unit>[CcFf]\b|[kKM]?\s?(?:ohms?|Ω|ω)|[kKMrR]\b)?",
    re.IGNORECASE,
)
BETWEEN = re.compile(r"^(?:\s|=|:|;|@|,|/|\bat\b|\bis\b)*$", re.IGNORECASE)
SENSIBLE_C = (-60.0, 250.0)
SENSIBLE_OHM = (1.0, 1_000_000.0)
EXAMPLES = "20C=2.5k, 2,5k at 20C, 68F 2500 or 20 2500"


def reading_of(text: str, unit: str = "celsius") -> tuple[float, float]:
    """(degC, ohm) of one meter reading as typed; Refused with all its faults at once."""
    found = list(QUANTITY.finditer(text))
    rest = QUANTITY.sub(" ", text)
    if len(found) != 2 or not BETWEEN.match(rest):
        raise Refused(Remark("reading", "reading", "one temperature and one resistance",
                             f"'{text.strip()}'", f"type it like {EXAMPLES}"))  # fmt: skip
    first, second = (q.group(0).strip() for q in found)
    kinds = [_kind(q) for q in found]
    if kinds[0] == kinds[1] != "":
        raise Refused(Remark("reading", "reading", "one temperature and one resistance",
                             f"two of a kind, '{first}' and '{second}'", f"type it like {EXAMPLES}"))  # fmt: skip
    swapped = kinds[0] == "ohm" or kinds[1] == "celsius"
    degrees, ohms = (second, first) if swapped else (first, second)
    return _sensible(degrees, ohms, unit)


def readings_typed(text: str, unit: str | None = None) -> list[tuple[float, float]]:
    """(degC, ohm) of "20C=1.5k,82C=300"; a bare temperature is in ``unit``, else in the settings' unit.

    Raises Refused with all faults at once.
    """
    return values.readings(text, unit or load_settings().unit)


def written_out(pairs: list[tuple[float, float]]) -> str:
    """Readings with their units, which mean the same whatever the settings say later."""
    return ",".join(f"{celsius:.9g}C={ohm:.9g}ohm" for celsius, ohm in pairs)


def said_readings(pairs: list[tuple[float, float]], unit: str = "celsius") -> str:
    """Readings echoed: "2.50 kohm at 20.0 C, 300 ohm at 82.0 C"."""
    return ", ".join(f"{said_ohm(ohm)} at {said_c(celsius, unit)}" for celsius, ohm in pairs)


def _kind(match: re.Match) -> str:
    if match.group("split"):
        return "ohm"
    letter = (match.group("unit") or "").strip()
    return "" if not letter else "celsius" if letter in "CcFf" else "ohm"


def _sensible(degrees: str, ohms: str, unit: str) -> tuple[float, float]:
    faults: list[Remark] = []
    celsius = _read(faults, values.temperature_c, degrees, unit)
    ohm = _read(faults, values.resistance_ohm, ohms)
    if celsius is not None and not SENSIBLE_C[0] <= celsius <= SENSIBLE_C[1]:
        faults.append(Remark("reading_c", "temperature", "between {} and {}".format(
            *(said_c(c, unit, 0) for c in SENSIBLE_C)), said_c(celsius, unit), "look again"))  # fmt: skip
    if ohm is not None and not SENSIBLE_OHM[0] <= ohm <= SENSIBLE_OHM[1]:
        faults.append(Remark("reading_ohm", "resistance", "between 1 ohm and 1 Mohm", said_ohm(ohm),
                             "look at the meter's range: k or M?"))  # fmt: skip
    if faults or celsius is None or ohm is None:
        raise Refused(faults)
    return celsius, ohm


def _read(faults: list[Remark], read, *arguments) -> float | None:
    try:
        return read(*arguments)
    except Refused as refused:
        faults.extend(refused.remarks)
        return None


def said_c(celsius: float, unit: str = "celsius", digits: int = 1) -> str:
    """A temperature echoed in the unit of the screens."""
    degrees, letter = (celsius * 1.8 + 32, "F") if unit == "fahrenheit" else (celsius, "C")
    return f"{round(degrees, digits) + 0.0:.{digits}f} {letter}"  # + 0.0: no "-0.0"


def said_ohm(ohm: float) -> str:
    """A resistance echoed, always with its unit."""
    if ohm >= 1_000_000:
        return f"{ohm / 1e6:.2f} Mohm"
    return f"{ohm / 1000:.2f} kohm" if ohm >= 1000 else f"{ohm:.0f} ohm"
