"""A control module: pull-up, filter, comparators with confirm times, substitutes, lock-up rule.

Theory of operation. Between changes the voltage at its pin is constant, so the filtered voltage is
one exponential whose crossings of every threshold have a closed form; nothing is stepped. Six
comparators look at the filtered voltage (a cold sensor is a high voltage):

    stage    chooses the pull-up (two-stage modules); takes effect at once, filter starts anew
    cold     below the temperature under which the converter clutch is refused
    hot      above the one over which it is refused
    fan      hot enough for the radiator fan
    broken   above ``high_v``: looks open            shorted   below ``low_v``: looks shorted

A comparator's raw state counts after it has held for its confirm time. Once a reason to release is
confirmed the release comes after ``delay_s``, whatever happens meanwhile; the clutch comes back when
all reasons have been gone for ``relock_s``. An open or short that lasts ``range_confirm_s`` turns the
fan on for a while and puts ``substitute_c`` in place of the sensor: the behaviour changes twice.

Everything is evaluated from the start of the present exponential and never advanced in between,
so that results do not depend on how often anybody looks.
"""

from __future__ import annotations

import math
from random import Random

from .comparator import NEVER_MS, Comparator
from .module_facts import ModuleFacts

__all__ = ["NEVER_MS", "Module", "ModuleFacts"]


