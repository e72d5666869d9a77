"""From counts to one of the conclusions, by rules written down beforehand.

Each rule asks for enough events, a share of the kick-outs large enough to matter, and an exact
test within its limit. The limits are chosen so that over all looks of a case the chance of a wrong
statement stays below ``Evidence.alpha`` (held by simulation with uneven rates, tests/campaign).
Where no rule applies the case stays undecided: that is a proper end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from locum.verdict import exact, tails
from locum.verdict.finding import Number
from locum.verdict.pool import (
    Pool,
    arms_number,
    foot_boundary_s,
    goes_on_number,
    injection_number,
    link_number,
    mask_number,
    whole_drives_number,
)
from locum.verdict.tally import Tally


@dataclass(frozen=True)
class Limits:
    """Limits of the rules."""

    link_p: float = 1e-3
    """Coincidence with glitches, brake pulses or shifts of the return wire."""
    link_share: float = 0.4
    """Share of kick-outs that must be linked for a cause to carry the complaint."""
    link_least: int = 3
    arms_p: float = 0.002
    """Real sensor against stand-in, with no glitch to explain it."""
    arms_backed_p: float = 0.03
    """The same when glitches, or the sensor's hot ohms, point the same way."""
    sufficient_share: float = 0.8
    """Share of kick-outs linked, and of long enough injections answered, that carries the circuit
    before a masked glitch was heard."""
    mask_p: float = 0.01
    """Glitches followed unmasked against masked."""
    on_margin: float = 0.3
    """"It goes on": more than this share of the real sensor's rate remains under the stand-in."""
    on_p: float = 0.01
    on_least: int = 4
    felt_p: float = 0.005
    """Felt without a command, against imagined presses."""
    imagined_per_h: float = 0.25
    """Expected before any drive, known to within a factor of four or so."""
    normal_p: float = 0.03
    quiet_guilty_p: float = 0.004
    """Quiet since the sensor's plug was touched, the circuit being guilty already. Quiet alone
    blames nobody: any contact may fall asleep by being moved."""
    place_least: int = 2
    """Long glitches under the mask that tell on which side of the tap they are."""
    place_p: float = 0.03
    """The same without an ohmmeter: glitches with the real sensor, none under the stand-in."""
    shown_p: float = 0.02
    """Chance that a fault at the least rate the account allows showed no more often."""


@dataclass
class Conclusion:
    """What a rule says, with the numbers it rests on."""

    name: str = "undecided"
    p_value: float = math.nan
    convention: str = ""
    why: str = ""
    numbers: list[Number] = field(default_factory=list)


def conclude(pool: Pool, limits: Limits | None = None) -> Conclusion:
    """The first rule that applies, else undecided."""
    limits = limits or Limits()
    for rule in (
        _direct_cause,
        _harness,
        _circuit,
        _goes_on,
        _outputs,
        _normal,
    ):
        found = rule(pool, limits)
        if found is not None:
            return found
    return _at_the_end(pool)


def _at_the_end(pool: Pool) -> Conclusion:
    """Undecided, or not reproduced if the time agreed is used up and nothing ever showed."""
    evidence = pool.evidence
    if evidence.known.budget_h - evidence.hours >= 0.25:
        return Conclusion()
    shown = len(pool.bursts()) + pool.total("felt_only")
    hours = pool.hours()
    if hours <= 0 or shown > 2 + 0.2 * hours:
        return Conclusion()
    high = exact.upper_limit(len(pool.bursts()), hours)
    number = Number(
        "rate_bound",
        high,
        "exact.upper_limit",
        {"events": len(pool.bursts()), "exposure_h": hours},
        "one-sided 95 %, under the conditions driven",
        "1/h",
    )
    why = f"in {hours:.1f} exposed hours the complaint hardly showed"
    return Conclusion("not_reproduced", math.nan, "", why, [number])


