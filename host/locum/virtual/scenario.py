"""A scenario of the trial: one frozen dataclass for each table, one field for each key.

Defaults are the open example's values. ``note``, ``expect`` and ``accept`` are for the score;
nothing that a policy sees holds them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from .hidden import CULPRITS

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


def even_mix() -> dict[str, float]:
    return dict.fromkeys(CULPRITS, 1.0)


def usual_accept() -> dict[str, tuple[str, ...]]:
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
    mix: dict[str, float] = field(default_factory=even_mix)
    accept: dict[str, tuple[str, ...]] = field(default_factory=usual_accept)
    module: ModuleTable = ModuleTable()
    driver: DriverTable = DriverTable()
    channels: Channels = Channels()
