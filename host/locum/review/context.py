"""What review must be told beforehand: lines, state patterns, the module's numbers, the rule.

A vehicle sheet, a module measurement and a case's rule become one :class:`Context`; review reads
nothing else besides the record. All times are milliseconds of board time.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations

from locum.errors import Remark

LINE_KINDS = ("switched", "pwm", "peak_hold", "ignore")
LINE_ROLES = ("output", "brake", "ignition", "selector", "other")


@dataclass(frozen=True)
class LineSpec:
    """One watch line as the vehicle sheet describes it."""

    line: int
    """Number of the watch input, 1-6."""
    name: str
    on_level: int = 1
    """Level at the pin (1 = voltage high) that means "on"."""
    kind: str = "switched"
    """``switched`` from edges; ``pwm`` and ``peak_hold`` from duty; ``ignore``."""
    role: str = "output"
    """``output`` of the module, ``brake``, ``ignition`` (supply), ``selector`` or ``other``."""
    debounce_ms: int = 30
    """A level must hold this long; shorter pulses are the module's self-test and are counted."""
    on_permille: int = 500
    """Duty at which a pwm or peak-hold line is on; 100 permille of hysteresis on either side."""


@dataclass(frozen=True)
class StatePattern:
    """What levels of the outputs are called, in the vehicle sheet's words."""

    name: str
    levels: tuple[tuple[int, bool], ...]
    """(line, on?) pairs; lines left out do not matter."""
    held: bool = False
    """True for a state whose loss is a release (top gear, lock-up)."""
    transition: bool = False
    """True for a pattern that only occurs on the way between two states, up to 2 s."""
    group: str = ""
    """Independent sets of outputs (gears, fan) are named apart."""


@dataclass(frozen=True)
class ExposureRule:
    """When the fault can show at all; part of the case, fixed before it is used."""

    after_min: float = 0.0
    """Minutes since the ignition came on (or since the record began). [min]"""
    below_ohm: float | None = None
    """Sensor warmer than a temperature, told as "at most so many ohms" (NTC). [ohm]"""
    above_ohm: float | None = None
    """Sensor colder than a temperature, told as "at least so many ohms" (NTC). [ohm]"""
    above_kmh: float | None = None
    """Speed, where a log of it exists. [km/h]"""
    in_state: str | None = None
    """Only while this state is held."""


@dataclass(frozen=True)
class Context:
    """Everything review needs besides the record."""

    lines: tuple[LineSpec, ...] = ()
    patterns: tuple[StatePattern, ...] = ()
    open_v: float = 5.0
    """The module's open-circuit voltage. [V]"""
    pull_up_ohm: float | None = None
    """The module's source resistance; without it depth of node glitches has no ohms. [ohm]"""
    second_pull_up_ohm: float | None = None
    """Second stage of a two-stage pull-up; its jump is no glitch. [ohm]"""
    curve_points: tuple[tuple[float, float], ...] = ()
    """(ohm, degC) of the sensor, any order; without them 3 %/K is taken for every NTC."""
    glitch_k: float = 3.0
    """Least departure that is looked for. [K]"""
    shortest_ms: int = 5
    """Departures shorter than this are electrical noise. [ms]"""
    module_delay_ms: tuple[int, int] = (0, 2000)
    """Shortest and longest time from a disturbance to the module's answer, measured by injection;
    the default is what is taken before anything was measured. [ms]"""
    shortest_answered_ms: int | None = None
    """Shortest glitch the module answers, measured; shorter ones do not link. [ms]"""
    needed: tuple[str, ...] = ("brake",)
    """Channels (``brake``, ``throttle``, ``speed``) without which the driver's part is unknown."""
    throttle: bool = False
    """True if the 0-5 V input is on the throttle."""
    throttle_step_v: float = 0.4
    """A change of the throttle within the look-back that counts as the driver's act. [V]"""
    driver_lookback_ms: int = 1500
    """How long before a release an act of the driver explains it. [ms]"""
    foot_pulse_ms: int = 500
    """A brake pulse shorter than this is no foot: the switch or its wire. [ms]"""
    road_below_kmh: float | None = None
    """Speed below which the module leaves the held state by design. [km/h]"""
    established_ms: int = 3000
    """A held state counts once it has stood this long. [ms]"""
    lasting_ms: int = 500
    """A release must last this long. [ms]"""
    refractory_ms: int = 10_000
    """Further releases within this time belong to the same event. [ms]"""
    settle_ms: int = 80
    """Lines that belong together change up to this long apart. [ms]"""
    transition_ms: int = 2000
    """A transition pattern is believed this long. [ms]"""
    start_quiet_ms: int = 5000
    """After the ignition comes on, node readings prove nothing for this long. [ms]"""
    offset_v: float = 0.03
    """Return wire against battery negative: a shift of this much is an offset event. [V]"""
    rule: ExposureRule = field(default_factory=ExposureRule)

    def by_role(self, role: str) -> tuple[LineSpec, ...]:
        """Lines of a role that are not ignored."""
        return tuple(spec for spec in self.lines if spec.role == role and spec.kind != "ignore")

    def faults(self) -> list[Remark]:
        """All contradictions in lines and patterns at once; empty if there are none."""
        return [*_line_faults(self), *_pattern_faults(self)]


def _line_faults(context: Context) -> list[Remark]:
    found = []
    numbers = [spec.line for spec in context.lines]
    for spec in context.lines:
        where = f"line {spec.line}"
        if not 1 <= spec.line <= 6:
            found.append(Remark("line_number", where, "a line from 1 to 6", str(spec.line)))
        if numbers.count(spec.line) > 1:
            found.append(Remark("line_twice", where, "each line once", f"{spec.name} again"))
        if spec.kind not in LINE_KINDS:
            found.append(Remark("line_kind", where, " | ".join(LINE_KINDS), repr(spec.kind)))
        if spec.role not in LINE_ROLES:
            found.append(Remark("line_role", where, " | ".join(LINE_ROLES), repr(spec.role)))
    return found


def _pattern_faults(context: Context) -> list[Remark]:
    known = {spec.line for spec in context.lines if spec.kind != "ignore"}
    found = []
    for pattern in context.patterns:
        strange = sorted({line for line, _ in pattern.levels} - known)
        if strange:
            found.append(
                Remark(
                    "pattern_line",
                    f"state {pattern.name}",
                    "lines that are watched",
                    f"line {', '.join(map(str, strange))}",
                    "add the line to the sheet or take it out of the state",
                )
            )
    for one, other in combinations(context.patterns, 2):
        if one.group == other.group and one.name != other.name and _agree(one, other):
            found.append(
                Remark(
                    "pattern_ambiguous",
                    f"states {one.name} and {other.name}",
                    "one name for each pattern of the lines",
                    "a pattern that fits both",
                    "tell them apart by another line or a selector position",
                )
            )
    return found


def _agree(one: StatePattern, other: StatePattern) -> bool:
    mine = dict(one.levels)
    return all(mine.get(line, on) == on for line, on in other.levels)
