"""Event-level cases: draw one in secret, drive it, check it on the bench.

The same physics as the full world, without samples: only bursts, own acts, injections and what the
module makes of them. ``Module`` is replaced by one list of reasons not to hold the top state, each
with the time at which it is confirmed, the delay to the release and its end; they are walked
through once, since only a held state can be released. Glitches too short to be answered stay
arrays and never enter the walk, so that a line with much chatter costs little more.

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
from dataclasses import dataclass, field

import numpy as np

from .answer import WARM_OHM, Answer, answer_to
from .case import Account, BenchResult, Case, EventLog, Glitches, Known, Order
from .hidden import CULPRITS, DROPOUT_CULPRITS, Truth
from .module import ModuleFacts
from .scenario_file import Scenario

OPEN_V = 5.0
WARM_C = 88.0
WARM_TAU_S = 320.0
"""One lump: 20 to 75 degC in 10 min towards 85-90 degC."""
RELOCK_S = 4.0
FIRST_LOCK_S = 10.0
DELAY_S = (0.1, 10.0)
"""Module's delay from confirmed to released: log-uniform over cases."""
DELAY_SPREAD = 0.1
FOOT_DELAY_S, BRAKE_DELAY_S, LIFT_LEAD_S = 0.25, 0.06, 0.2
LENGTH_SPAN_S = (0.005, 60.0)
PULSE_SPAN_S = (0.02, 20.0)
INNOCENT_SIGMA = 0.5
SPELL_H = 6.0
"""Exposed hours of one spell the customer remembers."""
DRIFT_ONSET_S, DRIFT_LENGTH_S = 8.0, 30.0
BENCH_H = 0.5
TRACE_S = 60.0
GUILTY_SHARE = 0.1
QUICK = frozenset({"driver", "another_input"})
"""Causes that the module answers by their own short delays."""

EMPTY = np.empty(0)
EMPTY.flags.writeable = False
_EMPTY_BOOL = np.empty(0, bool)
NO_GLITCHES = Glitches(EMPTY, EMPTY, _EMPTY_BOOL, EMPTY)
_TRACE_T = np.arange(0, 24 * 3600, TRACE_S)
_TRACE_WARM = np.exp(-_TRACE_T / WARM_TAU_S)


@dataclass
class Memory:
    """What a case remembers between drives."""

    scenario: Scenario
    facts: ModuleFacts
    open_answer: Answer
    tap: str = "none"
    asleep_h: float = 0.0
    """Hours of driving for which a wiped contact stays quiet."""
    bench: dict[str, bool] = field(default_factory=dict)
    answers: dict[float, Answer] = field(default_factory=dict)


# drawing a case ------------------------------------------------------------------------------


def module_facts(scenario: Scenario, filter_s: float, confirm_s: float, delay_s: float):
    """The module of a case, for the full world and for the answers."""
    table = scenario.module
    return ModuleFacts(
        open_v=OPEN_V,
        pull_up_ohm=table.pull_up_ohm,
        switch_down_v=table.switch_down_v,
        switch_up_v=table.switch_up_v,
        filter_s=filter_s,
        confirm_s=confirm_s,
        range_confirm_s=1000.0,  # no substitute: a long open refuses for as long as it lasts
        refuse_below_c=table.refuse_top_below_c,
        refuse_above_c=table.refuse_top_above_c,
        delay_s=delay_s,
        delay_spread=DELAY_SPREAD,
        relock_s=RELOCK_S,
    )


