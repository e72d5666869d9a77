"""Rules that blame something else: another input, the ground, what goes on under the mask, outputs."""

from __future__ import annotations

import math

import numpy as np

from locum.verdict import tails
from locum.verdict.finding import Number
from locum.verdict.limits import Conclusion, Limits
from locum.verdict.normal_rule import fault_would_have_shown, least_by_account
from locum.verdict.pool import Pool, foot_boundary_s
from locum.verdict.pooled_numbers import goes_on_number, link_number
from locum.verdict.tally import Tally


def direct_cause(pool: Pool, limits: Limits) -> Conclusion | None:
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
            known, evidence = pool.evidence.known, pool.evidence
            seen = known.has("throttle") or known.has("button")
            if known.budget_h - evidence.hours >= 0.25 or not seen:
                continue  # more pulses may tell; a foot that nothing else shows is no finding
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


def goes_on(pool: Pool, limits: Limits) -> Conclusion | None:
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
    """Kick-outs in exposed time against the same outside it, where the fault cannot show.

    With both pedals seen few acts are missed: to the time outside an hour with a quarter of one is
    added, and only the same foot is compared. Without a pedal nobody can vouch for a still foot,
    nor for a small number of acts: then all time outside counts, and nothing is added to it.
    """
    known = pool.evidence.known
    n = sum(t.count(masked, still=True) for t in tallies)
    hours = sum(t.hours_in(masked, still=True) for t in tallies)
    if known.has("throttle") and known.has("brake"):
        seen, outside_h = pool.outside("still")
        seen, outside_h = seen + 0.25, outside_h + 1.0
    else:
        seen, outside_h = pool.outside()
        seen += 0.25
    if outside_h <= 0:
        hours = 0.0
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
        "one-sided; with a quarter of an event added outside",
    )


def outputs(pool: Pool, limits: Limits) -> Conclusion | None:
    """Felt again and again without any command changing."""
    known = pool.evidence.known
    if not (known.has("button") and known.has("converter")):
        return None
    felt, hours = pool.total("felt_only"), pool.hours()
    pressed, own = sum(b.pressed for b in pool.bursts()), pool.total("own_pressed")
    if felt < 4 or pressed > 0.25 * (felt + pressed) or own > felt or hours <= 0:
        return None
    if felt < 0.5 * least_by_account(pool) * hours:
        return None  # the complaint is another one, much more frequent
    outside, outside_h = pool.total("felt_outside"), sum(t.outside_h for t in pool.tallies)
    # imagined presses: what is seen outside exposure, on top of half a press in two hours
    shape, rate_h = outside + 0.5, outside_h + 0.5 / limits.imagined_per_h
    p_value = tails.negative_binomial_at_least(felt, shape, hours / (hours + rate_h))
    # a helper who imagines much looks alike, but then the fault's own kick-outs would be about
    quiet = fault_would_have_shown(pool, pressed)
    unshown = quiet.value if quiet is not None else 1.0
    if p_value > limits.felt_p or p_value * unshown > limits.felt_and_quiet_p:
        return None
    number = Number(
        "felt_without_command",
        p_value,
        "tails.negative_binomial_at_least",
        {"felt": felt, "hours": hours, "imagined": shape, "imagined_h": rate_h},
        "one-sided, felt > imagined stated beforehand",
    )
    why = "felt again and again while the commands stayed as they should"
    numbers = [number] if quiet is None else [number, quiet]
    return Conclusion("outputs_or_hydraulics", p_value, number.convention, why, numbers)
