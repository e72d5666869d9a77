"""What an unseen swap test says: of glitches long enough, after how many did a kick-out come?

Those that the module saw (of the real sensor, and given ones) against those kept from it. Left out are
glitches while the state was not held, near a release that has another cause, and stretches whose
connection a trip showed: they say nothing either way.
"""

from __future__ import annotations

from dataclasses import dataclass

from locum.jobs.swap_road import DrivenStretch
from locum.review.findings import Findings
from locum.verdict import exact

GAP_S = 1.5
"""Glitches closer than this are one burst. [s]"""
UNLIKE_P = 0.05
"""Below this the given glitches are answered more than the real ones: they are not alike."""


@dataclass(frozen=True)
class Tally:
    """Kick-outs that followed, and glitches, of each kind."""

    unmasked: tuple[int, int]
    given: tuple[int, int]
    masked: tuple[int, int]
    p_value: float | None = None
    """Of all that the module saw against those kept from it; None where there is nothing to compare."""
    p_unmasked: float | None = None
    """The same without the given ones. Information."""
    convention: str = ""
    settled: bool = False
    sentence: str = ""


def bursts(found: Findings, channel: str, least_s: float) -> list[tuple[float, float]]:
    """(start, length of the longest) of bursts of the sensor's own glitches, long enough. [s]"""
    made: list[tuple[float, float, float]] = []
    for g in found.glitches:
        if g.ours or g.channel != channel:
            continue
        start, length = g.t_ms / 1000, g.length_ms / 1000
        if made and start - made[-1][1] < GAP_S:
            made[-1] = (made[-1][0], start + length, max(made[-1][2], length))
        else:
            made.append((start, start + length, length))
    return [(start, length) for start, _, length in made if length >= least_s]


def count(
    row: DrivenStretch, found: Findings, tops: set[str], least_s: float, delay_s: float
) -> None:
    """Count a stretch's glitches and those a kick-out followed."""
    channel = "ohmmeter" if row.connected == "follow" else "node"
    given = [i for i in found.injections
             if row.start_s <= i.t_ms / 1000 < row.end_s and i.kind != "step"]  # fmt: skip
    row.given, row.answered = len(given), sum(i.answered_ms is not None for i in given)
    for start, length in bursts(found, channel, least_s):
        if not row.start_s <= start < row.end_s - delay_s or not _held(found, tops, start):
            continue
        near = [r for r in found.releases if start <= r.t_ms / 1000 <= start + length + delay_s]
        if any(r.cause in ("driver", "road", "ours") for r in near):
            continue
        row.glitches += 1
        row.followed += any(r.kick_out for r in near)


def _held(found: Findings, tops: set[str], t_s: float) -> bool:
    """Whether the held state stood at a time; without named states nobody can tell: yes."""
    if not tops:
        return True
    before = [name for t_ms, name in found.states if t_ms / 1000 <= t_s]
    return bool(before) and before[-1] in tops


def tallied(
    rows: list[DrivenStretch], found: Findings, tops: set[str], least_s: float, delay_s: float,
    alpha: float,
) -> Tally:  # fmt: skip
    """The whole test."""
    for row in rows:
        count(row, found, tops, least_s, delay_s)
    fair = [row for row in rows if not row.unblinded]
    real = [row for row in fair if row.connected == "real"]
    follow = [row for row in fair if row.connected == "follow"]
    return judged(
        (sum(r.followed for r in real), sum(r.glitches for r in real)),
        (sum(r.answered for r in follow), sum(r.given for r in follow)),
        (sum(r.followed for r in follow), sum(r.glitches for r in follow)), alpha,
    )  # fmt: skip


def judged(
    unmasked: tuple[int, int], given: tuple[int, int], masked: tuple[int, int], alpha: float
) -> Tally:
    """Fisher's test of what the module saw against what was kept from it."""
    (k1, n1), (kg, ng), (k2, n2) = unmasked, given, masked
    replayed = f" and {kg} of {ng} given to it" if ng else ""
    head = (f"A kick-out followed {k1} of {n1} glitches that the module saw{replayed}, "
            f"and {k2} of {n2} kept from it")  # fmt: skip
    if not n1 + ng or not n2:
        return Tally(unmasked, given, masked, sentence=f"{head}: nothing to compare, drive on.")
    names = ("seen by the module", "masked")
    test = exact.fisher(k1 + kg, n1 + ng, k2, n2, names)
    alone = exact.fisher(k1, n1, k2, n2, ("unmasked", "masked")).p_value if n1 else None
    unlike = bool(n1 and ng) and exact.fisher(kg, ng, k1, n1).p_value < UNLIKE_P
    # What is given proves what the module does with it, not that the fault is this one.
    own = k1 > 0
    settled = test.p_value <= alpha and not unlike and own
    said = "settled: what the module sees is the cause" if settled else "not settled"
    if unlike:
        said = "not settled: those given are answered more often than the sensor's own, so they are not alike"
    elif test.p_value <= alpha and not own:
        said = (
            "not settled: no kick-out has followed one of the sensor's own glitches yet, drive on"
        )
    return Tally(
        unmasked, given, masked, test.p_value, alone, test.convention, settled,
        f"{head} (Fisher, p {test.p_value:.2g}): {said}.",
    )  # fmt: skip