def draw_case(scenario: Scenario, rng: np.random.Generator, culprit: str | None = None) -> Case:
    """One secret case of a scenario; ``culprit`` None: drawn by its mix."""
    if culprit is None:
        weights = np.array([scenario.mix[name] for name in CULPRITS])
        culprit = CULPRITS[int(rng.choice(len(CULPRITS), p=weights / weights.sum()))]
    table, rate = scenario.module, scenario.rate
    spread = np.exp(rng.normal(0, table.case_sigma, 2)).tolist()
    filter_s, confirm_s = table.filter_s * spread[0], table.confirm_s * spread[1]
    delay_s = math.exp(rng.uniform(math.log(DELAY_S[0]), math.log(DELAY_S[1])))
    facts = module_facts(scenario, filter_s, confirm_s, delay_s)
    answer = answer_to(facts, WARM_OHM + scenario.dropout.residual_ohm)
    own_rate = rate.bursts_per_exposed_h * rng.gamma(rate.case_shape) / rate.case_shape
    place = ("sensor_open", "connector", "harness")[int(rng.integers(3))]
    drift_c = 0.0
    if culprit == "sensor_drift":
        drift_c = WARM_C - table.refuse_top_below_c - facts.hysteresis_c - rng.uniform(3.0, 7.0)
    guilty = _guilty(scenario, culprit, own_rate, place, answer.shortest_s)
    truth = Truth(
        culprit, guilty, own_rate, place, filter_s, confirm_s, delay_s, answer.shortest_s, drift_c
    )
    channels = {name: getattr(scenario.channels, name) for name in _CHANNELS}
    known = Known(
        scenario.trial.budget_h,
        scenario.trial.drive_h,
        scenario.exposure.after_min,
        scenario.exposure.above_c,
        table.pull_up_ohm,
        OPEN_V,
        channels,
    )
    account = _account(scenario, own_rate * _felt_share(scenario, culprit, answer.shortest_s), rng)
    memory = Memory(scenario, facts, answer)
    return Case(known, account, truth, memory=memory)


_CHANNELS = (
    "node",
    "ohmmeter_under_mask",
    "throttle",
    "brake",
    "return_offset",
    "converter",
    "button",
)


def _longer_than(length_s: float, median_s: float, sigma: float) -> float:
    """Chance that a lognormal length is longer."""
    if math.isinf(length_s):
        return 0.0
    if sigma <= 0:
        return float(median_s >= length_s)
    return 0.5 * math.erfc(math.log(length_s / median_s) / (sigma * math.sqrt(2)))


def _felt_share(scenario: Scenario, culprit: str, shortest_s: float) -> float:
    """Chance that a burst of the culprit gives a kick-out at all."""
    if culprit not in DROPOUT_CULPRITS and culprit != "ground":
        return 1.0
    one = _longer_than(shortest_s, scenario.dropout.length_median_s, scenario.dropout.length_sigma)
    more = scenario.burst.extra_dropouts_mean
    return one + (1 - one) * (1 - 1 / (1 + more * one))  # a geometric number of further tries


def _guilty(
    scenario: Scenario, culprit: str, own_rate: float, place: str, shortest_s: float
) -> frozenset[str]:
    """Every part that causes at least a tenth of the kick-outs."""
    innocent = scenario.innocent
    one = _longer_than(shortest_s, innocent.length_median_s, INNOCENT_SIGMA)
    beyond = _longer_than(innocent.length_max_s, innocent.length_median_s, INNOCENT_SIGMA)
    # lengths above the greatest are drawn down to it
    crossing = 0.0 if innocent.length_max_s < shortest_s else max(one, beyond)
    rates: dict[str, float] = {}
    rates[culprit] = own_rate * _felt_share(scenario, culprit, shortest_s)
    other = (innocent.dropouts_per_h + innocent.shared_cause * own_rate) * crossing
    rates[place] = rates.get(place, 0.0) + other
    whole = sum(rates.values())
    if whole <= 0:
        return frozenset({culprit})
    return frozenset(part for part, rate in rates.items() if rate >= GUILTY_SHARE * whole)


def _account(scenario: Scenario, rate_per_h: float, rng: np.random.Generator) -> Account:
    """The worst of n spells, told by a customer who has felt it at least once."""
    n, shape = scenario.rate.worst_of_spells, scenario.rate.drive_shape
    exposed_h = max(0.1, scenario.trial.drive_h - scenario.exposure.after_min / 60)
    drives = max(1, round(SPELL_H / exposed_h))
    uneven = rng.gamma(shape * drives, 1 / (shape * drives), n)
    worst = int(rng.poisson(rate_per_h * drives * exposed_h * uneven).max())
    return Account(max(1, worst), drives * exposed_h, n)


# one drive -----------------------------------------------------------------------------------


def drive(case: Case, order: Order, rng: np.random.Generator) -> EventLog:
    """Carry out an order; ``case.hours`` grows by its hours."""
    return _Drive(case, order, rng).log()


