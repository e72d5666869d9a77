"""Rules that blame the sensor circuit, and tell which part of it as far as the taps do."""

from __future__ import annotations

from locum.verdict import exact
from locum.verdict.finding import Number
from locum.verdict.limits import Conclusion, Limits
from locum.verdict.pool import Pool
from locum.verdict.pooled_numbers import (
    arms_number,
    injection_number,
    link_number,
    mask_number,
    share_number,
    whole_drives_number,
)
from locum.verdict.tally import Tally


def harness(pool: Pool, limits: Limits) -> Conclusion | None:
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
    arms, played = arms_number(tapped), injection_number(pool)
    least = 2 if linked == len(real) else limits.link_least
    if linked >= least and linked >= limits.link_share * len(real):
        link, mask = link_number(real, "linked", "link_chance"), mask_number(pool)
        backed = mask.value <= limits.mask_p or arms.value <= limits.arms_backed_p
        whole = whole_drives_number(tapped)
        backed = backed or (whole.value <= limits.mask_p and not pool.answers("line").followed)
        if link.value <= limits.link_p and backed:
            return [link, mask, arms], True
        carries = linked >= limits.sufficient_share * len(real)
        if link.value <= limits.link_p and carries and _sufficient(played, limits):
            return [link, played], True
    share = share_number(tapped, limits.innocent_share)
    if _carried(share, limits) and _sufficient(played, limits):
        return [share, played], True
    suspicious = any(b.suspicious for b in pool.evidence.bench)
    limit = limits.arms_backed_p if suspicious else limits.arms_p
    if arms.value <= limit and arms.inputs["real"] >= 4:
        return [arms], False
    return None


def _carried(share: Number, limits: Limits) -> bool:
    """Kick-outs after the circuit's glitches and masked glitches that would have made some, against
    kick-outs without any; one at least must have been seen to follow."""
    got = share.inputs
    mine = got["linked"] + got["masked_glitches"]
    enough = got["linked"] >= 1 and mine >= limits.link_share * got["events"]
    return enough and share.value <= limits.share_p


def _sufficient(played: Number, limits: Limits) -> bool:
    """Played in, such glitches make kick-outs, nearly always."""
    got = played.inputs
    nearly_always = got["answered"] >= max(4, limits.sufficient_share * got["injected"])
    return nearly_always and played.value <= limits.link_p


def circuit(pool: Pool, limits: Limits) -> Conclusion | None:
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
        near = _near_number(pool, at_sensor + pool.at("module"))
        return ("sensor_slow_error" if near.value > limits.near_p else "sensor_circuit"), []
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


def _near_number(pool: Pool, tapped: list[Tally]) -> Number:
    """Do kick-outs follow glitches of any length? A slow error needs none; a bench check that
    found one beside them may have been a false alarm."""
    real = [b for t in tapped for b in t.select(masked=False)]
    return link_number(real, "near", "near_chance")


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
