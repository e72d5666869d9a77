"""Scenario files of the trial (TOML, schema 1): read and checked whole, all faults at once.

Every table becomes one frozen dataclass, every key one of its fields; what a file leaves out takes
the open example's value, shown as the field's default. A key that is no field is refused. ``note``,
``expect`` and ``accept`` are for the score; nothing that a policy sees holds them.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from locum.errors import FileTrouble
from locum.sheets.fields import SheetText, Table

from .hidden import CONCLUSIONS, CULPRITS

HOUR = (0.01, 10_000.0)
SHARE = (0.0, 1.0)
RATE = (0.0, 1e5)
SHAPE = (0.05, 1e6)
LENGTH = (1e-4, 1e4)
SIGMA = (0.0, 5.0)
CELSIUS = (-60.0, 300.0)
VOLTS = (0.0, 6.0)


def _in(span: tuple[float, float], default: Any) -> Any:
    return field(default=default, metadata={"span": span})


@dataclass(frozen=True)
class Trial:
    budget_h: float = _in(HOUR, 40.0)
    drive_h: float = _in(HOUR, 2.0)


@dataclass(frozen=True)
class Rate:
    bursts_per_exposed_h: float = _in(RATE, 1.5)
    """Mean over cases."""
    case_shape: float = _in(SHAPE, 2.0)
    """Gamma shape over cases; 1 is very uneven."""
    drive_shape: float = _in(SHAPE, 2.0)
    """Gamma shape over the drives of a case."""
    worst_of_spells: int = _in((1, 100), 3)
    """The customer came after the worst of so many spells."""


@dataclass(frozen=True)
class Burst:
    extra_dropouts_mean: float = _in((0.0, 1000.0), 2.0)
    """Mean of the geometric number of dropouts after a burst's first."""
    gap_s: float = _in(LENGTH, 4.0)


@dataclass(frozen=True)
class Dropout:
    length_median_s: float = _in(LENGTH, 0.6)
    length_sigma: float = _in(SIGMA, 0.8)
    residual_ohm: float = _in((0.0, 1e9), 1e7)
    towards_hot: float = _in(SHARE, 0.0)
    """Share that goes to ground instead of open."""


@dataclass(frozen=True)
class Exposure:
    after_min: float = _in((0.0, 600.0), 25.0)
    above_c: float = _in(CELSIUS, 60.0)


@dataclass(frozen=True)
class Innocent:
    dropouts_per_h: float = _in(RATE, 0.0)
    length_median_s: float = _in(LENGTH, 0.03)
    length_max_s: float = _in(LENGTH, 0.1)
    shared_cause: float = _in(SHARE, 0.0)
    """Chance that the shock of a true burst shakes one loose too."""


@dataclass(frozen=True)
class BrakeInput:
    fault_pulse_median_s: float = _in(LENGTH, 0.15)
    driver_pulse_median_s: float = _in(LENGTH, 2.0)
    pulse_sigma: float = _in(SIGMA, 0.5)
    only_when_slowing: float = _in(SHARE, 0.0)
    """Share of the bad switch's bursts that come while the driver eases the throttle."""


@dataclass(frozen=True)
class Tap:
    wipe_sensor_connector: float = _in(SHARE, 0.6)
    wipe_other: float = _in(SHARE, 0.05)
    asleep_h: float = _in(HOUR, 40.0)


@dataclass(frozen=True)
class Bench:
    finds_drift: float = _in(SHARE, 0.9)
    false_alarm: float = _in(SHARE, 0.01)


@dataclass(frozen=True)
class Expect:
    right_min: float = _in(SHARE, 0.8)
    blamed_wrongly_max: float = _in(SHARE, 0.02)
    wrongly_cleared_max: float = _in(SHARE, 0.02)


@dataclass(frozen=True)
class ModuleTable:
    pull_up_ohm: tuple[float, ...] = (1000.0,)
    """One value, or (cold stage, hot stage)."""
    switch_down_v: float = _in(VOLTS, 0.0)
    switch_up_v: float = _in(VOLTS, 0.0)
    filter_s: float = _in((0.0, 60.0), 0.12)
    confirm_s: float = _in((0.0, 600.0), 0.15)
    case_sigma: float = _in(SIGMA, 0.3)
    """Lognormal spread of filter and confirm time over cases."""
    refuse_top_below_c: float = _in(CELSIUS, 20.0)
    refuse_top_above_c: float = _in(CELSIUS, 150.0)


@dataclass(frozen=True)
class DriverTable:
    own_downshifts_per_h: float = _in(RATE, 12.0)
    brake_share: float = _in(SHARE, 0.4)
    still_foot_factor: float = _in(SHARE, 0.1)
    unnoticed_share: float = _in(SHARE, 0.03)
    """Share of own downshifts that no channel shows."""
    button_hit: float = _in(SHARE, 0.85)
    button_own: float = _in(SHARE, 0.02)
    button_imagined_per_h: float = _in(RATE, 0.08)
    disobeys: float = _in(SHARE, 0.02)
    """Chance that "foot still" is forgotten for a whole stretch."""


@dataclass(frozen=True)
class Channels:
    node: bool = True
    ohmmeter_under_mask: bool = True
    throttle: bool = True
    brake: bool = True
    return_offset: bool = True
    converter: bool = True
    button: bool = True


def _even_mix() -> dict[str, float]:
    return dict.fromkeys(CULPRITS, 1.0)


