"""How numbers are told on screens: temperatures, resistances, times, small probabilities."""

from __future__ import annotations

import math

from locum.jobs.quantities import said_c


def degrees(celsius: float | None, unit: str = "celsius", digits: int = 1) -> str:
    """A temperature as screens show it; a dash where it is not known."""
    if celsius is None:
        return "--"
    return said_c(celsius, unit, digits)


def apart(kelvin: float, unit: str = "celsius") -> str:
    """A difference of temperatures, such as an uncertainty."""
    return f"{kelvin * 1.8:.2f} F" if unit == "fahrenheit" else f"{kelvin:.2f} K"


def ohms(ohm: float | None) -> str:
    """A resistance as screens show it."""
    if ohm is None:
        return "--"
    if ohm > 1_000_000:
        return "open"
    return f"{ohm / 1000:.2f} k" if ohm >= 1000 else f"{ohm:.0f} ohm"


def clock(seconds: float) -> str:
    """Time since the recording began, ``1:02:33`` or ``02:33``."""
    whole = int(seconds)
    hours, rest = divmod(whole, 3600)
    head = f"{hours}:" if hours else ""
    return f"{head}{rest // 60:02d}:{rest % 60:02d}"


def ago(seconds: float | None) -> str:
    if seconds is None:
        return "none yet"
    if seconds < 90:
        return f"{seconds:.0f} s ago"
    return f"{seconds / 60:.0f} min ago"


def said(name: str) -> str:
    """An input of a test by its name in the code, as words."""
    return name.replace("_per_h", " per hour").replace("_h", " h").replace("_", " ")


def odds(p: float | None) -> str:
    """A small probability in plain words."""
    if p is None or p != p:
        return "no test yet"
    if p > 0.995:
        return "nothing to compare yet"
    if p >= 0.5:
        return "luck alone does it every other time"
    if p < 1e-9:
        return "less than 1 in a billion by luck"
    against = 1 / p
    digits = max(0, math.floor(math.log10(against)) - 1)  # two figures say all there is to say
    return f"1 in {round(against / 10**digits) * 10**digits:,} by luck"
