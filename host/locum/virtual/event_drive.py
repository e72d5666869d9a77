"""One drive at the event level.

The same physics as the full world, without samples: only bursts, own acts, injections and what the
module makes of them. The module is replaced by one list of reasons not to hold the top state, each
with the time at which it is confirmed, the delay to the release and its end (``walk.py``).
Glitches too short to be answered stay arrays and never enter the walk, so that a line with much
chatter costs little more.

What a channel shows:

    node       every dropout of the circuit while the real sensor feeds the module; under the mask
               only the harness, and only if the tap is at the sensor's plug
    ohmmeter   under the mask: sensor and connector, and the harness if the tap is at the module's
    brake      the driver's pulses and a bad switch's, alike
    offset     a bad module ground

A break of the harness between module and a tap at the *sensor's* plug takes the pull-up away from
the board: its node falls to zero although the module sees an open. Such a glitch therefore is
``towards_cold = False`` in ``node_glitches``, with the sensor connected and under the mask.
"""

from __future__ import annotations

import math

import numpy as np

from .case import Case, EventLog, Glitches, Order
from .drawing import INNOCENT_SIGMA, Memory
from .event_arrays import EMPTY, NO_GLITCHES, as_array, in_order, joined, lognormal
from .event_faults import PULSE_SPAN_S, play_bursts
from .hidden import DROPOUT_CULPRITS
from .layout import Layout
from .sensor_line import SensorLine
from .walk import Reason, Releases, walk
from .warm_trace import TRACE_S, TRACE_T, coarse_trace, warm_after_s

FOOT_DELAY_S, LIFT_LEAD_S = 0.25, 0.2


