"""From counts to one of the conclusions, by rules written down beforehand.

Each rule asks for enough events, a share of the kick-outs large enough to matter, and an exact
test within its limit. The limits are chosen so that over all looks of a case the chance of a wrong
statement stays below ``Evidence.alpha`` (held by simulation with uneven rates, tests/campaign).
Where no rule applies the case stays undecided: that is a proper end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from locum.verdict import exact, tails
from locum.verdict.finding import Number
from locum.verdict.pool import (
    Pool,
    arms_number,
    foot_boundary_s,
    goes_on_number,
    link_number,
    mask_number,
    whole_drives_number,
)


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
    arms_backed_p: float = 0.02
    """The same when glitches, or the sensor's hot ohms, point the same way."""
    mask_p: float = 0.01
    """Glitches followed unmasked against masked."""
    on_margin: float = 0.3
    """"It goes on": more than this share of the real sensor's rate remains under the stand-in."""
    on_p: float = 0.01
    on_least: int = 4
    felt_p: float = 0.002
    """Felt without a command, against imagined presses."""
    imagined_per_h: float = 0.15
    normal_p: float = 0.01
    quiet_p: float = 0.01
    """Quiet since the tap, against the drives before it."""


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
        _sensor_side,
        _slow_error,
        _goes_on,
        _outputs,
        _normal,
        _quiet_since_tap,
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
        if name == "another_input" and not foot_boundary_s(pool.evidence)[1]:
            name = "driver_or_brake_input"
        return Conclusion(name, number.value, number.convention, why, [number])
    return None


def _harness(pool: Pool, limits: Limits) -> Conclusion | None:
    """At the sensor's end, glitches on the line and kick-outs after them go on under the mask."""
    masked = _masked(pool, "sensor")
    number = link_number(masked, "linked", "link_chance")
    linked = sum(b.linked for b in masked)
    if linked < 2 or linked < limits.link_share * len(masked) or number.value > limits.link_p:
        return None
    why = "glitches on the line and kick-outs after them while the stand-in replaces the sensor"
    return Conclusion("harness", number.value, number.convention, why, [number])


def _masked(pool: Pool, tap: str):
    return [
        b
        for t, at in zip(pool.tallies, pool.taps, strict=True)
        if at == tap
        for b in t.select(masked=True)
    ]


def _guilty_glitches(pool: Pool, limits: Limits) -> Number | None:
    """The number that links kick-outs of the real sensor to long enough glitches, if it does."""
    real = [
        b
        for t, at in zip(pool.tallies, pool.taps, strict=True)
        if at != "none"
        for b in t.select(masked=False)
    ]
    linked = sum(b.linked for b in real)
    number = link_number(real, "linked", "link_chance")
    if linked < limits.link_least or linked < limits.link_share * len(real):
        return None
    return number if number.value <= limits.link_p else None


def _sensor_side(pool: Pool, limits: Limits) -> Conclusion | None:
    """Glitches make kick-outs, and under the mask the same glitches make none."""
    guilty = _guilty_glitches(pool, limits)
    if guilty is None:
        return None
    mask, arms = mask_number(pool), arms_number(pool.tallies)
    whole = whole_drives_number(pool.tallies)
    backed = [
        n for n, limit in ((mask, limits.mask_p), (arms, limits.arms_backed_p)) if n.value <= limit
    ]
    if not backed and whole.value <= limits.mask_p and pool.answers("line").followed == 0:
        backed = [whole]
    if not backed:
        return None
    at_sensor = "sensor" in pool.taps
    line = sum(
        t.line.total for t, at in zip(pool.tallies, pool.taps, strict=True) if at == "sensor"
    )
    masked_hours = sum(
        t.hours_in(True) for t, at in zip(pool.tallies, pool.taps, strict=True) if at == "sensor"
    )
    placed = at_sensor and masked_hours > 0 and line == 0
    name = "sensor_side" if placed else "sensor_circuit"
    why = "kick-outs follow the circuit's glitches, and do not while the stand-in masks them"
    best = min(backed, key=lambda number: number.value)
    return Conclusion(
        name, max(guilty.value, best.value), best.convention, why, [guilty, mask, arms]
    )