class Module:
    """The state machine. ``next_ms`` is when it wants ``at``; outputs call ``on_clutch(t, on,
    reason)``, ``on_fan(t, on)``, ``on_stage(t)``, ``on_pulse(t)``."""

    def __init__(self, facts: ModuleFacts, rng: Random, outputs) -> None:
        self.facts = facts
        self.rng = rng
        self.outputs = outputs
        self.stage = 0
        self.locked = False
        self.fan = False
        self.reasons: dict[str, int] = {"speed": 1}
        """Confirmed reasons not to lock, counted."""
        two = len(facts.pull_up_ohm) > 1
        c, r = facts.confirm_s, facts.range_confirm_s
        self.cold = Comparator("cold", c, c, True)
        self.hot = Comparator("hot", c, c, True)
        self.warm = Comparator("fan", 0.5, 0.5, True)
        self.fright = Comparator("fright", facts.fan_fright_s, 1.0, False)
        self.broken = Comparator("broken", r, 1.0, False)
        self.shorted = Comparator("shorted", r, 1.0, True)
        self.switch = Comparator("stage", 0, 0, True)
        self._all = [self.cold, self.hot, self.warm, self.fright, self.broken, self.shorted]
        if two:
            self._all.append(self.switch)
        self.reasons["cold"] = 1
        self._v0 = self._vin = facts.open_v
        self._since_ms = 0
        self._cross_ms = self._timer_ms = NEVER_MS
        self._release_ms = self._relock_ms = self._fan_off_ms = NEVER_MS
        self._release_reason = ""
        self._fan_until_ms = 0
        self._test_ms = self.next_ms = NEVER_MS
        self._set_thresholds()

    # the pin ---------------------------------------------------------------------------------

    def source(self) -> tuple[float, float]:
        """(open-circuit volts, pull-up ohms) at present."""
        return self.facts.open_v, self.facts.pull_up_ohm[self.stage]

    def filtered_v(self, t_ms: int) -> float:
        tau = self.facts.filter_s * 1000
        if tau <= 0:
            return self._vin
        return self._vin + (self._v0 - self._vin) * math.exp((self._since_ms - t_ms) / tau)

    def feed(self, t_ms: int, pin_v: float, fresh: bool = False) -> None:
        """The pin has ``pin_v`` from now on; ``fresh``: the filter starts at it."""
        self._v0 = pin_v if fresh else self.filtered_v(t_ms)
        self._vin = pin_v
        self._since_ms = t_ms
        low, high = self._quiet
        if low < pin_v < high and low < self._v0 < high:
            self._cross_ms = NEVER_MS
        else:
            self._cross_ms = self._next_crossing()
        self._plan()

    def _set_thresholds(self) -> None:
        f, s = self.facts, self.stage
        volts = f.volts_at
        self.cold.up_v = volts(f.refuse_below_c, s)
        self.cold.down_v = volts(f.refuse_below_c + f.hysteresis_c, s)
        self.hot.up_v = volts(f.refuse_above_c - f.hysteresis_c, s)
        self.hot.down_v = volts(f.refuse_above_c, s)
        self.warm.up_v, self.warm.down_v = volts(f.fan_off_c, s), volts(f.fan_on_c, s)
        for open_one in (self.fright, self.broken):
            open_one.up_v, open_one.down_v = f.high_v, f.high_v - 0.05
        self.shorted.up_v, self.shorted.down_v = f.low_v + 0.02, f.low_v
        self.switch.up_v, self.switch.down_v = f.switch_up_v, f.switch_down_v
        self._set_quiet()

    def _set_quiet(self) -> None:
        """The span of voltage in which no comparator turns."""
        low = max((c.down_v for c in self._all if c.high), default=-1e9)
        high = min((c.up_v for c in self._all if not c.high), default=1e9)
        self._quiet = (low, high)

    def _next_crossing(self) -> int:
        v0, vin = self._v0, self._vin
        tau = self.facts.filter_s * 1000
        first = math.inf
        for c in self._all:
            edge = c.down_v if c.high else c.up_v
            beyond = (edge - vin) if c.high else (vin - edge)
            if beyond <= 0:
                continue
            still = (v0 - edge) if c.high else (edge - v0)
            wait = tau * math.log1p(still / beyond) if still > 0 and tau > 0 else 0.0
            first = min(first, wait)
        return NEVER_MS if first is math.inf else self._since_ms + math.ceil(first)

    # reasons ---------------------------------------------------------------------------------

    def reason(self, t_ms: int, name: str, on: bool, delay_s: float = 0.0) -> None:
        """A reason not to lock appears or goes (counted, so that equal ones may overlap)."""
        count = self.reasons.get(name, 0) + (1 if on else -1)
        if count > 0:
            self.reasons[name] = count
        else:
            self.reasons.pop(name, None)
        if on:
            self._relock_ms = NEVER_MS
            if self.locked:
                when = t_ms + round(delay_s * 1000)
                if when < self._release_ms:
                    self._release_ms, self._release_reason = when, name
        elif not self.reasons and not self.locked and self._release_ms == NEVER_MS:
            self._relock_ms = t_ms + round(self.facts.relock_s * 1000)
        self._plan()

    def brake(self, t_ms: int, on: bool, name: str = "brake") -> None:
        self.reason(t_ms, name, on, self.facts.brake_delay_s)

    def _temperature_reason(self, t_ms: int, name: str, on: bool) -> None:
        if on == (name in self.reasons):
            return
        spread = self.facts.delay_spread * (2 * self.rng.random() - 1) if on else 0.0
        self.reason(t_ms, name, on, self.facts.delay_s * (1 + spread))

    def _weigh_temperature(self, t_ms: int) -> None:
        if self.broken.counts or not self.shorted.counts:
            cold = self.facts.substitute_c < self.facts.refuse_below_c
            hot = self.facts.substitute_c > self.facts.refuse_above_c
        else:
            cold, hot = self.cold.counts, not self.hot.counts
        self._temperature_reason(t_ms, "cold", cold)
        self._temperature_reason(t_ms, "hot", hot)
        if not self.warm.counts or self.fright.counts or not self.shorted.counts:
            self._fan_off_ms = NEVER_MS
            if not self.fan:
                self.fan = True
                self._fan_until_ms = t_ms + round(self.facts.fan_least_s * 1000)
                self.outputs.on_fan(t_ms, True)
        elif self.fan and self._fan_off_ms == NEVER_MS:
            self._fan_off_ms = max(t_ms, self._fan_until_ms)

    # time ------------------------------------------------------------------------------------

    def _plan(self) -> None:
        self.next_ms = min(self._cross_ms, self._timer_ms, self._release_ms,
                           self._relock_ms, self._fan_off_ms, self._test_ms)  # fmt: skip

    def at(self, t_ms: int) -> None:
        """Do what is due at ``t_ms`` (== ``next_ms``)."""
        if t_ms >= self._cross_ms:
            self._turn_comparators(t_ms)
        if t_ms >= self._timer_ms:
            self._confirm(t_ms)
        if t_ms >= self._release_ms:
            self._release_now(t_ms)
        if t_ms >= self._relock_ms:
            self._relock_ms = NEVER_MS
            self.locked = True
            self._start_self_test(t_ms)
            self.outputs.on_clutch(t_ms, True, "")
        if t_ms >= self._fan_off_ms:
            self._fan_off_ms = NEVER_MS
            self.fan = False
            self.outputs.on_fan(t_ms, False)
        if t_ms >= self._test_ms:
            self._start_self_test(t_ms)
            self.outputs.on_pulse(t_ms)
        self._plan()

    def _release_now(self, t_ms: int) -> None:
        reason, self._release_reason = self._release_reason, ""
        self._release_ms = self._test_ms = NEVER_MS
        self.locked = False
        if not self.reasons:
            self._relock_ms = t_ms + round(self.facts.relock_s * 1000)
        self.outputs.on_clutch(t_ms, False, reason)

    def _start_self_test(self, t_ms: int) -> None:
        if self.facts.self_test_s > 0:
            self._test_ms = t_ms + round(self.facts.self_test_s * 1000)

    def _turn_comparators(self, t_ms: int) -> None:
        v = self.filtered_v(t_ms)
        self._cross_ms = NEVER_MS
        if len(self.facts.pull_up_ohm) > 1 and self._turn_stage(t_ms, v):
            return
        for c in self._all:
            if c is self.switch:
                continue
            low_is_bad = c is self.hot or c is self.warm or c is self.shorted
            if c.high and v <= c.down_v:
                c.turn(t_ms, False, not low_is_bad)
            elif not c.high and v >= c.up_v:
                c.turn(t_ms, True, not low_is_bad)
        self._set_quiet()
        self._timer_ms = min(c.due_ms for c in self._all)
        # A crossing rounded up to the next millisecond lies beyond its threshold; whatever
        # is still ahead on the same exponential is found from its start.
        self._cross_ms = self._next_crossing()
        if self._cross_ms <= t_ms:
            self._cross_ms = t_ms + 1

    def _turn_stage(self, t_ms: int, v: float) -> bool:
        """Change the pull-up if it is due; the world then feeds the new voltage."""
        c = self.switch
        if not (c.high and v <= c.down_v) and not (not c.high and v >= c.up_v):
            return False
        c.high = not c.high
        self.stage = 0 if c.high else 1
        self._set_thresholds()
        self.outputs.on_stage(t_ms)
        return True

    def _confirm(self, t_ms: int) -> None:
        for c in self._all:
            if c.due_ms <= t_ms:
                c.due_ms = NEVER_MS
                c.counts = c.high
        self._timer_ms = min(c.due_ms for c in self._all)
        self._weigh_temperature(t_ms)
