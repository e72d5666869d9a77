"""The steps of proof: what was observed, the exact test, what is missing."""

from __future__ import annotations

from locum.verdict import exact
from locum.verdict.finding import Number, Step
from locum.verdict.pool import Pool
from locum.verdict.pooled_numbers import (
    arms_number,
    injection_number,
    link_number,
    mask_number,
    whole_drives_number,
)
from locum.verdict.quiet import quiet_hours_needed
from locum.verdict.words import STEPS

STEP_ALPHA = 0.05
"""Of one step, over all looks at it (a look for each drive that adds to its test)."""


def steps(pool: Pool) -> tuple[Step, ...]:
    """All seven, in order; a later one may be reached while an earlier is not."""
    made = (
        _possible(pool),
        _coincident(pool),
        _sufficient(pool),
        _necessary(pool),
        _reversible(pool),
        _found(pool),
        _cured(pool),
    )
    assert tuple(step.name for step in made) == STEPS
    return made


def highest(made: tuple[Step, ...]) -> str:
    """Name of the highest step reached on the way up, ``none`` before the first.

    ``found`` and ``cured`` count only on top of ``coincident`` or ``sufficient``: a defect seen, or
    a quiet car, proves little by itself.
    """
    reached = [step.name for step in made if step.reached]
    backed = {"coincident", "sufficient", "necessary"} & set(reached)
    if not backed:
        reached = [name for name in reached if name == "possible"]
    return reached[-1] if reached else "none"


def _alpha(looks: int) -> float:
    return STEP_ALPHA / max(looks, 1)


def _stated(number: Number, looks: int) -> Number:
    words = f"{number.convention}; reached at p <= {STEP_ALPHA:g}/{max(looks, 1)} looks"
    return Number(number.name, number.value, number.test, number.inputs, words, number.unit)


def _possible(pool: Pool) -> Step:
    matches = pool.evidence.known.inhibit_matches
    observed = (
        "the manual names this sensor among the causes" if matches else "no match in the manual"
    )
    return Step(
        "possible", matches, observed, "" if matches else "a condition that fits the complaint"
    )


def _coincident(pool: Pool) -> Step:
    real = [
        b
        for t, at in zip(pool.tallies, pool.taps, strict=True)
        if at != "none"
        for b in t.select(masked=False)
    ]
    flag = "linked" if pool.cold.measured else "near"
    number = link_number(real, flag, "link_chance" if pool.cold.measured else "near_chance")
    looks = sum(t.count(False) > 0 for t in pool.tallies)
    hits = int(number.inputs["linked"])
    reached = hits >= 2 and number.value <= _alpha(looks)
    observed = f"{hits} of {len(real)} kick-outs came after a glitch within its look-back"
    missing = "" if reached else "kick-outs with the real sensor and the node listened to"
    return Step("coincident", reached, observed, missing, (_stated(number, looks),))


def _sufficient(pool: Pool) -> Step:
    number = injection_number(pool)
    looks = sum(len(d.injected_t_s) > 0 for d in pool.evidence.drives if not d.repaired)
    got = number.inputs
    reached = got["answered"] >= 3 and number.value <= _alpha(looks)
    observed = (
        f"{got['answered']:.0f} of {got['injected']:.0f} glitches of our own were answered, "
        f"{got['blanks_followed']:.0f} of {got['blanks']:.0f} blanks"
    )
    missing = "" if reached else "at least four glitches played in and four blanks between them"
    return Step("sufficient", reached, observed, missing, (_stated(number, looks),))


