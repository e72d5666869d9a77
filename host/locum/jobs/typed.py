"""The typed line: "80", "now", "up 2", "back 2", "stay", "follow", "sweep 20 90", "open 300".

One line becomes one act of ``desk_acts.ACTS`` with its arguments, or a refusal with examples.
"up" and "back" are relative to what the module is told now, in the screen's unit.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from locum.errors import Misuse, Remark
from locum.jobs.quantities import said_c
from locum.jobs.targets import said, target_of
from locum.sheets.values import temperature_c

LINES = (
    ("80", "hold 80 degrees, in the unit of the settings"),
    ("320ohm", "hold a resistance"),
    ("now", "hold what the real sensor says itself"),
    ("up 2", "two degrees warmer than now"),
    ("back 2", "two degrees colder than now"),
    ("stay", "hold the present value"),
    ("follow", "be the real sensor without its glitches"),
    ("sweep 20 90 10", "from 20 to 90 degrees and back in 10 minutes"),
    ("replay NAME", "play a profile or a recording"),
    ("open 300", "open the line for 300 ms"),
    ("short 300", "short the line for 300 ms"),
    ("glitch 300", "glitches of 300 ms with blanks between"),
    ("glitch FILE", "give a glitch that was kept, by its name or file, blanks between"),
    ("swap 4 10", "unseen swap test: 4 stretches of 10 minutes"),
    ("extend", "I am here: the longest time away starts again"),
)
"""Every line that can be typed, with what it does."""
EXAMPLES = ", ".join(line for line, _ in LINES)


@dataclass(frozen=True)
class Act:
    """An act to ask the desk for."""

    name: str
    arguments: tuple[Any, ...] = ()
    words: str = ""


def _wrong(text: str) -> Misuse:
    return Misuse(Remark("typed", text, f"one of {EXAMPLES}", f"'{text}'", "type it like that"))


def _number(text: str, whole: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise _wrong(whole) from None


def act_of(line: str, unit: str = "celsius", told_c: float | None = None) -> Act:
    """The act a typed line asks for; Misuse with examples if it is none.

    ``told_c`` is what the module is told now, for "up" and "back". [degC]
    """
    text = " ".join(line.split())
    word, _, rest = text.partition(" ")
    word = word.lower()
    parts = rest.split()
    if word in ("up", "back"):
        return _relative(text, word, parts, unit, told_c)
    if word in ("stay", "follow", "extend") and not parts:
        return Act(word, (), word)
    if word in ("open", "short"):
        towards = "cold" if word == "open" else "hot"
        length = int(_number(parts[0], text)) if parts else 500
        if not 1 <= length <= 60_000:
            raise _wrong(text)
        return Act("contact", (towards, length), f"{word} {length} ms")
    if word == "glitch":
        return _glitches(rest, parts, text)
    if word == "swap" and len(parts) <= 2:
        numbers = [_number(p, text) for p in parts]
        whole = tuple(int(n) for n in numbers[:1])
        return Act("swap", (*whole, *numbers[1:]), "")
    if word == "sweep" and len(parts) in (2, 3):
        minutes = _number(parts[2], text) if len(parts) == 3 else 10.0
        low, high = (said_c(temperature_c(part, unit), unit) for part in parts[:2])
        return Act("sweep", (parts[0], parts[1], minutes), f"{low} to {high} and back")
    if word == "replay" and parts:
        return Act("replay", (rest,), rest)
    value = rest if word == "hold" else text
    if not value:
        raise _wrong(text)
    return Act("hold", (value,), said(target_of(value, unit), unit))


def _glitches(rest: str, parts: list[str], whole: str) -> Act:
    """Lengths, or where the first word is no number the name of a captured glitch."""
    if parts and not parts[0][0].isdigit() or rest.lower().endswith((".csv", ".toml")):
        return Act("glitch", ((rest,),), f"captured glitch {rest}")
    lengths = tuple(int(_number(p, whole)) for p in parts) or (300,)
    if not all(1 <= ms <= 60_000 for ms in lengths):
        raise _wrong(whole)
    return Act("glitch", (lengths,), f"glitches of {', '.join(map(str, lengths))} ms")


def _relative(text: str, word: str, parts: list[str], unit: str, told_c: float | None) -> Act:
    if len(parts) != 1:
        raise _wrong(text)
    if told_c is None:
        raise Misuse(Remark("typed", text, "a known present value", "none", "type a temperature"))
    by = _number(parts[0], text) * (1 if word == "up" else -1)
    by = by / 1.8 if unit == "fahrenheit" else by
    return Act("hold", (f"{told_c + by:.2f}C",), f"{text}, to {said_c(told_c + by, unit)}")
