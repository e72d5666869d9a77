"""What is wrong with a module's input, named: each doubt with the figures it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from locum.errors import Remark
from locum.physics.circuit import Thevenin
from locum.physics.figures import plain

if TYPE_CHECKING:
    from locum.physics.measure import LoadResult

MOST_PULL_UP_V = 6.0
"""Beyond this the stand-in is refused: the board's rails end at 5.3 V. [V]"""
BOARD_LINE_V = 5.3
WEAK_V, LOW_V = 4.5, 4.75
"""Below the first share of a 5 V supply the stand-in is refused, below the second warned about:
a regulated 5 V reference stays within 5 % (common practice). [V at 5 V]"""
NO_PULL_UP_OHM = 100.0
"""A source resistance below this is no pull-up but a short to a supply; real ones are 1 to 10 kohm. [ohm]"""
NO_MORE_LOADS = ("shorted_to_supply", "pull_up_12v")
"""Where a further, lower load would only get hot."""
UNSURE = 0.05
"""Relative u(Rth) from which a better load is asked for."""


@dataclass(frozen=True)
class Expected:
    """What a module of this type shows when it is well."""

    voc_v: float = 5.0
    """Open voltage. [V]"""
    rth_ohm: float | None = None
    """Pull-up, if known: it tells a leak from a weak reference. [ohm]"""
    tolerance_pct: float = 5.0
    """Half-width of both. [%]"""


def source_doubts(
    source: Thevenin,
    loads: Sequence[LoadResult],
    chi2: float,
    consistent: bool,
    switch_v: tuple[float, float] | None,
    expected: Expected,
) -> tuple[tuple[Remark, ...], tuple[Remark, ...]]:
    """Refusals and warnings about a measured source."""
    refusals = [*_too_high(source), *_no_pull_up(source)]
    warnings = []
    if source.voc_v < expected.voc_v * WEAK_V / 5.0:
        refusals.append(_weak(source, expected))
    elif source.voc_v < expected.voc_v * LOW_V / 5.0:
        warnings.append(_weak(source, expected))
    if BOARD_LINE_V < source.voc_v <= MOST_PULL_UP_V:
        warnings.append(_above_board(source))
    if switch_v is not None:
        warnings.append(_two_stages(source, switch_v))
    elif not consistent:
        warnings.append(_inconsistent(loads, chi2))
    if not any(remark.code in NO_MORE_LOADS for remark in refusals):
        warnings += _unsure(source)
    return tuple(refusals), tuple(warnings)


def _too_high(source: Thevenin) -> list[Remark]:
    if source.voc_v <= MOST_PULL_UP_V:
        return []
    shorted = source.rth_ohm < NO_PULL_UP_OHM
    if shorted:
        name, code = "the line is shorted to a supply", "shorted_to_supply"
    elif source.voc_v < 9.5:
        name, code = "an 8 V pull-up", "pull_up_8v"
    else:
        name, code = "a pull-up to battery, or a line shorted to it", "pull_up_12v"
    return [
        Remark(
            code,
            "module input",
            f"a pull-up to at most {MOST_PULL_UP_V:g} V",
            f"{_figures(source)}: {name}",
            "never connect the stand-in here; listening only",
        )
    ]


def _no_pull_up(source: Thevenin) -> list[Remark]:
    sure = source.lowest_rth_ohm() + 2 * source.u_rth_ohm
    if source.voc_v > MOST_PULL_UP_V or min(sure, source.lowest_rth_ohm() * 2) >= NO_PULL_UP_OHM:
        return []
    return [
        Remark(
            "shorted_to_supply",
            "module input",
            f"a pull-up of {NO_PULL_UP_OHM:g} ohm or more",
            f"{_figures(source)}: a load hardly moves the line, it is shorted to a supply",
            "find the short before anything is connected",
        )
    ]