def _direct_cause(pool: Pool, limits: Limits) -> Conclusion | None:
    """Kick-outs after short brake pulses, or after shifts of the return wire; mask or not."""
    bursts = pool.bursts()
    for name, flag, chance, why in (
        (
            "another_input",
            "brake_s",
            "brake_chance",
            "kick-outs follow brake pulses too short for a foot",
        ),
        (
            "module_or_ground",
            "offset",
            "offset_chance",
            "kick-outs follow shifts of the return wire",
        ),
    ):
        hit = [b for b in bursts if (b.brake_s is not None if flag == "brake_s" else b.offset)]
        if len(hit) < limits.link_least or len(hit) < limits.link_share * len(bursts):
            continue
        number = link_number(bursts, flag, chance)
        if number.value > limits.link_p:
            continue
        if name == "another_input":
            feet = _feet_number(pool, len(hit))
            if feet.value > limits.link_p:
                continue
            number = max(number, feet, key=lambda n: n.value)
        if name == "another_input" and not foot_boundary_s(pool.evidence)[1]:
            name = "driver_or_brake_input"
        return Conclusion(name, number.value, number.convention, why, [number])
    return None


def _feet_number(pool: Pool, short: int) -> Number:
    """Could feet have made so many short pulses? Their tail from the pulses that are feet.

    Log-normal through the median and the upper 84 % point of the longer pulses; half as many again
    are allowed for. With few of them a foot is taken as 2 s within a factor of 1.65.
    """
    lengths = np.concatenate([t.brake_pulses for t in pool.tallies] or [np.empty(0)])
    longer = np.log(lengths[lengths >= pool.rules.foot_s])
    middle, spread = math.log(2.0), 0.5
    if len(longer) >= 10:
        middle, upper = np.quantile(longer, (0.5, 0.84)).tolist()
        spread = max(upper - middle, 0.3)
    share = 0.5 * math.erfc((middle - math.log(pool.rules.foot_s)) / (spread * math.sqrt(2.0)))
    expected = 1.5 * len(longer) * share / max(1.0 - share, 0.05) + 0.02
    return Number(
        "short_pulses_over_feet",
        tails.poisson_at_least(short, expected),
        "tails.poisson_at_least",
        {"short": short, "expected_of_feet": expected, "feet": len(longer)},
        "one-sided, more than feet make",
    )


def _harness(pool: Pool, limits: Limits) -> Conclusion | None:
    """At the sensor's end, glitches on the line and kick-outs after them go on under the mask."""
    masked = [b for t in pool.at("sensor") for b in t.select(masked=True)]
    number = link_number(masked, "linked", "link_chance")
    linked = sum(b.linked for b in masked)
    if linked < 2 or linked < limits.link_share * len(masked) or number.value > limits.link_p:
        return None
    if pool.answers("under_mask", ("sensor",)).total > pool.answers("line", ("sensor",)).total:
        return None  # more of them come from beyond the cut
    why = "glitches on the line and kick-outs after them while the stand-in replaces the sensor"
    return Conclusion("harness", number.value, number.convention, why, [number])


def guilty_circuit(pool: Pool, limits: Limits) -> tuple[list[Number], bool] | None:
    """Numbers that carry the circuit's guilt, and whether glitches do; None if they do not.

    Either kick-outs follow its glitches and do not under the mask, or kick-outs come with the real
    sensor only, more clearly, without any glitch.
    """
    tapped = pool.at("sensor", "module")
    real = [b for t in tapped for b in t.select(masked=False)]
    linked = sum(b.linked for b in real)
    arms = arms_number(tapped)
    least = 2 if linked == len(real) else limits.link_least
    if linked >= least and linked >= limits.link_share * len(real):
        link, mask = link_number(real, "linked", "link_chance"), mask_number(pool)
        backed = mask.value <= limits.mask_p or arms.value <= limits.arms_backed_p
        whole = whole_drives_number(tapped)
        backed = backed or (whole.value <= limits.mask_p and not pool.answers("line").followed)
        if link.value <= limits.link_p and backed:
            return [link, mask, arms], True
        played = injection_number(pool)
        if link.value <= limits.link_p and _sufficient(played, limits, linked, len(real)):
            return [link, played], True
    suspicious = any(b.suspicious for b in pool.evidence.bench)
    limit = limits.arms_backed_p if suspicious else limits.arms_p
    if arms.value <= limit and arms.inputs["real"] >= 4:
        return [arms], False
    return None


