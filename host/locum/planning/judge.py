"""Every refusal and warning that a plan can earn from its shape alone.

What the network cannot reach or carry is said by ``physics.choose``; here is what a module or a
person would mind: rates no real sensor shows, values that look stuck, trains that trip a
plausibility count, cold held too long, codes that may be set.
"""

from __future__ import annotations

import numpy as np

from locum.errors import Remark
from locum.planning.timeline import RATE_LIMIT_C_PER_S, Span
from locum.sheets.module import ModuleSheet

LONGEST_S = 4 * 3600
STUCK_S = 80.0
"""Several makers call a value stuck that has not moved for 80 to 100 s of driving (common practice)."""
COUNT_JUMP_C, COUNT_WINDOW_S, COUNT_LIMIT = 20.0, 7.0, 14
"""One maker's rule: more than 20 K within 0.2 s, 14 to 15 times in 7 s, is an erratic sensor."""
COLD_HOLD_S = 300.0
COLD_BELOW_C = 40.0
"""A coolant value held below this makes the engine run rich and keeps the fan off."""
CONFIRM_S = 0.5
"""Shortest confirm time of an open or short circuit that a maker prints (common practice). [s]"""


def rate_refusals(spans: list[Span], fast: bool) -> list[Remark]:
    """Spans steeper than a sensor can be, unless speed was asked for."""
    if fast:
        return []
    found = []
    for span in spans:
        if span.kind == "glitches":
            continue
        steepest = span.steepest_c_per_s()
        if steepest > RATE_LIMIT_C_PER_S * 1.0005:
            shown = "a jump" if np.isinf(steepest) else f"{steepest:.2f} K/s"
            found.append(
                Remark(
                    "rate",
                    span.where or span.kind,
                    f"at most {RATE_LIMIT_C_PER_S} K/s",
                    shown,
                    "make it slower, or ask for it with --fast when parked",
                )  # fmt: skip
            )
    return found


def length_refusals(seconds: float, steps: int, max_steps: int, on_silence: str) -> list[Remark]:
    """Plans that stand in for too long, or do not fit on the board they must run on alone."""
    found = []
    if seconds > LONGEST_S:
        found.append(
            Remark(
                "too_long",
                "",
                "at most 4 hours away from the real sensor",
                f"{seconds / 3600:.1f} hours",
                "cut the profile",
            )  # fmt: skip
        )
    if on_silence == "finish" and steps > max_steps:
        found.append(
            Remark(
                "finish_in_parts",
                "on_silence",
                f"a plan of {max_steps} steps, all on board",
                f"{steps} steps",
                'use a coarser resolution or on_silence = "return"',
            )  # fmt: skip
        )
    return found


def stuck_warnings(spans: list[Span]) -> list[Remark]:
    """Pieces that stand perfectly still for longer than a module believes."""
    found = []
    for span in spans:
        still = (np.diff(span.celsius) == 0) & (span.contact[:-1] == 0)
        longest = float((np.diff(span.t_s) * still).max(initial=0.0))
        whole = span.times > 1 and np.ptp(span.celsius) == 0
        longest = span.seconds if whole and not span.contact.any() else longest
        if longest >= STUCK_S:
            found.append(
                Remark(
                    "looks_stuck",
                    span.where,
                    f"a little movement within {STUCK_S:.0f} s",
                    f"{longest:.0f} s at one value",
                    "give the hold a wander",
                )  # fmt: skip
            )
    return found


def _jumps_per_window(span: Span) -> int:
    """Most jumps beyond the counting rule within its window, over the repeated span."""
    t, c = span.t_s, span.celsius
    change = np.abs(np.diff(c)) > COUNT_JUMP_C
    quick = np.diff(t) <= 0.2
    moves = t[1:][change & quick]
    contacts = t[1:][np.diff(span.contact.astype(int)) != 0]
    moments = np.sort(np.concatenate((moves, contacts)))
    if not len(moments):
        return 0
    copies = np.arange(min(span.times, 200))[:, None] * t[-1]
    train = (moments + copies).ravel()
    ends = np.searchsorted(train, train + COUNT_WINDOW_S, side="right")
    return int((ends - np.arange(len(train))).max())


def plausibility_warnings(spans: list[Span]) -> list[Remark]:
    """Trains that come near the count at which a module calls the sensor erratic ."""
    return [
        Remark(
            "plausibility_count",
            span.where,
            f"fewer than {COUNT_LIMIT} changes beyond {COUNT_JUMP_C:.0f} K in 7 s",
            f"{count}",
            "space the glitches wider, or expect a code",
        )  # fmt: skip
        for span in spans
        if (count := _jumps_per_window(span)) >= COUNT_LIMIT - 1
    ]


def cold_warnings(celsius: np.ndarray, seconds: np.ndarray, circuit: str) -> list[Remark]:
    """Coolant told to be cold for so long that the engine suffers; rows of ``seconds`` each. [s]"""
    if circuit not in ("coolant", ""):
        return []
    cold = float(seconds[celsius < COLD_BELOW_C].sum())
    if cold <= COLD_HOLD_S:
        return []
    return [
        Remark(
            "long_cold_hold",
            "",
            f"at most {COLD_HOLD_S / 60:.0f} min colder than {COLD_BELOW_C:.0f} degC on coolant",
            f"{cold / 60:.0f} min",
            "a warm engine runs rich and its fan stays off: watch the true temperature",
        )  # fmt: skip
    ]


def code_warnings(contact: np.ndarray, dwell_ms: np.ndarray, module: ModuleSheet) -> list[Remark]:
    """Codes the plan may set, to be cleared before the car is handed back."""
    longest = float(dwell_ms[contact > 0].max(initial=0)) / 1000
    if longest < CONFIRM_S:
        return []
    names = ", ".join(module.codes) or "the circuit's low and high codes"
    return [
        Remark(
            "codes_possible",
            "",
            f"opens and shorts below {CONFIRM_S} s to stay without codes",
            f"one of {longest:g} s",
            f"clear afterwards: {names}",
        )  # fmt: skip
    ]
