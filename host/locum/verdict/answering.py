"""What the module answers: the shortest glitch and the delay, from the board's own injections.

Shorter glitches neither link nor blame (without this figure most chatter is taken for the cause);
the look-back is the measured delay plus the glitch's length, not a round number.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from locum.verdict.evidence import Drive, Evidence

SEARCH_S = 15.0
"""Releases up to this long after an injection are looked at before the delay is known."""
UNMEASURED_DELAY_S = (0.0, 2.0)
LAPSE = 0.03
"""Chance that the module does not answer a glitch that is long enough (state not held, say)."""
SUPPORT = 3.0
"""Lengths whose log likelihood is within this of the best stay in the interval (p = 0.014)."""


@dataclass(frozen=True)
class Answering:
    """The module's answer to glitches towards one side."""

    short_s: float
    """Glitches up to this length are not answered. [s]"""
    long_s: float
    """Glitches from this length on are answered. [s]"""
    delay_s: tuple[float, float]
    """From the glitch's start to the release, less at most its length. [s]"""
    injected: int = 0
    answered: int = 0
    injected_long: int = 0
    """Of them as long as ``long_s`` or longer."""
    measured: bool = False
    blanks: int = 0
    """Comparable spans of the same stretches without an injection."""
    blanks_followed: int = 0

    def window_s(self, length_s):
        """How long after its start a glitch may be answered. [s]"""
        return self.delay_s[1] + length_s


@dataclass(frozen=True)
class Trial:
    """One injection and the first release after it."""

    length_s: float
    lag_s: float
    """Infinite if none came within ``SEARCH_S``."""


OPEN_OHM, SHORT_OHM = 1e9, 0.0
LIKE = 3.0
"""An injection stands for glitches whose ohms are within this factor of its own."""


def usual_ohm(evidence: Evidence, cold: bool) -> float:
    """Ohms of the circuit's own glitches towards one side: open or short if nothing else is known."""
    usual = OPEN_OHM if cold else SHORT_OHM
    heard = [
        g.ohm[g.towards_cold == cold]
        for d in evidence.drives
        for g in (d.node, d.under_mask)
        if g is not None and g.ohm is not None and len(g) and not d.repaired
    ]
    ohms = np.concatenate(heard) if heard else np.empty(0)
    if len(ohms) == 0:
        return usual
    middle = float(np.median(ohms))
    # a path to ground of many ohms makes no glitch towards hot: then no ohms were taken
    return usual if middle > 1e5 or (not cold and not 30.0 < middle < 300.0) else middle


def heard_sides(evidence: Evidence) -> tuple[int, int]:
    """Glitches heard so far towards cold and towards hot, as the module saw them."""
    cold = hot = 0
    opens = upstream_opens(evidence)
    for drive in evidence.drives:
        for glitches in (drive.node, drive.under_mask):
            if glitches is not None and not drive.repaired:
                turned = opens and drive.tap == "sensor" and glitches is drive.node
                count = len(glitches) if turned else int(np.count_nonzero(glitches.towards_cold))
                cold, hot = cold + count, hot + len(glitches) - count
    return cold, hot


def upstream_opens(evidence: Evidence) -> bool:
    """Heard at the module's end, the circuit opened at times and never went to ground."""
    heard = [
        d.node.towards_cold
        for d in evidence.drives
        if d.tap == "module" and d.node is not None and not d.repaired and len(d.node)
    ]
    return bool(heard) and all(bool(sides.all()) for sides in heard)


def _stands_for(injected_ohm: float, wanted_ohm: float) -> bool:
    low, high = sorted((max(injected_ohm, 10.0), max(wanted_ohm, 10.0)))
    return low > 1e5 or high <= LIKE * low


def injections(drive: Drive, cold: bool, ohm: float) -> list[Trial]:
    """Injections like such glitches, made while the state was held, and what came after each."""
    if drive.release_t_s is None or len(drive.injected_t_s) == 0:
        return []
    release, regain = drive.release_t_s, held_again(drive)
    sides = drive.injected_cold
    trials = []
    for i, (t_s, length_s) in enumerate(
        zip(drive.injected_t_s.tolist(), drive.injected_length_s.tolist(), strict=True)
    ):
        if (bool(sides[i]) if sides is not None else True) != cold:
            continue
        if drive.injected_ohm is not None and not _stands_for(float(drive.injected_ohm[i]), ohm):
            continue
        after = int(np.searchsorted(release, t_s))
        if after and regain[after - 1] > t_s:
            continue
        lag = float(release[after]) - t_s if after < len(release) else math.inf
        trials.append(Trial(length_s, lag if lag <= SEARCH_S + length_s else math.inf))
    return trials


