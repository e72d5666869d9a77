"""Numbers as people read them; the JSON keeps every digit."""

from __future__ import annotations


def hours(value_h: float | None) -> str:
    """``0.4`` -> ``24 min``; ``17.52`` -> ``17.5 h``; ``None`` -> ``no limit``."""
    if value_h is None:
        return "no limit"
    if value_h < 0.995:
        return f"{value_h * 60:.0f} min"
    return f"{value_h:.1f} h" if value_h < 99.95 else f"{value_h:.0f} h"


def long_hours(value_h: float) -> str:
    """The same in words for the customer: ``17.5 hours``."""
    if value_h < 0.995:
        minutes = round(value_h * 60)
        return f"{minutes} minute" + ("" if minutes == 1 else "s")
    text = f"{value_h:.1f}" if value_h < 99.95 else f"{value_h:.0f}"
    text = text.removesuffix(".0")
    return f"{text} hour" + ("" if text == "1" else "s")


def digits(value: float | None, count: int = 3) -> str:
    """``count`` significant digits without exponent for everyday sizes; ``-`` for nothing."""
    if value is None:
        return "–"
    if value == 0:
        return "0"
    size = abs(value)
    if size >= 10**count:
        return f"{value:,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    if size < 1e-3:
        return f"{value:.{count - 1}e}"
    places = count - 1
    while size < 1:
        size *= 10
        places += 1
    while size >= 10:
        size /= 10
        places -= 1
    return f"{value:.{max(places, 0)}f}"


def short(value: float | None) -> str:
    """As typed or fitted: up to six digits, no zeros behind them."""
    return "–" if value is None else f"{value:.6g}"


def p_value(value: float | None) -> str:
    """``p = 0.0041``, ``p < 0.0001``; empty for nothing."""
    if value is None:
        return ""
    if value < 1e-4:
        return "p < 0.0001"
    return f"p = {value:.2g}" if value < 0.1 else f"p = {value:.2f}"


def rate(value_per_h: float | None) -> str:
    return "no limit" if value_per_h is None else f"{digits(value_per_h)} per hour"


def percent(value: float | None) -> str:
    """A share as per cent, without decimals unless it is close to an end."""
    if value is None:
        return "–"
    if 0 < value < 0.01 or 0.99 < value < 1:
        return f"{value * 100:.1f} %"
    return f"{value * 100:.0f} %"


def span(low: float | None, high: float | None) -> str:
    """``0.18 to 1.7``; an open end reads "no limit"."""
    return (
        f"{'0' if low is None else digits(low)} to {'no limit' if high is None else digits(high)}"
    )


def clock(seconds: float) -> str:
    """``3725`` -> ``1:02:05``."""
    whole = round(seconds)
    return f"{whole // 3600}:{whole % 3600 // 60:02d}:{whole % 60:02d}"


def day(utc: str) -> str:
    """The date of an ISO time; what is no such time is shown as it is."""
    return utc[:10] if len(utc) >= 10 and utc[4:5] == "-" else utc


def minute(utc: str) -> str:
    """Date and time to the minute of an ISO time; what is no such time is shown as it is."""
    return f"{utc[:10]} {utc[11:16]}" if utc[10:11] == "T" else utc


def times(count: int) -> str:
    """``1`` -> ``once``, ``2`` -> ``twice``, then ``5 times``."""
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def sign_of(unit: str) -> str:
    """The sign of the page's unit of temperature."""
    return "°F" if unit == "fahrenheit" else "°C"


def in_unit(celsius: float | None, unit: str) -> float | None:
    """A temperature in the page's unit: degF = 1.8 degC + 32 by definition."""
    return celsius if celsius is None or unit != "fahrenheit" else 1.8 * celsius + 32.0