def _weak(source: Thevenin, expected: Expected) -> Remark:
    """Why the open voltage is low: a leak takes the source resistance down with it, a weak supply not."""
    share = source.voc_v / expected.voc_v
    if expected.rth_ohm is None:
        leak = plain(_leak_ohm(source.rth_ohm, share))
        return _low(
            "weak_reference_or_leak",
            expected,
            f"{_figures(source)}: a weak reference, or something else loads the line",
            "look at another 5 V sensor: if it is low too the reference is weak, if not there is a "
            f"leak of about {leak} ohm",
        )
    off_leak = abs(source.rth_ohm / (share * expected.rth_ohm) - 1)
    off_weak = abs(source.rth_ohm / expected.rth_ohm - 1)
    unsure = expected.tolerance_pct / 100 + 2 * source.u_rth_ohm / source.rth_ohm
    if off_leak < off_weak and off_leak < unsure:
        leak = plain(expected.rth_ohm * share / (1 - share))
        return _low(
            "leak",
            expected,
            f"{_figures(source)}: the pull-up of {expected.rth_ohm:g} ohm with a leak of about "
            f"{leak} ohm to ground",
            "unplug connectors on this line one at a time until the voltage comes back",
        )
    if off_weak < unsure:
        return _low(
            "weak_reference",
            expected,
            f"{_figures(source)}: the pull-up is right, its supply is low",
            "check the module's supply, its ground and the other sensors on the same reference",
        )
    return _low(
        "weak_reference_or_leak",
        expected,
        f"{_figures(source)}, which neither a leak nor a weak reference alone explains",
        "check the module's supply and ground and the wiring",
    )


def _low(code: str, expected: Expected, found: str, remedy: str) -> Remark:
    wanted = f"an open voltage near {expected.voc_v:g} V"
    return Remark(code, "module input", wanted, found, remedy)


def _leak_ohm(rth_ohm: float, share: float) -> float:
    """Leak that lowers an ideal supply to ``share`` and leaves ``rth_ohm``. [ohm]"""
    return rth_ohm / (1 - share)


def _above_board(source: Thevenin) -> Remark:
    return Remark(
        "above_board_line",
        "module input",
        f"at most {BOARD_LINE_V:g} V, where the reference board's rails end",
        _figures(source),
        "the board decides for itself before its relay closes; expect a refusal",
    )


def _two_stages(source: Thevenin, switch_v: tuple[float, float]) -> Remark:
    below, above = switch_v
    hot = source.stages[0]
    return Remark(
        "two_stage_pull_up",
        "module input",
        "one pull-up",
        f"what looks like {plain(source.rth_ohm, 4)} ohm cold and {plain(hot.rth_ohm, 4)} ohm hot; it switches where the cold "
        f"stage's node lies between {below:.2f} and {above:.2f} V",
        "a jump of the node there is normal and no glitch; a further load confirms both and narrows "
        "the threshold",
    )


def _inconsistent(loads: Sequence[LoadResult], chi2: float) -> Remark:
    each = ", ".join(
        f"{plain(load.rth_ohm, 4)} ohm from {plain(load.load_ohm, 4)} ohm" for load in loads
    )
    return Remark(
        "loads_disagree",
        "module input",
        "one source behind all readings",
        f"{each} (chi-square {chi2:.3g})",
        "repeat the readings; if it stays, suspect a diode, a leak or a failing pull-up",
    )


def _unsure(source: Thevenin) -> list[Remark]:
    rth, u = (
        (source.stages[0].rth_ohm, source.stages[0].u_rth_ohm)
        if source.stages
        else (source.rth_ohm, source.u_rth_ohm)
    )
    if u <= UNSURE * rth:
        return []
    return [
        Remark(
            "rth_unsure",
            "module input",
            f"the source resistance within {UNSURE:.0%}",
            f"{plain(rth, 4)} ohm with u = {plain(u)} ohm",
            f"measure with a load near {plain(0.83 * rth, 2)} ohm",
        )
    ]


def _figures(source: Thevenin) -> str:
    return (
        f"{source.voc_v:.3f} V (u {source.u_voc_v:.3f} V) behind {plain(source.rth_ohm, 4)} ohm "
        f"(u {source.u_rth_ohm:.2g} ohm)"
    )
