"""The time column of a foreign log: found by its name, read as seconds since the first row."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np

from locum.casebook.foreign_table import TIME_UNITS, name_and_unit, number

FIRST_DATED_S, LAST_DATED_S = 1e9, 1e11
"""Seconds since 1970 that are a date (2001 to the year 5138) and no time since some start."""
TIME_NAMES = ("time", "timestamp", "date", "datetime", "t", "elapsed", "seconds", "zeit", "temps")


def time_at(head: list[str], wanted: str | None) -> int | None:
    """Place of the time column: the one of that name, else the first that sounds like time."""
    names = [name_and_unit(cell)[0].lower() for cell in head]
    if wanted is not None:
        low = wanted.lower()
        return names.index(low) if low in names else None
    for candidate in TIME_NAMES:
        for at, name in enumerate(names):
            if name == candidate or candidate in re.split(r"[^a-z]+", name):
                return at
    return None


def times(cells: Sequence[str], unit: str, comma: bool) -> tuple[np.ndarray, datetime | None]:
    """Seconds since the first readable row, and its time of day if the file tells a date."""
    numbers = np.array([number(cell, comma) for cell in cells])
    if np.isfinite(numbers).mean() > 0.5:
        scale = TIME_UNITS.get(unit, 1.0)
        first = numbers[np.isfinite(numbers)][0]
        if not unit and first > LAST_DATED_S:  # milliseconds since 1970
            scale = 1e-3
        seconds = numbers * scale
        begin = seconds[np.isfinite(seconds)][0]
        dated = FIRST_DATED_S < begin < LAST_DATED_S
        start = datetime.fromtimestamp(begin, UTC) if dated else None
        return seconds - begin, start
    moments = [_moment(cell) for cell in cells]
    seconds = np.array([float("nan") if m is None else m.timestamp() for m in moments])
    known = seconds[np.isfinite(seconds)]
    if not len(known):
        return seconds, None
    first_moment = next(m for m in moments if m is not None)
    return seconds - known[0], first_moment if first_moment.year > 1970 else None


def _moment(cell: str) -> datetime | None:
    """An ISO time, or a time of day alone (then on the first day of 1970)."""
    text = cell.strip().replace("Z", "+00:00").replace(",", ".")
    if re.fullmatch(r"\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?", text):
        parts = [float(part) for part in text.split(":")] + [0.0]
        total = parts[0] * 3600 + parts[1] * 60 + parts[2]
        return datetime.fromtimestamp(total, UTC)
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment


def rising(seconds: np.ndarray) -> np.ndarray:
    """Rows whose time is readable and later than all before."""
    filled = np.where(np.isfinite(seconds), seconds, -np.inf)
    highest = np.concatenate(([-np.inf], np.maximum.accumulate(filled)[:-1]))
    return np.isfinite(seconds) & (filled > highest)
