"""The vehicle sheet: which line is what, which pattern is which state, what time counts."""

from __future__ import annotations

from dataclasses import dataclass, field

from locum.sheets.fields import SheetText, Table

ROLES = ("commanded", "brake", "ignition", "other")
LINE_KINDS = ("switched", "pwm", "peak_hold", "ignore")


@dataclass(frozen=True)
class LineSpec:
    """One watch line of the board."""

    input: int
    """Number of the board's watch input, 1 to 6."""
    name: str
    role: str
    kind: str = "switched"
    active: str = "high"
    """``high``: the thing is on when the pin's voltage is high; ``low``: when it is low."""
    debounce_ms: int = 30


@dataclass(frozen=True)
class StateSpec:
    """A commanded state in the vehicle's own words, and the pattern that means it."""

    name: str
    lines: dict[str, str] = field(default_factory=dict)
    """Line name -> ``on`` or ``off``; a line left out may be either."""
    top: bool = False
    """The state whose loss is a release."""
    transition: bool = False
    """A pattern passed through between two states, up to 2 s."""


@dataclass(frozen=True)
class ExposureRule:
    """When the fault could have shown."""

    after_min: float = 0.0
    """Minutes since engine start."""
    above_c: float | None = None
    """True temperature above which it counts. [degC]"""
    states: tuple[str, ...] = ()
    """Commanded states in which it counts; empty: the top state."""


@dataclass(frozen=True)
class VehicleSheet:
    """What the watched lines of one kind of vehicle mean, and which time counts."""

    name: str
    title: str
    lines: tuple[LineSpec, ...]
    states: tuple[StateSpec, ...]
    exposure: ExposureRule
    throttle: tuple[float, float] | None = None
    """Volts at rest and at full throttle, where the 0-5 V input is wired."""
    highest_c: float | None = None
    """True temperature at which the stand-in lets go. [degC]"""
    road_below_kmh: float | None = None
    """Speed below which the module lets go by design; used where a log tells the speed. [km/h]"""


def _line(row: Table) -> LineSpec:
    return LineSpec(
        input=row.whole("input", 1, 6, default=1, required=True),
        name=row.text("name") or "",
        role=row.choice("role", ROLES, default="other"),
        kind=row.choice("kind", LINE_KINDS, default="switched"),
        active=row.choice("active", ("high", "low"), default="high"),
        debounce_ms=row.whole("debounce_ms", 0, 1000, default=30),
    )


def _state(row: Table, line_names: set[str]) -> StateSpec:
    pattern = row.raw("lines") or {}
    for line, level in pattern.items():
        if line not in line_names:
            names = ", ".join(sorted(line_names))
            row.remark("unknown_line", "lines", f"one of {names}", repr(line), "correct the name")
        if level not in ("on", "off"):
            row.remark("line_level", "lines", f"{line} = on or off", repr(level), "write on or off")
    name = row.text("name") or ""
    return StateSpec(name, dict(pattern), row.flag("top"), row.flag("transition"))


def _check_whole(top: Table, lines: tuple[LineSpec, ...], states: tuple[StateSpec, ...]) -> None:
    for attribute in ("input", "name"):
        values = [getattr(line, attribute) for line in lines]
        for twice in sorted({v for v in values if values.count(v) > 1}, key=str):
            top.remark("twice", "line", f"each {attribute} once", f"{twice} twice", "change one")
    if states and not any(state.top for state in states):
        top.remark("no_top", "state", "one state with top = true", "none", "mark the top state")
    for n, one in enumerate(states):
        for other in states[n + 1 :]:
            shared = one.lines.keys() & other.lines.keys()
            if all(one.lines[k] == other.lines[k] for k in shared):
                top.remark("ambiguous", "state", "patterns that differ in a line",
                           f"'{one.name}' and '{other.name}' can be the same pattern",
                           "name one more line in each")  # fmt: skip


def _check_rule(rule: Table, exposure: ExposureRule, states: tuple[StateSpec, ...]) -> None:
    names = {state.name for state in states}
    for name in exposure.states:
        if name not in names:
            wanted = "one of " + ", ".join(sorted(names)) if names else "a state of this sheet"
            rule.remark("unknown_state", "states", wanted, repr(name), "correct the name")


def read_vehicle(text: str, name: str = "vehicle") -> VehicleSheet:
    """The checked sheet; Refused with all faults and their lines."""
    sheet = SheetText.parse(text, name)
    top = sheet.table()
    title = top.text("title", default=name)
    top.know("source", "confidence", "note", "invented")
    road_below_kmh = top.number("road_below_kmh", 1, 200, required=False)
    lines = tuple(_line(row) for row in top.tables("line"))
    states = tuple(_state(row, {x.name for x in lines}) for row in top.tables("state"))
    _check_whole(top, lines, states)
    throttle = None
    if "throttle" in top:
        pedal = top.table("throttle")
        pedal.know("input")
        throttle = (pedal.number("idle_v", 0, 5), pedal.number("full_v", 0, 5))
    rule = top.table("exposure")
    exposure = ExposureRule(
        after_min=rule.number("after_min", 0, 600, default=0.0),
        above_c=rule.number("above_c", -60, 200, required=False),
        states=tuple(rule.raw("states") or ()),
    )
    highest = top.table("limits").number("highest_c", 20, 200, required=False)
    _check_rule(rule, exposure, states)
    sheet.finish()
    return VehicleSheet(
        name, title, lines, states, exposure, throttle, highest, road_below_kmh=road_below_kmh
    )
