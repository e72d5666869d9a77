"""What is typed while vehicle lines are learned: a line and its name, a state, a state's pattern by hand."""

from __future__ import annotations

import re
from collections.abc import Sequence

from locum.errors import Refused, Remark
from locum.review.context import LineSpec, StatePattern

LINES = 6
"""Watch inputs of the reference board, the most there are."""
LINE_EXAMPLE = "1 converter clutch"
PATTERN_EXAMPLE = "top gear = converter clutch on, fan relay off"
FLAGS = {"low": "active", "high": "active", "pwm": "kind", "peak-hold": "kind", "other": "role"}
"""Words after a line's name, and what each of them tells."""
ROLES = (("brake", r"brake|stop ?lamp"), ("ignition", r"ignition|key on|supply|feed"))
"""Role -> names of lines that have it."""
BRAKE_DEBOUNCE_MS, USUAL_DEBOUNCE_MS = 15, 30
SHORT = re.compile(r"^(?:line\s+)?(\d+)\s*[=:\s]\s*(.+)$", re.IGNORECASE)


def line_of(text: str) -> LineSpec:
    """One watch line of "1 converter clutch", "3 brake low" or "5 solenoid pwm"; Refused otherwise.

    A line whose name says so is the brake's or the ignition's; ``other`` after the name keeps a line
    out of the states; any other one is a commanded output.
    """
    match = SHORT.match(text.strip())
    number = int(match[1]) if match else 0
    if match is None or not 1 <= number <= LINES:
        raise Refused(Remark("line", "line", f"its number, 1 to {LINES}, and its name", f"'{text}'",
                             f"type it like {LINE_EXAMPLE}, or {number or 3} brake low"))  # fmt: skip
    words, told = match[2].split(), {}
    while len(words) > 1 and words[-1].lower() in FLAGS:
        flag = words.pop().lower()
        told[FLAGS[flag]] = flag
    name = " ".join(words)
    role = _role(name)
    return LineSpec(
        number, name, int(told.get("active") != "low"), told.get("kind", "switched").replace("-", "_"),
        told.get("role", role), BRAKE_DEBOUNCE_MS if role == "brake" else USUAL_DEBOUNCE_MS,
    )  # fmt: skip


def _role(name: str) -> str:
    return next((role for role, named in ROLES if re.search(named, name.lower())), "output")


def line_words(spec: LineSpec) -> str:
    """A line as it would be typed."""
    flags = [] if spec.on_level else ["low"]
    flags += [spec.kind.replace("_", "-")] if spec.kind in ("pwm", "peak_hold") else []
    flags += ["other"] if spec.role == "other" else []
    return " ".join([str(spec.line), spec.name, *flags])


def line_said(spec: LineSpec) -> str:
    """A line as it was understood, in a sentence."""
    means = {"output": "commanded, tells the states", "brake": "the brake", "ignition": "the ignition",
             "other": "watched, tells no state"}.get(spec.role, spec.role)  # fmt: skip
    kind = {"pwm": ", pulsed", "peak_hold": ", peak and hold"}.get(spec.kind, "")
    return f"line {spec.line}, {spec.name}: {means}; on when its volts are {'high' if spec.on_level else 'low'}{kind}"


def outputs_of(specs: Sequence[LineSpec]) -> list[LineSpec]:
    """Lines that tell the states."""
    return [spec for spec in specs if spec.role == "output" and spec.kind != "ignore"]


def state_of(
    text: str, specs: Sequence[LineSpec]
) -> tuple[str, tuple[tuple[int, bool], ...] | None]:
    """(name, pattern) of "top gear" or "top gear = converter clutch on"; None: to be learned by driving.

    Raises Refused with every fault of a pattern at once.
    """
    name, equals, rest = (part.strip() for part in text.partition("="))
    if not name:
        raise Refused(Remark("state", "state", "a name, such as top gear", f"'{text}'",
                             f"type it like top gear, or {PATTERN_EXAMPLE}"))  # fmt: skip
    if not equals:
        return name, None
    known = {spec.name.lower(): spec.line for spec in specs}
    known |= {str(spec.line): spec.line for spec in specs}
    levels, faults = [], []
    for part in re.split(r"\s*(?:,|;|\band\b)\s*", rest):
        line, _, level = part.strip().rpartition(" ")
        number = known.get(line.strip().lower())
        if number is None or level.lower() not in ("on", "off"):
            faults.append(Remark("pattern", f"state {name}", "a line's name and on or off",
                                 f"'{part}'", "lines: " + ", ".join(s.name for s in specs)))  # fmt: skip
        else:
            levels.append((number, level.lower() == "on"))
    if faults:
        raise Refused(faults)
    return name, tuple(levels)


def pattern_words(levels: Sequence[tuple[int, bool]], specs: Sequence[LineSpec]) -> str:
    """Levels in words: "converter clutch on, fan relay off"."""
    names = {spec.line: spec.name for spec in specs}
    return ", ".join(f"{names.get(line, line)} {'on' if on else 'off'}" for line, on in levels)


def standing_words(levels: int, specs: Sequence[LineSpec]) -> str:
    """What the lines that tell the states show now; bit 0 of ``levels`` is line 1."""
    shown = [spec for spec in outputs_of(specs) if spec.kind == "switched"]
    now = [(spec.line, (levels >> (spec.line - 1)) & 1 == spec.on_level) for spec in shown]
    return pattern_words(now, specs)


def hand_pattern(name: str, levels: tuple[tuple[int, bool], ...], held: bool) -> StatePattern:
    """A pattern typed by hand."""
    return StatePattern(name, levels, held=held)