def _sufficient(played: Number, limits: Limits, linked: int, real: int) -> bool:
    """What came before nearly all kick-outs makes them when it is played in, nearly always."""
    got = played.inputs
    return (
        linked >= limits.sufficient_share * real
        and got["answered"] >= max(4, limits.sufficient_share * got["injected"])
        and played.value <= limits.link_p
    )


def _circuit(pool: Pool, limits: Limits) -> Conclusion | None:
    """The circuit is guilty: which part of it, as far as the taps tell."""
    guilty = guilty_circuit(pool, limits)
    if guilty is None:
        return None
    numbers, by_glitches = guilty
    name, more = _part(pool, limits, by_glitches)
    why = "kick-outs with the real sensor only; the stand-in at a steady value ends them"
    if by_glitches:
        why = "kick-outs follow the circuit's glitches, and do not while the stand-in masks them"
    carried = max(numbers[:1] + more[:1], key=lambda number: number.value)
    return Conclusion(name, carried.value, carried.convention, why, [*numbers, *more])


def _part(pool: Pool, limits: Limits, by_glitches: bool) -> tuple[str, list[Number]]:
    """Sensor's side, slow error, harness, gone quiet - or the circuit as a whole."""
    at_sensor = pool.at("sensor")
    suspicious = any(b.suspicious for b in pool.evidence.bench)
    if not by_glitches and suspicious and pool.evidence.known.has("node"):
        return "sensor_slow_error", []
    masked_h = sum(t.hours_in(True) for t in at_sensor)
    if by_glitches and masked_h > 0:
        before, beyond = _sides(pool, at_sensor)
        if before >= limits.place_least and before > 4 * beyond:
            return "harness", []
        real = sum(t.real.total for t in at_sensor)
        if beyond >= limits.place_least and beyond > 4 * before:
            return "sensor_side", []
        if before == 0 and not pool.evidence.known.has("ohmmeter_under_mask"):
            strata = [(t.real.total, t.hours_in(False), 0, t.hours_in(True)) for t in at_sensor]
            result = exact.stratified_conditional(strata, ("real sensor", "stand-in"))
            if real >= 4 and result.p_value <= limits.place_p:
                number = _place_number(strata, result)
                return "sensor_side", [number]
    if not by_glitches:
        number = arms_number(at_sensor)
        if number.value <= limits.mask_p:
            return "sensor_side", [number]
    quiet = _quiet_at_sensor(pool)
    if quiet is not None and quiet.value <= limits.quiet_guilty_p:
        return "circuit_not_reproduced_after_tap", [quiet]
    return "sensor_circuit", []


def _sides(pool: Pool, at_sensor: list[Tally]) -> tuple[int, int]:
    """Long enough glitches before and beyond a cut at the sensor's end.

    Under the mask the channel tells: node or ohmmeter. With the real sensor the direction does: an
    open beyond the cut lifts the node, an open before it takes the pull-up away.
    """
    before = sum(t.line.total for t in at_sensor)
    beyond = sum(t.under_mask.total + t.real_cold.followed for t in at_sensor)
    if pool.rules.upstream_opens:
        before += sum(t.real.followed - t.real_cold.followed for t in at_sensor)
    return before, beyond


