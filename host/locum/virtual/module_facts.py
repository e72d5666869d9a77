"""What a control module is: pull-up, filter, limits, rules and delays."""

from __future__ import annotations

from dataclasses import dataclass

from .sensor import table_ohm


@dataclass(frozen=True)
class ModuleFacts:
    """What a module is. Temperatures by the sensor's table, as its maker meant it."""

    open_v: float = 5.0
    pull_up_ohm: tuple[float, ...] = (1000.0,)
    """One value, or (cold stage, hot stage)."""
    switch_down_v: float = 0.0
    switch_up_v: float = 0.0
    """Two-stage: to the hot stage below the first, back above the second."""
    filter_s: float = 0.12
    confirm_s: float = 0.15
    low_v: float = 0.08
    high_v: float = 4.9
    range_confirm_s: float = 2.5
    substitute_c: float = 80.0
    refuse_below_c: float = 20.0
    refuse_above_c: float = 150.0
    hysteresis_c: float = 4.0
    delay_s: float = 0.5
    delay_spread: float = 0.1
    """Half-width of the release delay's own variation, relative."""
    relock_s: float = 4.0
    fan_on_c: float = 100.0
    fan_off_c: float = 95.0
    fan_least_s: float = 20.0
    fan_fright_s: float = 0.25
    """An open this long starts the fan already (before the substitute is taken)."""
    brake_delay_s: float = 0.06
    foot_delay_s: float = 0.25
    self_test_s: float = 0.0
    """Every so often the clutch driver is pulsed off for 3 ms while on; 0 = never."""

    def source(self, stage: int) -> tuple[float, float]:
        """(open-circuit volts, ohms) of a stage."""
        return self.open_v, self.pull_up_ohm[stage]

    def volts_at(self, celsius: float, stage: int) -> float:
        ohm = table_ohm(celsius)
        return self.open_v * ohm / (ohm + self.pull_up_ohm[stage])