def held_again(drive: Drive) -> np.ndarray:
    """When the state was held again after each release; the next release at the latest. [s]"""
    release = drive.release_t_s
    assert release is not None
    if drive.release_regain_s is None:
        return release + 5.0
    return release + np.nan_to_num(drive.release_regain_s, nan=30.0, posinf=30.0)


def measure(trials: Sequence[Trial], background_per_s: float) -> Answering | None:
    """Fit a sharp threshold of length with lapses above and chance releases below it.

    Returns None while nothing long was answered or there are fewer than three injections.
    """
    if len(trials) < 3:
        return None
    delay = _delay(trials)
    if delay is None:
        return None
    span = delay[1] - delay[0] + 0.5
    chance = min(0.3, max(0.01, background_per_s * span))
    lengths = np.array([trial.length_s for trial in trials])
    lags = np.array([trial.lag_s for trial in trials])
    yes = (lags >= delay[0]) & (lags <= delay[1] + lengths)
    order = np.argsort(lengths)
    lengths, yes = lengths[order], yes[order]
    # cut before item i: items from i on are long enough
    above = np.where(yes, math.log(1 - LAPSE), math.log(LAPSE))
    below = np.where(yes, math.log(chance), math.log(1 - chance))
    fit = np.concatenate(([0.0], np.cumsum(below))) + np.concatenate(
        (np.cumsum(above[::-1])[::-1], [0.0])
    )
    good = np.flatnonzero(fit >= fit.max() - SUPPORT)
    first, last = int(good[0]), int(good[-1])
    if last == len(lengths):
        return None
    short_s = float(lengths[first - 1]) if first else 0.0
    long_s = float(lengths[last])
    enough = lengths >= long_s
    return Answering(
        short_s, long_s, delay, len(trials), int((yes & enough).sum()), int(enough.sum()), True
    )


def _delay(trials: Sequence[Trial]) -> tuple[float, float] | None:
    """Range of lags of the answers: the densest group among the longer injections."""
    lags = sorted(trial.lag_s for trial in trials if math.isfinite(trial.lag_s))
    if len(lags) < 2:
        return None
    values = np.array(lags)
    best, width = (0, 0), 0.0
    for i, start in enumerate(values):
        reach = max(0.6, 0.35 * start)
        count = int(np.searchsorted(values, start + reach, "right")) - i
        if count > best[1]:
            best, width = (i, count), reach
    del width
    group = values[best[0] : best[0] + best[1]]
    if len(group) < 2:
        return None
    margin = 0.25 + 0.15 * float(group[-1])
    return max(0.0, float(group[0]) - margin), float(group[-1]) + margin


def answering(evidence: Evidence, cold: bool = True) -> Answering:
    """From all drives of the case, else what was measured elsewhere, else the usual guess."""
    trials: list[Trial] = []
    ohm = usual_ohm(evidence, cold)
    releases = hours = 0.0
    for drive in evidence.drives:
        if drive.repaired:
            continue
        trials.extend(injections(drive, cold, ohm))
        if drive.release_t_s is not None:
            releases += len(drive.release_t_s)
            hours += drive.hours
    found = measure(trials, releases / max(hours * 3600.0, 1.0))
    if found is not None:
        blanks, followed = _blanks(evidence, found)
        return replace(found, blanks=blanks, blanks_followed=followed)
    delay = evidence.module_delay_s
    shortest = evidence.shortest_answered_s
    return Answering(
        shortest if shortest is not None else 0.0,
        shortest if shortest is not None else math.inf,
        delay if delay is not None else UNMEASURED_DELAY_S,
        len(trials),
        0,
        0,
        shortest is not None,
    )


def _blanks(evidence: Evidence, found: Answering) -> tuple[int, int]:
    """Spans of the same stretches as the injections, equally long, halfway between two."""
    blanks = followed = 0
    span = found.delay_s[1] + found.long_s
    for drive in evidence.drives:
        at = drive.injected_t_s
        if drive.repaired or drive.release_t_s is None or len(at) < 2:
            continue
        middle = 0.5 * (at[1:] + at[:-1])
        middle = middle[(np.diff(at) > 4 * span) & (np.diff(at) < 600)]
        first = np.searchsorted(drive.release_t_s, middle)
        index = np.minimum(first, len(drive.release_t_s) - 1)
        if len(drive.release_t_s):
            hit = (first < len(drive.release_t_s)) & (drive.release_t_s[index] <= middle + span)
            followed += int(hit.sum())
        blanks += len(middle)
    return blanks, followed