def _place_number(strata, result: exact.TestResult) -> Number:
    inputs = {
        "real": sum(s[0] for s in strata),
        "real_h": sum(s[1] for s in strata),
        "stand_in": 0.0,
        "stand_in_h": sum(s[3] for s in strata),
    }
    return Number(
        "glitches_on_line",
        result.p_value,
        "exact.stratified_conditional",
        inputs,
        result.convention,
    )


def _quiet_at_sensor(pool: Pool) -> Number | None:
    """Kick-outs and long glitches before the sensor's plug was touched, none since.

    With an ohmmeter a glitch under the mask is heard as well as one with the real sensor, so that
    all hours count; before the board was cut in only kick-outs could show.
    """
    since = pool.at("sensor")
    heard = sum(t.real.total + t.line.total + t.under_mask.total + t.count() for t in since)
    hears = pool.evidence.known.has("ohmmeter_under_mask") and pool.evidence.known.has("node")
    masked = None if hears else False
    n, t1 = (
        sum(t.count(False) for t in pool.at("none")),
        sum(t.hours_in(False) for t in pool.at("none")),
    )
    for t in pool.at("module"):
        glitches = t.real.total + t.under_mask.total if hears else 0
        n, t1 = n + max(glitches, t.count(False)), t1 + t.hours_in(masked)
    t2 = sum(t.hours_in(masked) for t in since)
    if heard or n < 3 or t1 <= 0 or t2 <= 0:
        return None
    result = exact.conditional_test(n, t1, 0, t2, names=("before the plug was touched", "since"))
    return Number(
        "quiet_since_tap",
        result.p_value,
        "exact.conditional_test",
        {"before": n, "before_h": t1, "since": 0, "since_h": t2},
        result.convention,
    )


def _goes_on(pool: Pool, limits: Limits) -> Conclusion | None:
    """Kick-outs go on while the stand-in feeds the module, more often than the channels miss.

    At the module's end the whole circuit is masked; at the sensor's end the harness still speaks,
    and only kick-outs without any glitch on the node clear it.
    """
    known = pool.evidence.known
    tapped = pool.at("module")
    if known.has("node") and (pool.cold.measured or pool.rules.hot.measured):
        tapped = pool.at("module", "sensor")
    masked = [b for t in tapped for b in t.select(masked=True)]
    free = [b for b in masked if not b.linked and not b.near]
    if len(free) < limits.on_least or len(free) < 0.6 * len(masked):
        return None
    if sum(b.linked for t in tapped for b in t.select(masked=False)) >= 2:
        return None  # some follow the circuit's own glitches: it may be guilty beside another
    felt = sum(b.pressed for b in free)
    if pool.rules.press_normal and felt < max(2, 0.4 * len(free)):
        return None  # acts of the driver's that no channel shows are not felt as the complaint
    number = goes_on_number(tapped, limits.on_margin)
    shows = _over_background(pool, tapped, masked=True)
    if number.value > limits.on_p or shows.value > 0.5 * limits.on_p:
        return None
    why = "kick-outs go on while the stand-in feeds the module"
    worst = max((number, shows), key=lambda n: n.value)
    return Conclusion("not_sensor_circuit", worst.value, worst.convention, why, [number, shows])


def _over_background(pool: Pool, tallies: list[Tally], masked: bool | None) -> Number:
    """Kick-outs in exposed time against the same outside it, where the fault cannot show."""
    n = sum(t.count(masked, still=True) for t in tallies)
    hours = sum(t.hours_in(masked, still=True) for t in tallies)
    seen, outside_h = pool.outside("still")
    # without time outside, one missed act in four hours is taken for the background
    seen, outside_h = seen + 0.25, outside_h + 1.0
    p_value = 1.0
    if hours > 0:
        rate = seen / outside_h
        p_value = tails.negative_binomial_at_least(n, seen + 0.5, hours / (hours + outside_h))
        p_value = max(p_value, tails.poisson_at_least(n, rate * hours))
    return Number(
        "kick_outs_over_background",
        p_value,
        "tails.negative_binomial_at_least",
        {"exposed": n, "exposed_h": hours, "outside": seen, "outside_h": outside_h},
        "one-sided, foot still; outside: with a quarter of an event in one hour added",
    )