def _necessary(pool: Pool) -> Step:
    tests = [mask_number(pool), arms_number(pool.tallies), whole_drives_number(pool.tallies)]
    masked, got = tests[0].inputs, tests[2].inputs
    both_in_one = any(t.hours_in(False) > 0 and t.hours_in(True) > 0 for t in pool.tallies)
    says = (
        masked["masked"] > 0 and masked["unmasked"] > 0,
        both_in_one,
        got["real_h"] > 0 and got["stand_in_h"] > 0,
    )
    # a test without two sides to compare says nothing, and p = 1 would look like a finding
    numbers = [test for test, can in zip(tests, says, strict=True) if can]
    looks = sum(t.hours_in(True) > 0 for t in pool.tallies)
    reached = any(number.value <= _alpha(looks) / len(tests) for number in numbers)
    observed = (
        f"kick-outs: {got['real']:.0f} in {got['real_h']:.2f} h with the real sensor, "
        f"{got['stand_in']:.0f} in {got['stand_in_h']:.2f} h with the stand-in; "
        f"{masked['masked_followed']:.0f} of {masked['masked']:.0f} masked glitches were followed"
    )
    missing = "" if reached else "more exposed time with the stand-in feeding the module"
    return Step(
        "necessary", reached, observed, missing, tuple(_stated(n, 3 * looks) for n in numbers)
    )


def _reversible(pool: Pool) -> Step:
    """Came back with the real sensor after a time with the stand-in, nothing unplugged between."""
    masked_h = 0.0
    back = 0
    for number, (item, tap) in enumerate(zip(pool.tallies, pool.taps, strict=True)):
        if tap == "none":
            continue
        drive = [d for d in pool.evidence.drives if not d.repaired][number]
        first = min((s.start_s for s in drive.stretches if s.connected != "real"), default=None)
        for burst in item.select(masked=False):
            back += masked_h > 0.1 or (first is not None and burst.t_s > first)
        masked_h += item.hours_in(True)
    need = _necessary(pool).reached
    reached = need and back > 0
    observed = f"kick-outs with the real sensor again, after the stand-in had been on: {back}"
    missing = "" if reached else "a time with the real sensor again, nothing unplugged"
    if back and not need:
        missing = "the step before it: that the stand-in ends them"
    return Step("reversible", reached, observed, missing)


def _found(pool: Pool) -> Step:
    seen = pool.answers("under_mask")
    masked = seen.total - seen.followed
    number = mask_number(pool)
    by_meter = masked >= 1 and seen.followed == 0 and number.value <= STEP_ALPHA
    defect = pool.evidence.defect_found
    observed = (
        f"{masked} glitches of the real sensor measured while the module was fed steadily "
        "and did not kick out"
    )
    if defect:
        observed = f"seen: {defect}; {observed}"
    reached = bool(defect) or by_meter
    missing = "" if reached else "the physical defect, or its glitches measured under the mask"
    return Step("found", reached, observed, missing, (number,))


def _cured(pool: Pool) -> Step:
    real = [t for t in pool.tallies]
    n, t1 = sum(t.count(False) for t in real), sum(t.hours_in(False) for t in real)
    m, t2 = sum(t.count(False) for t in pool.after), sum(t.hours_in(False) for t in pool.after)
    if not pool.after or t1 <= 0 or t2 <= 0:
        return Step("cured", False, "not repaired yet", "a repair, then quiet exposed time")
    confidence = pool.evidence.confidence
    result = exact.conditional_test(n, t1, m, t2, confidence)
    needed = quiet_hours_needed(n, t1, confidence)
    numbers = (
        Number(
            "quiet_after_repair",
            result.p_value,
            "exact.conditional_test",
            {"before": n, "before_h": t1, "after": m, "after_h": t2},
            result.convention + "; exact time, one look",
        ),
        Number(
            "quiet_hours_needed",
            needed,
            "quiet.quiet_hours_needed",
            {"events": n, "exposure_h": t1, "confidence": confidence},
            "one-sided",
            "h",
        ),
    )
    # Fault-free time is asked for: a rate that fell while the fault came back is no cure.
    reached = m == 0 and result.p_value <= 1 - confidence
    observed = f"kick-outs: {m} in {t2:.2f} h after the repair, {n} in {t1:.2f} h before"
    if reached:
        missing = ""
    elif m:
        missing = (
            "the fault came back after the repair: find the rest of it, then quiet exposed time"
        )
    else:
        missing = f"{max(needed - t2, 0):.2f} h more of quiet exposed time"
    return Step("cured", reached, observed, missing, numbers)
