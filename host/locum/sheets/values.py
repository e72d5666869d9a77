"""What a person types: "82 C", "180F", "1.5k", "1,5k", "300 ohm", "20C=1.5k,82C=300".

Every reader returns the value in the program's own units and says nothing about it; the caller
shows what was understood. What cannot be understood is refused with examples.
"""

from __future__ import annotations

import re

from locum.errors import Refused, Remark

_NUMBER = r"[-+]?\d+(?:[.,]\d+)?(?:[eE][-+]?\d+)?"
_TEMPERATURE = re.compile(rf"^({_NUMBER})\s*(?:°|deg)?\s*([CcFfKk]?)$")
_RESISTANCE = re.compile(
    rf"^({_NUMBER})\s*([kKM]?)\s*(?:ohms?|Ohms?|OHMS?|[Ωω]|r|R)?$|^(\d+)([kKMrR])(\d+)$"
)
MOST_OHM = 1e9
MOST_EVENTS, MOST_EXPOSURE = 1_000_000, 1e6
"""More than anybody counts by hand, and far from what the exact tests cannot do."""
_MULTIPLIER = {"": 1.0, "k": 1e3, "K": 1e3, "M": 1e6, "r": 1.0, "R": 1.0}


def _refuse(code: str, text: str, wanted: str) -> Refused:
    return Refused(Remark(code, "", wanted, f"'{text}'", "type it like one of these"))


def _float(text: str) -> float:
    return float(text.replace(",", "."))


def temperature_c(text: str, unit: str = "celsius") -> float:
    """Degrees Celsius of "82", "82C", "180 F", "355K"; a bare number is in ``unit``."""
    match = _TEMPERATURE.match(text.strip())
    if not match:
        raise _refuse("temperature", text, "a temperature such as 82C, 180F or -10C")
    value, letter = _float(match.group(1)), match.group(2).upper()
    letter = letter or ("F" if unit == "fahrenheit" else "C")
    if letter == "F":
        value = (value - 32) / 1.8
    elif letter == "K":
        value -= 273.15
    if not -273.15 < value < 1000:
        raise _refuse("temperature", text, "a temperature between -273 and 1000 degC")
    return value


def resistance_ohm(text: str) -> float:
    """Ohms of "300", "1.5k", "1,5k", "4k7", "320ohm", "2M2"."""
    match = _RESISTANCE.match(text.strip())
    if not match:
        raise _refuse("resistance", text, "a resistance such as 300, 1.5k or 320ohm")
    if match.group(3):
        value = float(f"{match.group(3)}.{match.group(5)}") * _MULTIPLIER[match.group(4)]
    else:
        value = _float(match.group(1)) * _MULTIPLIER[match.group(2)]
    if not 0 < value <= MOST_OHM:
        raise _refuse("resistance", text, "a resistance above zero, at most 1 Gohm")
    return value


def is_resistance(text: str) -> bool:
    """Whether the words ask for ohms rather than degrees: a k, an M or the word ohm."""
    return bool(re.search(r"(?i)(ohm|Ω|\dr\b|\d[kM]\d|\dk$|\d\s?M$)", text.strip())) and not (
        re.search(r"(?i)\d\s*(deg|°)?\s*[cf]$", text.strip())
    )


def split_list(text: str) -> list[str]:
    """Items between commas, a decimal comma being kept: "20C=1,5k,82C=300"."""
    return [
        part.strip()
        for part in re.split(r"[;,]\s*(?=[-+]?\d+(?:[.,]\d+)?\s*(?:°|deg)?\s*[CcFfKk]?\s*=)", text)
    ]


def readings(text: str, unit: str = "celsius") -> list[tuple[float, float]]:
    """Meter readings as (degC, ohm) from "20C=1.5k,82C=300"; all faults at once."""
    pairs: list[tuple[float, float]] = []
    remarks: list[Remark] = []
    for part in split_list(text):
        left, _, right = part.partition("=")
        try:
            pairs.append((temperature_c(left, unit), resistance_ohm(right)))
        except Refused as refused:
            remarks += [Remark(r.code, f"reading '{part}'", r.wanted, r.found, r.remedy)
                        for r in refused.remarks]  # fmt: skip
    if remarks:
        raise Refused(remarks)
    return pairs


def events_and_exposure(text: str) -> tuple[int, float, str]:
    """Count, amount and unit of "3/10h", "4/12drives", "0/90min"; bare numbers are hours."""
    match = re.match(
        rf"^\s*(\d+)\s*/\s*({_NUMBER})\s*(h|hours?|min|minutes?|drives?|trips?)?\s*$", text
    )
    if not match:
        raise _refuse("events", text, "events over exposure such as 3/10h or 4/12drives")
    count, amount, unit = float(match.group(1)), _float(match.group(2)), match.group(3) or "h"
    if count > MOST_EVENTS or abs(amount) > MOST_EXPOSURE:
        raise _refuse("events", text, "at most a million events, hours or drives")
    count = int(count)
    if unit.startswith("min"):
        return count, amount / 60, "hours"
    if unit[0] in "dt":
        if amount != int(amount) or count > amount:
            raise _refuse("drives", text, "whole drives, no more with events than drives")
        return count, amount, "drives"
    return count, amount, "hours"