class _Drive:
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
        self.reasons: list[tuple[float, float, float, str]] = []
        """(confirmed_s, delay_s, end_s, cause)"""
        self.brake: list[tuple[np.ndarray, np.ndarray]] = []
        """(t_s, length_s) of the driver's pulses and of a bad switch's, each sorted."""
        self.throttle: list[np.ndarray] = []
        self.felt: list[tuple[float, float]] = []
        """(t_s, chance of the button) of what no command line shows."""
        self.node: list[Glitches] = []
        self.ohm: list[Glitches] = []
        self.offset: Glitches | None = None
        self._touch()
        self._lay_stretches()

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

    def _lay_stretches(self) -> None:
        begin, laid = 0.0, []
        disobeys = self.scenario.driver.disobeys
        obeyed = []
        for stretch in self.order.stretches:
            if begin >= self.end_s:
                break
            end = min(self.end_s, begin + stretch.length_s)
            connected = stretch.connected if self.tapped else "real"
            laid.append((begin, end, connected, stretch.foot))
            obeyed.append(stretch.foot == "still" and self.rng.random() >= disobeys)
            begin = end
        if begin < self.end_s:
            laid.append((begin, self.end_s, "real", "normal"))
            obeyed.append(False)
        self.stretches = tuple(laid)
        self._still = obeyed
        self._uniform = len({(s[2], o) for s, o in zip(laid, obeyed, strict=True)}) == 1
        self._any_still = True in obeyed
        self._ends = [s[1] for s in laid]

    def _which(self, t_s: float) -> int:
        if self._uniform:
            return 0
        for i, end in enumerate(self._ends):
            if t_s < end:
                return i
        return len(self._ends) - 1

    def _still_at(self, times: np.ndarray) -> np.ndarray:
        """Whether the foot really is still at each time."""
        if len(self._still) == 1:
            return np.full(len(times), self._still[0])
        return np.array(self._still)[np.searchsorted(self._ends[:-1], times, side="right")]

    def _real_at(self, times: np.ndarray) -> np.ndarray:
        """Whether the real sensor feeds the module at each time."""
        if self._uniform or len(self.stretches) == 1:
            return np.full(len(times), self.stretches[0][2] == "real")
        real = np.array([s[2] == "real" for s in self.stretches])
        return real[np.searchsorted(self._ends[:-1], times, side="right")]

    # what happens ----------------------------------------------------------------------------

    def log(self) -> EventLog:
        """Play the drive and write down what its channels show."""
        self.exposed_from_s = self._exposed_from()
        self._own_acts()
        bursts = self._burst_times()
        self._play_bursts(bursts)
        self._play_innocent(bursts)
        injected = self._play_injections()
        releases = self._walk()
        marks = self._marks(releases)
        self.case.hours += self.order.hours
        self.case.drives += 1
        memory = self.memory
        memory.asleep_h = max(0.0, memory.asleep_h - self.order.hours)
        return self._written(injected, releases, marks)

    def _exposed_from(self) -> float:
        exposure = self.scenario.exposure
        self.start_c = 5.0 + 20.0 * self.rng.random()
        if exposure.above_c >= WARM_C:
            return math.inf
        gap = (WARM_C - exposure.above_c) / (WARM_C - self.start_c)
        warm_s = -WARM_TAU_S * math.log(gap) if gap < 1 else 0.0
        return max(60 * exposure.after_min, warm_s)

    def _own_acts(self) -> None:
        rng, driver, hours = self.rng, self.scenario.driver, self.order.hours
        n = int(rng.poisson(driver.own_downshifts_per_h * hours))
        if n == 0:
            return
        draws = rng.random((3, n))
        times, kind = draws[0] * self.end_s, draws[2]
        times.sort()
        lengths = self._pulse_lengths(self.scenario.brake_input.driver_pulse_median_s, n)
        if self._any_still:
            kept = (draws[1] < driver.still_foot_factor) | ~self._still_at(times)
            times, kind, lengths = times[kept], kind[kept], lengths[kept]
        self._acts(times, kind, lengths)

    def _acts(self, times: np.ndarray, kind: np.ndarray, lengths: np.ndarray) -> None:
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

    def _pulse_lengths(self, median_s: float, n: int) -> np.ndarray:
        sigma = self.scenario.brake_input.pulse_sigma
        return _lognormal(median_s, sigma, n, PULSE_SPAN_S, self.rng)

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

    def _with_extras(self, bursts: np.ndarray) -> np.ndarray:
        """Begins of all dropouts: a burst's first and those that follow it, sorted."""
        burst, rng = self.scenario.burst, self.rng
        if burst.extra_dropouts_mean <= 0 or len(bursts) == 0:
            return bursts
        extra = rng.geometric(1 / (1 + burst.extra_dropouts_mean), len(bursts)) - 1
        total = int(extra.sum())
        if total == 0:
            return bursts
        gaps = np.cumsum(rng.exponential(burst.gap_s, total))
        before = np.cumsum(extra) - extra
        base = np.concatenate(([0.0], gaps))[before]
        times = np.concatenate((bursts, np.repeat(bursts - base, extra) + gaps))
        times.sort()
        return times[: int(np.searchsorted(times, self.end_s))]

    def _play_bursts(self, bursts: np.ndarray) -> None:
        culprit = self.truth.culprit
        if len(bursts) == 0:
            if culprit == "ground":
                self.offset = NO_GLITCHES
            return
        if culprit in DROPOUT_CULPRITS:
            self._dropouts(self._with_extras(bursts), culprit)
        elif culprit == "ground":
            self._ground(self._with_extras(bursts))
        elif culprit == "another_input":
            self._bad_switch(self._with_extras(bursts))
        elif culprit == "sensor_drift":
            self._drift(bursts)
        elif culprit == "hydraulic":
            hit = self.scenario.driver.button_hit
            self.felt += [(t, hit) for t in bursts.tolist()]
        else:
            self._misread_acts(bursts)

    def _lengths(self, n: int) -> np.ndarray:
        table = self.scenario.dropout
        median_s, sigma = table.length_median_s, table.length_sigma
        return _lognormal(median_s, sigma, n, LENGTH_SPAN_S, self.rng)

    def _dropouts(self, times: np.ndarray, culprit: str) -> None:
        n = len(times)
        lengths = self._lengths(n)
        table = self.scenario.dropout
        residual = np.full(n, table.residual_ohm)
        cold = np.ones(n, bool)
        if table.towards_hot > 0:
            cold = self.rng.random(n) >= table.towards_hot
            residual[~cold] = 5.0
        self._on_line(Glitches(times, lengths, cold, residual), culprit, culprit)

    def _on_line(self, glitches: Glitches, place: str, cause: str) -> None:
        """A place of the sensor circuit leaves its value: who sees it, does the module answer."""
        real = self._real_at(glitches.t_s)
        upstream = place == "harness" and self.order.tap == "sensor"
        reaching = np.ones(len(real), bool) if upstream else real
        if self.tapped:
            seen = glitches
            if upstream:
                seen = Glitches(
                    glitches.t_s,
                    glitches.length_s,
                    np.zeros(len(real), bool),
                    glitches.residual_ohm,
                )
            self.node.append(seen if reaching.all() else _only(seen, reaching))
            if not upstream and not real.all():
                self.ohm.append(_only(glitches, ~real))
        for towards_cold in (True, False):
            these = reaching & (glitches.towards_cold == towards_cold)
            if these.any():
                ohm = WARM_OHM + self.scenario.dropout.residual_ohm if towards_cold else 5.0
                self._answered(glitches.t_s, glitches.length_s, these, ohm, cause)

    def _answer(self, ohm: float) -> Answer:
        known = self.memory.answers
        if ohm not in known:
            known[ohm] = answer_to(self.memory.facts, ohm)
        return known[ohm]

    def _answered(self, times, lengths, these, ohm: float, cause: str) -> None:
        answer = self._answer(ohm)
        long_enough = these & (lengths >= answer.shortest_s)
        if not long_enough.any():
            return
        delay, confirm = self.truth.delay_s, self.truth.confirm_s
        for t, length in zip(
            times[long_enough].tolist(), lengths[long_enough].tolist(), strict=True
        ):
            sure = t + answer.confirmed_s
            self.reasons.append((sure, delay, max(sure, t + length + confirm), cause))

    def _ground(self, times: np.ndarray) -> None:
        lengths = self._lengths(len(times))
        self.offset = Glitches(times, lengths, np.ones(len(times), bool), lengths)
        every = np.ones(len(times), bool)
        ohm = WARM_OHM + self.scenario.dropout.residual_ohm
        self._answered(times, lengths, every, ohm, "ground")

    def _bad_switch(self, times: np.ndarray) -> None:
        table, n = self.scenario.brake_input, len(times)
        lengths = self._pulse_lengths(table.fault_pulse_median_s, n)
        if table.only_when_slowing > 0:
            draws = self.rng.random((2, n))
            slows = draws[0] < table.only_when_slowing
            still_factor = self.scenario.driver.still_foot_factor
            kept = ~(slows & self._still_at(times) & (draws[1] >= still_factor))
            times, lengths, slows = times[kept], lengths[kept], slows[kept]
            self.throttle.append(np.maximum(0.0, times[slows] - LIFT_LEAD_S))
        self.brake.append((times, lengths))
        self.reasons += [
            (t, BRAKE_DELAY_S, end, "another_input")
            for t, end in zip(times.tolist(), (times + lengths).tolist(), strict=True)
        ]

    def _drift(self, bursts: np.ndarray) -> None:
        delay = self.truth.delay_s
        for t in bursts.tolist():
            if self.stretches[self._which(t)][2] != "hold":
                sure = t + DRIFT_ONSET_S
                self.reasons.append((sure, delay, sure + DRIFT_LENGTH_S, "sensor_drift"))

    def _misread_acts(self, bursts: np.ndarray) -> None:
        """Own acts that the customer takes for a fault."""
        driver, n = self.scenario.driver, len(bursts)
        draws = self.rng.random((2, n))
        lengths = self._pulse_lengths(self.scenario.brake_input.driver_pulse_median_s, n)
        kept = (draws[0] < driver.still_foot_factor) | ~self._still_at(bursts)
        hidden = driver.unnoticed_share
        shown = hidden + draws[1] * (1 - hidden)  # what no channel shows is never misread
        self._acts(bursts[kept], shown[kept], lengths[kept])
        self.felt += [(t, driver.button_hit) for t in bursts[kept].tolist()]

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
        lengths = _lognormal(table.length_median_s, INNOCENT_SIGMA, n, span_s, rng)
        residual = np.full(n, self.scenario.dropout.residual_ohm)
        glitches = Glitches(times, lengths, np.ones(n, bool), residual)
        self._on_line(glitches, self.truth.innocent_place, "innocent")

    def _play_injections(self) -> tuple[list[float], list[float], list[float]]:
        times, lengths, ohms = [], [], []
        for one in sorted(self.order.injections, key=lambda i: i.at_s):
            masked = one.at_s < self.end_s and self.stretches[self._which(one.at_s)][2] != "real"
            if not (self.tapped and masked):
                continue
            times.append(one.at_s)
            lengths.append(one.length_s)
            ohms.append(one.ohm)
            answer = self._answer(float(one.ohm))
            if one.length_s >= answer.shortest_s:
                sure = one.at_s + answer.confirmed_s
                end = max(sure, one.at_s + one.length_s + self.truth.confirm_s)
                self.reasons.append((sure, self.truth.delay_s, end, "stand_in"))
        return times, lengths, ohms

    # what the module does --------------------------------------------------------------------

    def _walk(self) -> list[tuple[float, float, str]]:
        """(release_s, held_again_s, cause) of every release, in order."""
        self.reasons.sort()
        releases: list[tuple[float, float, str]] = []
        # Like the driver's own, a kick-out's delay varies a little each time.
        spread = self.rng.random(len(self.reasons)).tolist()
        at, held_from, first, end_s = -math.inf, FIRST_LOCK_S, "", self.end_s
        for (sure, delay, end, cause), u in zip(self.reasons, spread, strict=True):
            if cause not in QUICK:
                delay *= 1 + DELAY_SPREAD * (2 * u - 1)
            out = sure + delay
            if sure >= held_from:
                if first:
                    releases.append((at, held_from, first))
                at, first = out, cause
                held_from = (end if end > at else at) + RELOCK_S
                continue
            if first and out < at:  # the quicker reason of two is the one that releases
                at, first = out, cause
            if end + RELOCK_S > held_from:
                held_from = end + RELOCK_S
        if first:
            releases.append((at, held_from, first))
        while releases and releases[-1][0] >= end_s:
            releases.pop()
        return releases

    def _marks(self, releases: list[tuple[float, float, str]]) -> list[float]:
        driver, rng = self.scenario.driver, self.rng
        imagined = int(rng.poisson(driver.button_imagined_per_h * self.order.hours))
        hit, own = driver.button_hit, driver.button_own
        chances = self.felt + [(r[0], own if r[2] == "driver" else hit) for r in releases]
        n = len(chances)
        draws = rng.random(2 * n + imagined)
        marks = (draws[2 * n :] * self.end_s).tolist()
        if n:
            pressed = draws[:n] < np.array([chance for _, chance in chances])
            for i in pressed.nonzero()[0].tolist():
                marks.append(chances[i][0] + 0.5 + 2.5 * float(draws[n + i]))
        marks.sort()
        while marks and marks[-1] >= self.end_s:
            marks.pop()
        return marks

    # what is written down --------------------------------------------------------------------

    def _written(self, injected, releases, marks) -> EventLog:
        has = self.case.known.channels
        tapped = self.tapped
        brake_t, brake_length = _in_order(self.brake)
        throttle_t = self.throttle[0] if self.throttle else EMPTY
        if len(self.throttle) > 1:
            throttle_t = np.sort(np.concatenate(self.throttle))
        trace_t = _TRACE_T[: int(self.end_s // TRACE_S) + 1]
        offset = self.offset if self.offset is not None else NO_GLITCHES
        shows_offset = has["return_offset"] and tapped
        return EventLog(
            hours=self.order.hours,
            exposed_from_s=self.exposed_from_s if self.exposed_from_s < self.end_s else math.inf,
            temperature_t_s=trace_t,
            temperature_c=self._trace(len(trace_t)) if tapped else None,
            stretches=self.stretches,
            node_glitches=_joined(self.node) if has["node"] and tapped else None,
            ohm_glitches=_joined(self.ohm) if has["ohmmeter_under_mask"] and tapped else None,
            injected_t_s=_array(injected[0]),
            injected_length_s=_array(injected[1]),
            injected_ohm=_array(injected[2]),
            release_t_s=_array([r[0] for r in releases]) if has["converter"] else None,
            release_regain_s=_array([r[1] - r[0] for r in releases]) if has["converter"] else None,
            brake_t_s=brake_t if has["brake"] else None,
            brake_length_s=brake_length if has["brake"] else None,
            throttle_t_s=throttle_t if has["throttle"] else None,
            mark_t_s=_array(marks) if has["button"] else None,
            offset_t_s=offset.t_s if shows_offset else None,
            offset_length_s=offset.length_s if shows_offset else None,
        )

    def _trace(self, n: int) -> np.ndarray:
        """Temperature as the sensor's ohms say it: a drifted one reads low, growing with heat."""
        true_c = WARM_C + (self.start_c - WARM_C) * _TRACE_WARM[:n]
        if self.truth.drift_c:
            return true_c - self.truth.drift_c * np.clip(true_c / 60.0, 0, 1)
        return true_c


def _lognormal(median, sigma, n, span, rng: np.random.Generator) -> np.ndarray:
    drawn = rng.standard_normal(n)
    drawn *= sigma
    np.exp(drawn, out=drawn)
    drawn *= median
    return np.minimum(np.maximum(drawn, span[0]), span[1])


def _in_order(parts: list[tuple[np.ndarray, np.ndarray]]) -> tuple[np.ndarray, np.ndarray]:
    """Times and lengths joined and sorted by time."""
    if not parts:
        return EMPTY, EMPTY
    if len(parts) == 1:
        return parts[0]
    t_s = np.concatenate([p[0] for p in parts])
    order = np.argsort(t_s)
    return t_s[order], np.concatenate([p[1] for p in parts])[order]


def _array(values: list[float]) -> np.ndarray:
    return np.array(values) if values else EMPTY


def _only(glitches: Glitches, mask: np.ndarray) -> Glitches:
    return Glitches(
        glitches.t_s[mask],
        glitches.length_s[mask],
        glitches.towards_cold[mask],
        glitches.residual_ohm[mask],
    )


def _joined(parts: list[Glitches]) -> Glitches:
    if not parts:
        return NO_GLITCHES
    if len(parts) == 1:
        return parts[0]
    t_s = np.concatenate([p.t_s for p in parts])
    order = np.argsort(t_s, kind="stable")
    return Glitches(
        t_s[order],
        np.concatenate([p.length_s for p in parts])[order],
        np.concatenate([p.towards_cold for p in parts])[order],
        np.concatenate([p.residual_ohm for p in parts])[order],
    )


# the bench -----------------------------------------------------------------------------------


def bench(case: Case, kind: str, rng: np.random.Generator) -> BenchResult:
    """A bench check (``BENCH_KINDS``). The same check of the same case gives the same result
    again: it is the same sensor on the same thermometer."""
    if kind != "hot_ohms":
        raise ValueError(f"unknown bench check '{kind}'; known: hot_ohms")
    memory: Memory = case.memory
    case.hours += BENCH_H
    if kind not in memory.bench:
        table = memory.scenario.bench
        drifts = case.truth.culprit == "sensor_drift"
        chance = table.finds_drift if drifts else table.false_alarm
        memory.bench[kind] = bool(rng.random() < chance)
    return BenchResult(kind, memory.bench[kind], BENCH_H)