def _slow_error(pool: Pool, limits: Limits) -> Conclusion | None:
    """No glitches, but kick-outs only with the real sensor: its slow value is at fault."""
    tapped = [t for t, at in zip(pool.tallies, pool.taps, strict=True) if at != "none"]
    number = arms_number(tapped)
    suspicious = any(b.suspicious for b in pool.evidence.bench)
    limit = limits.arms_backed_p if suspicious else limits.arms_p
    if number.value > limit or number.inputs["real"] < 4:
        return None
    name = "sensor_circuit"
    if all(at != "module" for at in pool.taps):
        name = "sensor_slow_error" if suspicious else "sensor_side"
    why = "kick-outs with the real sensor only; the stand-in at a steady value ends them"
    return Conclusion(name, number.value, number.convention, why, [number])


def _goes_on(pool: Pool, limits: Limits) -> Conclusion | None:
    """Kick-outs go on while the stand-in feeds the module, without glitches on the line."""
    masked = [b for b in pool.bursts(masked=True) if not b.linked]
    if len(masked) < limits.on_least or len(masked) < 0.6 * len(pool.bursts(masked=True)):
        return None
    tapped = [t for t, at in zip(pool.tallies, pool.taps, strict=True) if at != "none"]
    number = goes_on_number(tapped, limits.on_margin)
    if number.value > limits.on_p:
        return None
    why = "kick-outs go on while the stand-in feeds the module"
    return Conclusion("not_sensor_circuit", number.value, number.convention, why, [number])


def _outputs(pool: Pool, limits: Limits) -> Conclusion | None:
    """Felt again and again without any command changing."""
    known = pool.evidence.known
    if not (known.has("button") and known.has("converter")):
        return None
    felt, hours = pool.total("felt_only"), pool.hours()
    pressed = sum(b.pressed for b in pool.bursts())
    if felt < 4 or pressed > 0.25 * (felt + pressed) or hours <= 0:
        return None
    outside, outside_h = pool.total("felt_outside"), sum(t.outside_h for t in pool.tallies)
    rate = max(limits.imagined_per_h, (outside + 0.5) / max(outside_h, 1.0))
    p_value = tails.poisson_at_least(felt, rate * hours)
    if p_value > limits.felt_p:
        return None
    number = Number(
        "felt_without_command",
        p_value,
        "tails.poisson_at_least",
        {"felt": felt, "hours": hours, "imagined_per_h": rate},
        "one-sided, felt > imagined stated beforehand",
    )
    why = "felt again and again while the commands stayed as they should"
    return Conclusion("outputs_or_hydraulics", p_value, number.convention, why, [number])


def _normal(pool: Pool, limits: Limits) -> Conclusion | None:
    """What is felt follows the driver's own acts and goes with the foot still."""
    own = pool.total("own_pressed")
    fault = sum(b.pressed for b in pool.bursts()) + pool.total("felt_only")
    if own < 5 or fault > 0.2 * own + 1:
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
    if result.p_value > limits.normal_p or not _would_have_shown(pool):
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
    return Conclusion("normal", result.p_value, result.convention, why, [number])


def _would_have_shown(pool: Pool) -> bool:
    """A fault at the least rate the account allows would have been seen by now."""
    account = pool.evidence.account
    if account is None:
        return False
    low = exact.garwood_worst_of(account.felt, account.exposed_h, max(account.spells, 3), 0.8).low
    return low * pool.hours() >= 4.0


def _quiet_since_tap(pool: Pool, limits: Limits) -> Conclusion | None:
    """Kick-outs before anything was unplugged, none since, for long enough."""
    before, since = pool.since_tap()
    n, t1 = sum(t.count() for t in before), sum(t.hours_in() for t in before)
    m, t2 = sum(t.count() for t in since), sum(t.hours_in() for t in since)
    if n < 3 or t1 <= 0 or t2 <= 0 or m > 0.1 * n:
        return None
    result = exact.conditional_test(n, t1, m, t2, names=("before the tap", "since"))
    if result.p_value > limits.quiet_p:
        return None
    number = Number(
        "quiet_since_tap",
        result.p_value,
        "exact.conditional_test",
        {"before": n, "before_h": t1, "since": m, "since_h": t2},
        result.convention,
    )
    why = "kick-outs before the circuit was unplugged to cut in, none since"
    return Conclusion(
        "circuit_not_reproduced_after_tap", result.p_value, result.convention, why, [number]
    )
