"""Learn on the car: a recorded warm-up and a few thermometer readings give this sensor's own curve.

Each reading typed in is set against the recorded resistance at its moment. What is not known of it as temperature is the
thermometer, the moment (rate of warming times its uncertainty), the meter, and half of any correction for the
sensor's lag. With a published curve as a start, only a shift and a tilt of it are learnt:
``1/T = 1/T_published + q0 + q1 (x - xm)``, x = ln R, which is again a Steinhart-Hart curve; few readings move
it little.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from locum.errors import Refused, Remark
from locum.physics.band import Band
from locum.physics.curve import BetaCurve, Curve, NtcCurve, TableCurve
from locum.physics.curve_base import KELVIN
from locum.physics.fit import Fit, fit_curve
from locum.physics.moments import moments_of

THREE_TERMS_SPAN_C = 40.0
"""Readings closer together than this cannot show how beta drifts. [K]"""
PRIOR_SHIFT_C = 3.5
"""Standard uncertainty of a published curve's place for one sensor: a replacement may differ by as
much (common practice). [K]"""
PRIOR_TILT = 0.03
"""The same of its steepness, as a fraction of beta: common practice, 1 to 3 %."""
COVERAGE = 2.0


def learn_on_car(
    t_s: npt.ArrayLike,
    ohms: npt.ArrayLike,
    thermometer: Sequence[tuple[float, float]],
    prior: Curve | None = None,
    u_celsius: float = 1.0,
    u_time_s: float = 5.0,
    meter_pct: float = 0.5,
    lag_s: float = 0.0,
) -> Fit:
    """This sensor's own curve and band from a warm-up and thermometer readings.

    Parameters
    ----------
    t_s, ohms : arrays [n]
        The recording, times rising. [s, ohm]
    thermometer : sequence of (s, degC)
        Readings typed in, on the recording's clock; two or more, three or more without ``prior``
        for more than a beta curve.
    prior : Curve, optional
        The published curve of this kind of sensor (NTC).
    u_celsius : float
        Standard uncertainty of the thermometer at the sensor's place. [K]
    u_time_s : float
        Standard uncertainty of each reading's moment. [s]
    meter_pct : float
        Half-width of the recorded resistance. [%]
    lag_s : float
        How far the sensor lags behind the thermometer. [s]

    Returns
    -------
    Fit
        ``band`` holds the sensor's own curve within U (k = 2).
    """
    times, values = np.asarray(t_s, dtype=float), np.asarray(ohms, dtype=float)
    moments = moments_of(times, values, thermometer, prior, u_celsius, u_time_s, meter_pct, lag_s)
    celsius = np.array([moment.celsius for moment in moments])
    at_ohms = np.array([moment.ohms for moment in moments])
    u = np.array([moment.u_celsius for moment in moments])
    labels = [f"reading at {moment.t_s:g} s" for moment in moments]
    if prior is not None:
        fit = _moved(prior, celsius, at_ohms, u)
    else:
        wide = np.ptp(celsius) >= THREE_TERMS_SPAN_C and len(moments) >= 4
        kind = "ntc" if wide else "beta"
        fit = fit_curve(celsius, at_ohms, kind=kind, u_celsius=u, labels=labels)
    return _with_band(fit, times, values)


def _moved(prior: Curve, celsius: np.ndarray, ohms: np.ndarray, u: np.ndarray) -> Fit:
    """The published curve shifted and tilted as far as the readings ask, weighed against its own spread."""
    base = _as_ntc(prior)
    x, kelvin = np.log(ohms), celsius + KELVIN
    middle = float(x.mean())
    miss = 1.0 / kelvin - base._inverse_kelvin(x)
    design = np.stack([np.ones_like(x), x - middle], axis=1)
    weight = (kelvin**2 / u) ** 2
    middle_kelvin = float(kelvin.mean())
    beta = 1.0 / float(base._inverse_kelvin_slope(np.array(middle)))
    expected = np.diag([(PRIOR_SHIFT_C / middle_kelvin**2) ** -2, (PRIOR_TILT / beta) ** -2])
    covariance = np.linalg.inv((design * weight[:, None]).T @ design + expected)
    q0, q1 = (float(q) for q in covariance @ (design.T @ (weight * miss)))
    chi2 = float(np.sum(weight * (miss - design @ [q0, q1]) ** 2)) / len(x)
    # From (q0, q1) to (a, b, square, c): a takes q0 - q1 xm, b takes q1.
    to_curve = np.array([[1.0, -middle], [0.0, 1.0], [0.0, 0.0], [0.0, 0.0]])
    scaled = to_curve @ (covariance * max(1.0, chi2)) @ to_curve.T
    span = (
        min(base.span_c[0], float(celsius.min())),
        max(base.span_c[1], float(celsius.max())),
    )
    curve = NtcCurve(
        base.a + q0 - q1 * middle, base.b + q1, base.c, base.square, span, scaled, base.u_form_c
    )
    residuals = curve._celsius(ohms) - celsius
    return Fit(
        curve=curve,
        kind="ntc",
        coefficients=curve.coefficients,
        covariance=scaled,
        celsius=celsius,
        ohms=ohms,
        residuals_c=residuals,
        rms_c=float(np.sqrt(np.mean(residuals**2))),
        worst_c=float(np.max(np.abs(residuals))),
        warnings=_moved_remarks(prior, curve, celsius, ohms, chi2),
    )


def _moved_remarks(
    prior: Curve, curve: NtcCurve, celsius: np.ndarray, ohms: np.ndarray, chi2: float
) -> list[Remark]:
    middle = float(celsius.mean())
    moved = float(curve.temperature_c(prior.resistance_ohm(middle))) - middle
    remarks = []
    if abs(moved) > 2 * PRIOR_SHIFT_C:
        remarks.append(
            Remark(
                "far_from_published",
                "learnt curve",
                f"a sensor within {2 * PRIOR_SHIFT_C:g} K of its published curve",
                f"{moved:+.1f} K at {middle:.0f} degC",
                "check that this is the right table and that the thermometer touched the same fluid",
            )
        )
    if chi2 > 4.0:
        remarks.append(
            Remark(
                "readings_disagree",
                "learnt curve",
                "readings that agree within their stated uncertainty",
                f"misses {np.sqrt(chi2):.1f} times as large",
                "the uncertainty is widened by as much: note the moments more exactly",
            )
        )
    return remarks


def _as_ntc(prior: Curve) -> NtcCurve:
    """A falling curve in Steinhart and Hart's form."""
    if isinstance(prior, NtcCurve):
        return prior
    if isinstance(prior, BetaCurve):
        at_zero = 1.0 / (prior.t0_c + KELVIN) - np.log(prior.r0_ohm) / prior.beta_k
        return NtcCurve(float(at_zero), 1.0 / prior.beta_k, 0.0, span_c=prior.span_c)
    low, high = prior.span_c
    grid = np.linspace(low, high, 25)
    ohms = prior.resistance_ohm(grid)
    if ohms[0] < ohms[-1]:
        raise Refused(
            Remark(
                "not_falling",
                "published curve",
                "a sensor whose resistance falls with temperature",
                f"a {prior.kind} curve that rises",
                "learn without the published curve",
            )
        )
    fitted = fit_curve(grid, ohms, kind="ntc").curve
    assert isinstance(fitted, NtcCurve)
    return fitted


def _with_band(fit: Fit, t_s: np.ndarray, ohms: np.ndarray) -> Fit:
    """Add the curve's own U as a band over the temperatures that were recorded."""
    recorded = fit.curve._celsius(np.array([ohms.max(), ohms.min()]))
    low = max(float(min(recorded.min(), fit.curve.span_c[0])), fit.curve.domain_c[0])
    high = min(float(max(recorded.max(), fit.curve.span_c[1])), fit.curve.domain_c[1])
    grid = np.linspace(low, high, 25)
    expanded = COVERAGE * fit.curve.u_temperature_c(grid)
    edges = []
    for sign in (1.0, -1.0):
        at = np.clip(grid + sign * expanded, *fit.curve.domain_c)
        rows = zip(grid.tolist(), fit.curve.resistance_ohm(at).tolist(), strict=True)
        edges.append(TableCurve(tuple(rows)))
    band = Band(edges[0], edges[1], "this sensor's own curve within U (k = 2)")
    return Fit(**{**vars(fit), "band": band})
