"""Exact numbers of a case's counts, each with its inputs and its convention."""

from __future__ import annotations

import numpy as np

from locum.verdict import exact
from locum.verdict.coincidence import at_least
from locum.verdict.finding import Number
from locum.verdict.pool import Pool
from locum.verdict.tally import Burst, Tally


def link_number(bursts: list[Burst], flag: str, chance: str) -> Number:
    """How improbable it is that so many bursts find something in their look-back by chance."""
    hits = sum(bool(getattr(burst, flag)) for burst in bursts)
    chances = [max(getattr(burst, chance), 1e-4) for burst in bursts]
    return Number(
        f"coincidence_{flag}",
        at_least(hits, chances),
        "coincidence.at_least",
        {
            "linked": hits,
            "bursts": len(bursts),
            "mean_chance": float(np.mean(chances)) if chances else 0.0,
            **{f"chance_{n}": chance for n, chance in enumerate(chances, 1)},
        },
        "one-sided; kick-outs shifted by up to 600 s within their drive",
    )


def arms_number(tallies: list[Tally], still: bool | None = None) -> Number:
    """Is the rate with the real sensor greater than under the stand-in? Within drives."""
    strata = [
        (
            t.count(False, still),
            t.hours_in(False, still),
            t.count(True, still),
            t.hours_in(True, still),
        )
        for t in tallies
    ]
    result = exact.stratified_conditional(strata, ("real sensor", "stand-in"))
    return _arms("real_over_stand_in", result, strata, {})


def goes_on_number(tallies: list[Tally], margin: float) -> Number:
    """Is the rate under the stand-in greater than ``margin`` times the one with the real sensor?"""
    strata = [(t.count(False), t.hours_in(False), t.count(True), t.hours_in(True)) for t in tallies]
    turned = [(masked, t_m * margin, real, t_r) for real, t_r, masked, t_m in strata]
    result = exact.stratified_conditional(turned, ("stand-in", f"{margin:g} x real sensor"))
    return _arms("goes_on_under_stand_in", result, strata, {"margin": margin})


def whole_drives_number(tallies: list[Tally]) -> Number:
    """The same by whole drives: rates that differ between drives are not excluded."""
    real, real_h = sum(t.count(False) for t in tallies), sum(t.hours_in(False) for t in tallies)
    masked, masked_h = sum(t.count(True) for t in tallies), sum(t.hours_in(True) for t in tallies)
    strata = [(real, real_h, masked, masked_h)]
    if real_h <= 0 or masked_h <= 0:
        result = exact.stratified_conditional([], ("real sensor", "stand-in"))
    else:
        result = exact.conditional_test(
            real, real_h, masked, masked_h, names=("real sensor", "stand-in")
        )
    return _arms("real_over_stand_in_whole_drives", result, strata, {})


def _arms(name: str, result: exact.TestResult, strata, more: dict[str, float]) -> Number:
    sums = [sum(column) for column in zip(*strata, strict=True)] if strata else [0, 0.0, 0, 0.0]
    columns = ("real", "real_h", "stand_in", "stand_in_h")
    inputs: dict[str, float] = dict(zip(columns, sums, strict=True))
    test = "exact.conditional_test" if name.endswith("drives") else "exact.stratified_conditional"
    # drives in which one side has no time, or nothing came, say nothing within themselves
    telling = [s for s in strata if s[1] > 0 and s[3] > 0 and s[0] + s[2] > 0]
    if test == "exact.stratified_conditional":
        for n, row in enumerate(telling, 1):
            inputs |= {f"{name}_{n}": float(x) for name, x in zip(columns, row, strict=True)}
    return Number(name, result.p_value, test, {**inputs, **more}, result.convention)


def mask_number(pool: Pool) -> Number:
    """Long enough glitches: followed unmasked (real and injected) against masked."""
    real, masked = pool.answers("real"), pool.answers("under_mask")
    cold = pool.cold
    shown = real.followed + cold.answered
    total = real.total + max(cold.injected_long, cold.answered)
    result = exact.fisher(shown, total, masked.followed, masked.total)
    return Number(
        "followed_unmasked_over_masked",
        result.p_value,
        "exact.fisher",
        {
            "unmasked_followed": shown,
            "unmasked": total,
            "masked_followed": masked.followed,
            "masked": masked.total,
        },
        "one-sided, unmasked > masked stated beforehand, not doubled; bursts of glitches",
    )


def injection_number(pool: Pool) -> Number:
    """Injections answered against blanks of the same stretches."""
    cold = pool.cold
    result = exact.fisher(cold.answered, cold.injected_long, cold.blanks_followed, cold.blanks)
    return Number(
        "injected_over_blank",
        result.p_value,
        "exact.fisher",
        {
            "answered": cold.answered,
            "injected": cold.injected_long,
            "blanks_followed": cold.blanks_followed,
            "blanks": cold.blanks,
        },
        "one-sided, injected > blank stated beforehand, not doubled",
    )


def share_number(tallies: list[Tally], innocent_share: float) -> Number:
    """Could a circuit that causes no more than ``innocent_share`` of the kick-outs have shown so many?

    With the real sensor a kick-out is the circuit's if a long enough glitch came before it. Under
    the mask a long enough glitch is one that would have been, so that masked hours say as much as
    the others; kick-outs without a glitch are somebody else's in either.
    """
    bursts = [b for t in tallies for b in t.bursts]
    linked = [b for b in bursts if b.linked]
    masked = sum(t.under_mask.total - t.under_mask.followed for t in tallies)
    chances = [max(b.link_chance, innocent_share) for b in bursts] + [innocent_share] * masked
    inputs: dict[str, float] = {
        "linked": len(linked), "masked_glitches": masked, "events": len(chances),
        "innocent_share": innocent_share,
    }  # fmt: skip
    inputs |= {f"chance_{n}": chance for n, chance in enumerate(chances, 1)}
    return Number(
        "circuit_share", at_least(len(linked) + masked, chances), "coincidence.at_least", inputs,
        "one-sided, share > innocent share stated beforehand",
    )  # fmt: skip
