"""What each culprit's bursts do in a drive at the event level."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .case import Glitches
from .event_arrays import lognormal
from .hidden import DROPOUT_CULPRITS
from .sensor_line import HOT_OHM

if TYPE_CHECKING:
    from .event_drive import EventDrive

LENGTH_SPAN_S = (0.005, 60.0)
BRAKE_DELAY_S = 0.06
EASE_LEAD_S = 0.2
DRIFT_ONSET_S, DRIFT_LENGTH_S = 8.0, 30.0


def play_bursts(drive: EventDrive, bursts: np.ndarray) -> None:
    """``bursts``: their begins, sorted, one at least. [s]"""
    culprit = drive.truth.culprit
    if culprit in DROPOUT_CULPRITS:
        dropouts(drive, with_extras(drive, bursts), culprit)
    elif culprit == "ground":
        ground(drive, with_extras(drive, bursts))
    elif culprit == "another_input":
        bad_switch(drive, with_extras(drive, bursts))
    elif culprit == "sensor_drift":
        drift(drive, bursts)
    elif culprit == "hydraulic":
        hit = drive.scenario.driver.button_hit
        drive.felt += [(t, hit) for t in bursts.tolist()]
    else:
        misread_acts(drive, bursts)


def with_extras(drive: EventDrive, bursts: np.ndarray) -> np.ndarray:
    """Begins of all dropouts: a burst's first and those that follow it, sorted."""
    burst, rng = drive.scenario.burst, drive.rng
    if burst.extra_dropouts_mean <= 0 or len(bursts) == 0:
        return bursts
    extra = rng.geometric(1 / (1 + burst.extra_dropouts_mean), len(bursts)) - 1
    total = int(extra.sum())
    if total == 0:
        return bursts
    gaps = np.cumsum(rng.exponential(burst.gap_s, total))
    before = np.cumsum(extra) - extra
    base = np.concatenate(([0.0], gaps))[before]
    times = np.concatenate((bursts, np.repeat(bursts - base, extra) + gaps))
    times.sort()
    return times[: int(np.searchsorted(times, drive.end_s))]


def _lengths(drive: EventDrive, n: int) -> np.ndarray:
    table = drive.scenario.dropout
    median_s, sigma = table.length_median_s, table.length_sigma
    return lognormal(median_s, sigma, n, LENGTH_SPAN_S, drive.rng)


def dropouts(drive: EventDrive, times: np.ndarray, culprit: str) -> None:
    n = len(times)
    lengths = _lengths(drive, n)
    table = drive.scenario.dropout
    residual = np.full(n, table.residual_ohm)
    cold = np.ones(n, bool)
    if table.towards_hot > 0:
        cold = drive.rng.random(n) >= table.towards_hot
        residual[~cold] = HOT_OHM
    drive.line.disturb(Glitches(times, lengths, cold, residual), culprit, culprit)


def ground(drive: EventDrive, times: np.ndarray) -> None:
    lengths = _lengths(drive, len(times))
    drive.offset = Glitches(times, lengths, np.ones(len(times), bool), lengths)
    drive.line.answered(times, lengths, drive.line.break_ohm, "ground")


def bad_switch(drive: EventDrive, times: np.ndarray) -> None:
    table, n = drive.scenario.brake_input, len(times)
    lengths = drive.pulse_lengths(table.fault_pulse_median_s, n)
    if table.only_when_slowing > 0:
        draws = drive.rng.random((2, n))
        slows = draws[0] < table.only_when_slowing
        still_factor = drive.scenario.driver.still_foot_factor
        kept = ~(slows & drive.layout.still_at(times) & (draws[1] >= still_factor))
        times, lengths, slows = times[kept], lengths[kept], slows[kept]
        drive.throttle.append(np.maximum(0.0, times[slows] - EASE_LEAD_S))
    drive.brake.append((times, lengths))
    drive.reasons += [
        (t, BRAKE_DELAY_S, end, "another_input")
        for t, end in zip(times.tolist(), (times + lengths).tolist(), strict=True)
    ]


def drift(drive: EventDrive, bursts: np.ndarray) -> None:
    delay = drive.truth.delay_s
    for t in bursts.tolist():
        if drive.layout.connected_at(t) != "hold":
            sure = t + DRIFT_ONSET_S
            drive.reasons.append((sure, delay, sure + DRIFT_LENGTH_S, "sensor_drift"))


def misread_acts(drive: EventDrive, bursts: np.ndarray) -> None:
    """Own acts that the customer takes for a fault."""
    driver, n = drive.scenario.driver, len(bursts)
    draws = drive.rng.random((2, n))
    lengths = drive.pulse_lengths(drive.scenario.brake_input.driver_pulse_median_s, n)
    kept = (draws[0] < driver.still_foot_factor) | ~drive.layout.still_at(bursts)
    hidden = driver.unnoticed_share
    shown = hidden + draws[1] * (1 - hidden)  # what no channel shows is never misread
    drive.acts(bursts[kept], shown[kept], lengths[kept])
    drive.felt += [(t, driver.button_hit) for t in bursts[kept].tolist()]
