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
PULSE_SPAN_S = (0.02, 20.0)
BRAKE_DELAY_S = 0.06
EASE_LEAD_S = 0.2
DRIFT_ONSET_S, DRIFT_LENGTH_S = 8.0, 30.0


def play_bursts(drive: EventDrive, bursts: np.ndarray) -> None:
    """``bursts``: their begins, sorted, one at least. [s]"""
    culprit = drive.truth.culprit
    if culprit in DROPOUT_CULPRITS:
        dropouts(drive, bursts, culprit)
    elif culprit == "ground":
        ground(drive, bursts)
    elif culprit == "another_input":
        bad_switch(drive, bursts)
    elif culprit == "sensor_drift":
        drift(drive, bursts)
    elif culprit == "hydraulic":
        hit = drive.scenario.driver.button_hit
        drive.felt += [(t, hit) for t in bursts.tolist()]
    else:
        misread_acts(drive, bursts)


def with_extras(
    drive: EventDrive, bursts: np.ndarray, median_s: float, sigma: float, span_s
) -> tuple[np.ndarray, np.ndarray]:
    """(begins, lengths) of all dropouts, sorted: a burst's first and those that follow it.

    The gap runs from the end of one to the begin of the next.
    """
    burst, rng = drive.scenario.burst, drive.rng
    if burst.extra_dropouts_mean <= 0:
        return bursts, lognormal(median_s, sigma, len(bursts), span_s, rng)
    each = rng.geometric(1 / (1 + burst.extra_dropouts_mean), len(bursts))
    n = int(each.sum())
    lengths = lognormal(median_s, sigma, n, span_s, rng)
    if n == len(bursts):
        return bursts, lengths
    since = (rng.exponential(burst.gap_s, n) + lengths).cumsum() - lengths
    first = each.cumsum() - each
    times = (bursts - since[first]).repeat(each) + since
    if len(bursts) > 1:
        order = times.argsort()
        times, lengths = times[order], lengths[order]
    end = int(times.searchsorted(drive.end_s))
    return times[:end], lengths[:end]


def _dropouts_of(drive: EventDrive, bursts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    table = drive.scenario.dropout
    return with_extras(drive, bursts, table.length_median_s, table.length_sigma, LENGTH_SPAN_S)


def dropouts(drive: EventDrive, bursts: np.ndarray, culprit: str) -> None:
    times, lengths = _dropouts_of(drive, bursts)
    n = len(times)
    table = drive.scenario.dropout
    residual = np.full(n, table.residual_ohm)
    cold = np.ones(n, bool)
    if table.towards_hot > 0:
        cold = drive.rng.random(n) >= table.towards_hot
        residual[~cold] = HOT_OHM
    drive.line.disturb(Glitches(times, lengths, cold, residual), culprit, culprit)


def ground(drive: EventDrive, bursts: np.ndarray) -> None:
    times, lengths = _dropouts_of(drive, bursts)
    drive.offset = Glitches(times, lengths, np.ones(len(times), bool), lengths)
    drive.line.answered(times, lengths, drive.line.break_ohm, "ground")


def bad_switch(drive: EventDrive, bursts: np.ndarray) -> None:
    table = drive.scenario.brake_input
    median_s, sigma = table.fault_pulse_median_s, table.pulse_sigma
    times, lengths = with_extras(drive, bursts, median_s, sigma, PULSE_SPAN_S)
    n = len(times)
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