def _usual_accept() -> dict[str, tuple[str, ...]]:
    return {
        "sensor_open": ("sensor_side",),
        "sensor_drift": ("sensor_side", "sensor_slow_error"),
        "harness": ("harness",),
        "connector": ("sensor_side", "connector", "circuit_not_reproduced_after_tap"),
        "ground": ("module_or_ground",),
        "another_input": ("another_input", "not_sensor_circuit"),
        "hydraulic": ("outputs_or_hydraulics",),
        "nothing": ("normal", "not_reproduced"),
    }


@dataclass(frozen=True)
class Scenario:
    """A checked scenario; attributes are named as the file's tables."""

    title: str = "scenario"
    note: str = ""
    trial: Trial = Trial()
    rate: Rate = Rate()
    burst: Burst = Burst()
    dropout: Dropout = Dropout()
    exposure: Exposure = Exposure()
    innocent: Innocent = Innocent()
    brake_input: BrakeInput = BrakeInput()
    tap: Tap = Tap()
    bench: Bench = Bench()
    expect: Expect = Expect()
    mix: dict[str, float] = field(default_factory=_even_mix)
    accept: dict[str, tuple[str, ...]] = field(default_factory=_usual_accept)
    module: ModuleTable = ModuleTable()
    driver: DriverTable = DriverTable()
    channels: Channels = Channels()


_TABLES = {
    item.name: item.default
    for item in fields(Scenario)
    if item.name not in ("title", "note", "mix", "accept")
}


def _fill(table: Table, example: Any) -> Any:
    """One dataclass from one table; what is absent or wrong keeps the example's value."""
    values: dict[str, Any] = {}
    for item in fields(example):
        usual = getattr(example, item.name)
        if isinstance(usual, bool):
            values[item.name] = table.flag(item.name, usual)
        elif isinstance(usual, tuple):
            values[item.name] = _pull_ups(table, item.name, usual)
        elif isinstance(usual, int):
            low, high = item.metadata["span"]
            values[item.name] = table.whole(item.name, low, high, usual)
        else:
            low, high = item.metadata["span"]
            values[item.name] = table.number(item.name, low, high, usual)
    return type(example)(**values)


def _pull_ups(table: Table, key: str, usual: tuple[float, ...]) -> tuple[float, ...]:
    ohms = table.numbers(key, default=list(usual))
    if not 1 <= len(ohms) <= 2 or not all(100 <= ohm <= 1e6 for ohm in ohms):
        table.remark(
            "pull_up", key, "one or two values of 100 ohm to 1 Mohm", str(ohms),
            "give one value, or the cold stage and the hot stage",
        )  # fmt: skip
        return usual
    return tuple(ohms)


def _mix(table: Table) -> dict[str, float]:
    if not list(table):
        return _even_mix()
    mix = {name: table.number(name, 0, 1e6, default=0.0) for name in CULPRITS}
    if not any(mix.values()):
        table.remark("empty_mix", "", "at least one culprit above zero", "none", "raise one")
    return mix


def _accept(table: Table) -> dict[str, tuple[str, ...]]:
    accept = {}
    for name, usual in _usual_accept().items():
        listed = table.raw(name)
        if listed is None:
            accept[name] = usual
            continue
        good = isinstance(listed, list) and listed and all(x in CONCLUSIONS for x in listed)
        if not good:
            wanted = f"a list of {', '.join(CONCLUSIONS)}"
            table.remark("unknown_conclusion", name, wanted, repr(listed), "correct the names")
        accept[name] = tuple(listed) if good else usual
    return accept


def _check_whole(top: Table, scenario: Scenario) -> None:
    module, innocent = scenario.module, scenario.innocent
    if len(module.pull_up_ohm) == 2 and not 0 < module.switch_down_v < module.switch_up_v:
        top.remark(
            "stage_voltages", "module", "0 < switch_down_v < switch_up_v for two stages",
            f"{module.switch_down_v:g} and {module.switch_up_v:g}", "enter both voltages",
        )  # fmt: skip
    if not module.refuse_top_below_c < 80 < module.refuse_top_above_c:
        top.remark(
            "rule", "module", "refuse_top_below_c under 80 and refuse_top_above_c over 80 degC",
            f"{module.refuse_top_below_c:g} and {module.refuse_top_above_c:g}",
            "a warm vehicle must be allowed its top gear",
        )  # fmt: skip
    if innocent.length_median_s > innocent.length_max_s:
        top.remark(
            "innocent_length", "innocent", "length_median_s not above length_max_s",
            f"{innocent.length_median_s:g} and {innocent.length_max_s:g}", "correct one",
        )  # fmt: skip


def parse_scenario(text: str, name: str = "scenario") -> Scenario:
    """The checked scenario of a text; Refused with every fault and its line."""
    sheet = SheetText.parse(text, name)
    top = sheet.table()
    title = top.text("title", default=name)
    note = top.text("note", default="")
    tables = {key: _fill(top.table(key), example) for key, example in _TABLES.items()}
    scenario = Scenario(
        title, note, mix=_mix(top.table("mix")), accept=_accept(top.table("accept")), **tables
    )
    _check_whole(top, scenario)
    sheet.finish()
    return scenario


def read_scenario(path: Path | str) -> Scenario:
    """Raises ``Refused`` with a remark for every fault of the file, ``FileTrouble`` if unreadable."""
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise FileTrouble(f"cannot read the scenario {path.name}: {error}") from None
    return parse_scenario(text, path.name)