def _outputs(pool: Pool, limits: Limits) -> Conclusion | None:
    """Felt again and again without any command changing."""
    known = pool.evidence.known
    if not (known.has("button") and known.has("converter")):
        return None
    felt, hours = pool.total("felt_only"), pool.hours()
    pressed, own = sum(b.pressed for b in pool.bursts()), pool.total("own_pressed")
    if felt < 4 or pressed > 0.25 * (felt + pressed) or own > felt or hours <= 0:
        return None
    if felt < 0.5 * _least_by_account(pool) * hours:
        return None  # the complaint is another one, much more frequent
    outside, outside_h = pool.total("felt_outside"), sum(t.outside_h for t in pool.tallies)
    # imagined presses: what is seen outside exposure, on top of half a press in two hours
    shape, rate_h = outside + 0.5, outside_h + 0.5 / limits.imagined_per_h
    p_value = tails.negative_binomial_at_least(felt, shape, hours / (hours + rate_h))
    if p_value > limits.felt_p:
        return None
    number = Number(
        "felt_without_command",
        p_value,
        "tails.negative_binomial_at_least",
        {"felt": felt, "hours": hours, "imagined": shape, "imagined_h": rate_h},
        "one-sided, felt > imagined stated beforehand",
    )
    why = "felt again and again while the commands stayed as they should"
    return Conclusion("outputs_or_hydraulics", p_value, number.convention, why, [number])


def _normal(pool: Pool, limits: Limits) -> Conclusion | None:
    """What is felt follows the driver's own acts and goes with the foot still."""
    own = pool.total("own_pressed")
    fault = sum(b.pressed for b in pool.bursts()) + pool.total("felt_only")
    known = pool.evidence.known
    if not (known.has("brake") and known.has("throttle")):
        return None  # nobody can say which acts were the driver's
    if own < 5 or fault > 0.1 * own + 1 or not foot_boundary_s(pool.evidence)[1]:
        return None
    strata = [
        (
            t.own_pressed["normal"],
            t.hours_in(still=False),
            t.own_pressed["still"],
            t.hours_in(still=True),
        )
        for t in pool.tallies
    ]
    result = exact.stratified_conditional(strata, ("normal driving", "foot still"))
    shown = _shown_number(pool, fault)
    if result.p_value > limits.normal_p or shown is None or shown.value > limits.shown_p:
        return None
    number = Number(
        "own_acts_felt",
        result.p_value,
        "exact.stratified_conditional",
        {"normal": sum(s[0] for s in strata), "normal_h": sum(s[1] for s in strata),
         "still": sum(s[2] for s in strata), "still_h": sum(s[3] for s in strata)},
        result.convention,
    )  # fmt: skip
    why = "what was felt followed the driver's own acts, and was gone with the foot still"
    return Conclusion("normal", result.p_value, result.convention, why, [number, shown])


def _least_by_account(pool: Pool) -> float:
    """Least rate that the account allows, as the worst of three spells or more. [1/h]"""
    account = pool.evidence.account
    if account is None or account.exposed_h <= 0:
        return 0.0
    return exact.garwood_worst_of(account.felt, account.exposed_h, max(account.spells, 3), 0.8).low


def _shown_number(pool: Pool, fault: int) -> Number | None:
    """A fault at the least rate the account allows would have shown more often than it did."""
    low, hours = _least_by_account(pool), pool.hours(masked=False)
    if low <= 0:
        return None
    return Number(
        "fault_would_have_shown",
        tails.poisson_at_most(fault, low * hours),
        "tails.poisson_at_most",
        {"shown": fault, "account_low_per_h": low, "hours": hours},
        "rate: lower 80 % limit of the account as the worst of three spells or more",
    )