class EventDrive:
    """One drive being played; fields are plain lists until the log is made."""

    def __init__(self, case: Case, order: Order, rng: np.random.Generator) -> None:
        if order.hours <= 0 or order.hours > 24:
            raise ValueError(f"a drive takes more than 0 and at most 24 h, not {order.hours:g}")
        self.case, self.order, self.rng = case, order, rng
        self.memory: Memory = case.memory
        self.scenario = self.memory.scenario
        self.truth = case.truth
        self.end_s = order.hours * 3600
        self.tapped = order.tap != "none"
        self.reasons: list[Reason] = []
        self.brake: list[tuple[np.ndarray, np.ndarray]] = []
        """(t_s, length_s) of the driver's pulses and of a bad switch's, each sorted."""
        self.throttle: list[np.ndarray] = []
        self.felt: list[tuple[float, float]] = []
        """(t_s, chance of the button) of what no command line shows."""
        self.offset: Glitches | None = None
        self._touch()
        self.layout = Layout(order, self.scenario.driver.disobeys, rng)
        self.line = SensorLine(case, order, self.layout, self.reasons)

    # what is connected when ------------------------------------------------------------------

    def _touch(self) -> None:
        """Cutting in may put a bad contact to sleep."""
        memory, tap = self.memory, self.order.tap
        if tap != "none" and tap != memory.tap:
            culprit, table = self.truth.culprit, self.scenario.tap
            direct = culprit == "connector" and tap == "sensor"
            chance = table.wipe_sensor_connector if direct else table.wipe_other
            contact = culprit in DROPOUT_CULPRITS or culprit == "ground"
            if self.rng.random() < chance and contact:
                memory.asleep_h = self.rng.exponential(table.asleep_h)
        if tap != "none":
            memory.tap = tap

    # what happens ----------------------------------------------------------------------------

    def log(self) -> EventLog:
        """Play the drive and write down what its channels show."""
        self.exposed_from_s = self._exposed_from()
        self._own_acts()
        bursts = self._burst_times()
        if len(bursts):
            play_bursts(self, bursts)
        self._play_innocent(bursts)
        self.line.inject()
        releases = walk(self.reasons, self.end_s, self.rng)
        marks = self._marks(releases)
        self.case.hours += self.order.hours
        self.case.drives += 1
        memory = self.memory
        memory.asleep_h = max(0.0, memory.asleep_h - self.order.hours)
        return self._written(releases, marks)

    def _exposed_from(self) -> float:
        """The drive starts cold, at a whole 5..24 degC."""
        exposure = self.scenario.exposure
        self.start_c = 5 + int(20 * self.rng.random())
        return max(60 * exposure.after_min, warm_after_s(self.start_c, exposure.above_c))

    def _own_acts(self) -> None:
        rng, driver, hours = self.rng, self.scenario.driver, self.order.hours
        n = int(rng.poisson(driver.own_downshifts_per_h * hours))
        if n == 0:
            return
        draws = rng.random((3, n))
        times, kind = draws[0] * self.end_s, draws[2]
        times.sort()
        lengths = self.pulse_lengths(self.scenario.brake_input.driver_pulse_median_s, n)
        if self.layout.any_still:
            kept = (draws[1] < driver.still_foot_factor) | ~self.layout.still_at(times)
            times, kind, lengths = times[kept], kind[kept], lengths[kept]
        self.acts(times, kind, lengths)

    def acts(self, times: np.ndarray, kind: np.ndarray, lengths: np.ndarray) -> None:
        """Own acts: unnoticed, with the brake, or with the throttle alone, by ``kind`` 0..1."""
        driver = self.scenario.driver
        ends = (times + lengths + 1.0).tolist()
        self.reasons += [
            (t, FOOT_DELAY_S, end, "driver") for t, end in zip(times.tolist(), ends, strict=True)
        ]
        hidden = driver.unnoticed_share
        shown = kind >= hidden
        self.throttle.append(times[shown])
        shown &= kind < hidden + (1 - hidden) * driver.brake_share
        self.brake.append((times[shown] + LIFT_LEAD_S, lengths[shown]))

    def pulse_lengths(self, median_s: float, n: int) -> np.ndarray:
        sigma = self.scenario.brake_input.pulse_sigma
        return lognormal(median_s, sigma, n, PULSE_SPAN_S, self.rng)

    def _burst_times(self) -> np.ndarray:
        """Begins of the fault's bursts, sorted: only where it is exposed and awake."""
        rng, rate = self.rng, self.scenario.rate
        uneven = rng.gamma(rate.drive_shape) / rate.drive_shape
        begin = max(self.exposed_from_s, self.memory.asleep_h * 3600)
        exposed_h = (self.end_s - begin) / 3600
        if exposed_h <= 0:
            return EMPTY
        n = int(rng.poisson(self.truth.bursts_per_exposed_h * uneven * exposed_h))
        if n == 0:
            return EMPTY
        times = begin + rng.random(n) * (self.end_s - begin)
        times.sort()
        return times

    def _play_innocent(self, bursts: np.ndarray) -> None:
        table, rng = self.scenario.innocent, self.rng
        times = EMPTY
        if table.dropouts_per_h > 0:
            n = int(rng.poisson(table.dropouts_per_h * self.order.hours))
            times = rng.random(n) * self.end_s
        if table.shared_cause > 0 and len(bursts):
            shaken = bursts[rng.random(len(bursts)) < table.shared_cause]
            times = np.concatenate((times, shaken + 0.3 * rng.random(len(shaken))))
        n = len(times)
        if n == 0:
            return
        times.sort()
        span_s = (0.002, table.length_max_s)
        lengths = lognormal(table.length_median_s, INNOCENT_SIGMA, n, span_s, rng)
        residual = np.full(n, self.scenario.dropout.residual_ohm)
        glitches = Glitches(times, lengths, np.ones(n, bool), residual)
        self.line.disturb(glitches, self.truth.innocent_place, "innocent")

    def _marks(self, releases: Releases) -> list[float]:
        """Presses of the button: for what was felt, some own acts, and some for nothing."""
        driver, rng = self.scenario.driver, self.rng
        hit = driver.button_hit
        chances = self.felt + [
            (t, hit)
            for t, cause in zip(releases.at_s, releases.cause, strict=True)
            if cause != "driver"
        ]
        own = len(releases.at_s) + len(self.felt) - len(chances)
        n, imagined = (
            len(chances),
            int(rng.poisson(driver.button_imagined_per_h * self.order.hours)),
        )
        pressed = int(rng.binomial(own, driver.button_own)) if own else 0
        draws = rng.random(2 * n + imagined).tolist()
        marks = [u * self.end_s for u in draws[2 * n :]]
        for (t, chance), u, late in zip(chances, draws[:n], draws[n:], strict=False):
            if u < chance:
                marks.append(t + 0.5 + 2.5 * late)
        if pressed:
            acts = [t for t, c in zip(releases.at_s, releases.cause, strict=True) if c == "driver"]
            for i in rng.permutation(own)[:pressed].tolist():
                marks.append(acts[i] + 0.5 + 2.5 * rng.random())
        marks.sort()
        while marks and marks[-1] >= self.end_s:
            marks.pop()
        return marks

    # what is written down --------------------------------------------------------------------

    def _written(self, releases: Releases, marks: list[float]) -> EventLog:
        has = self.case.known.channels
        tapped = self.tapped
        brake_t, brake_length = in_order(self.brake)
        throttle_t = self.throttle[0] if self.throttle else EMPTY
        if len(self.throttle) > 1:
            throttle_t = np.sort(np.concatenate(self.throttle))
        release_t = as_array(releases.at_s)
        regain = as_array(releases.held_again_s) - release_t
        trace_t = TRACE_T[: int(self.end_s // TRACE_S) + 1]
        offset = self.offset if self.offset is not None else NO_GLITCHES
        shows_offset = has["return_offset"] and tapped
        return EventLog(
            hours=self.order.hours,
            exposed_from_s=self.exposed_from_s if self.exposed_from_s < self.end_s else math.inf,
            temperature_t_s=trace_t,
            temperature_c=coarse_trace(self.start_c, self.truth.drift_c, len(trace_t))
            if tapped
            else None,
            stretches=self.layout.stretches,
            node_glitches=joined(self.line.node) if has["node"] and tapped else None,
            ohm_glitches=joined(self.line.ohm) if has["ohmmeter_under_mask"] and tapped else None,
            injected_t_s=as_array(self.line.injected[0]),
            injected_length_s=as_array(self.line.injected[1]),
            injected_ohm=as_array(self.line.injected[2]),
            release_t_s=release_t if has["converter"] else None,
            release_regain_s=regain if has["converter"] else None,
            brake_t_s=brake_t if has["brake"] else None,
            brake_length_s=brake_length if has["brake"] else None,
            throttle_t_s=throttle_t if has["throttle"] else None,
            mark_t_s=as_array(marks) if has["button"] else None,
            offset_t_s=offset.t_s if shows_offset else None,
            offset_length_s=offset.length_s if shows_offset else None,
        )
