"""Are the numbers of a table what its reader takes them for? degF, kilohm and swapped columns.

A thermistor's beta lies between about 2900 and 4900 K and climbs by about 7 % over 100 K: 26 published
tables and sensor settings in tests/published/data do, all but one within 2 to 20 %. Fahrenheit read as
Celsius lowers beta by a fifth and makes it climb by 15 to 30 %, so the two are told apart by how far
each reading lies from the usual. It cannot be told for every table; a header that names the unit can.
"""

from __future__ import annotations

import numpy as np

from locum.errors import Remark
from locum.physics.curve_base import KELVIN, THERMISTOR_DOMAIN_C

USUAL_BETA_K, SPREAD_BETA_K = 3900.0, 500.0
USUAL_CLIMB, SPREAD_CLIMB = 0.07, 0.05
SUSPECT = 6.0
"""Squared distance from the usual above which a table is suspected: just above the oddest of the
published three-point settings but one."""
LEAST_R25_OHM = 20.0
"""Below this at 25 degC the column is hardly in ohm: common practice is 100 ohm to 300 kohm."""


def distance_from_usual(celsius: np.ndarray, ohms: np.ndarray) -> float:
    """Squared distance of a table's beta and of its climb from a usual thermistor's.

    ``inf`` where the numbers cannot be a falling thermistor at all.
    """
    low, high = THERMISTOR_DOMAIN_C
    if len(celsius) < 2 or np.any(ohms <= 0):
        return np.inf
    if celsius.min() < low or celsius.max() > high:
        return np.inf
    order = np.argsort(celsius)
    inverse, ln_ohm = 1.0 / (celsius[order] + KELVIN), np.log(ohms[order])
    distinct = len(np.unique(inverse))  # temperatures that differ too little are one
    if distinct < 2:
        return np.inf
    centred = inverse - inverse.mean()
    degree = 2 if distinct > 2 else 1
    steepness = np.polyder(np.polyfit(centred, ln_ohm, degree))
    beta = float(np.polyval(steepness, 0.0))
    if beta <= 0:
        return np.inf
    distance = ((beta - USUAL_BETA_K) / SPREAD_BETA_K) ** 2
    if degree == 2:
        ends = np.polyval(steepness, centred[[0, -1]])
        climb = 100.0 * float(ends[1] - ends[0]) / beta / float(np.ptp(celsius))
        distance += ((climb - USUAL_CLIMB) / SPREAD_CLIMB) ** 2
    return distance


def unit_remarks(celsius: np.ndarray, ohms: np.ndarray) -> list[Remark]:
    """Warnings that a falling table reads better in another unit, or with its columns swapped."""
    as_read = distance_from_usual(celsius, ohms)
    swapped = distance_from_usual(ohms, celsius)
    if swapped < SUSPECT and as_read > 4 * swapped:
        return [swapped_remark(celsius, ohms)]
    remarks = []
    fahrenheit = distance_from_usual((celsius - 32.0) / 1.8, ohms)
    if as_read > 4 * fahrenheit and (as_read > SUSPECT or whole_in_fahrenheit(celsius)):
        remarks.append(_fahrenheit_remark(celsius))
    kelvin = distance_from_usual(celsius - KELVIN, ohms)
    if as_read > SUSPECT and as_read > 4 * kelvin and not remarks:
        remarks.append(_unit_remark("kelvin", celsius, "temperatures in degC", "kelvin"))
    return remarks + kohm_remarks(celsius, ohms)


def kohm_remarks(celsius: np.ndarray, ohms: np.ndarray) -> list[Remark]:
    """The warning that resistances are a thousand times too small, falling or rising."""
    r25_ohm = _near_25_ohm(celsius, ohms)
    if r25_ohm >= LEAST_R25_OHM:
        return []
    return [
        Remark(
            "looks_like_kohm",
            "resistance column",
            "ohm: a 2-wire sensor has 100 ohm to 300 kohm at 25 degC",
            f"about {r25_ohm:.3g} there",
            "if the column is in kilohm, name it r_kohm in the header",
        )
    ]


def swapped_remark(celsius: np.ndarray, ohms: np.ndarray) -> Remark:
    """The remark that the two columns are the wrong way round."""
    return Remark(
        "looks_swapped",
        "columns",
        "temperatures in the first column, resistances in the second",
        f"{celsius[0]:g} degC with {ohms[0]:g} ohm: the other way round they make a usual sensor",
        "swap the columns or their headers",
    )


def maybe_swapped(celsius: np.ndarray, ohms: np.ndarray) -> bool:
    """Whether exchanging the columns turns nonsense into a usual sensor."""
    return distance_from_usual(ohms, celsius) < SUSPECT < distance_from_usual(celsius, ohms)


def whole_in_fahrenheit(celsius: np.ndarray) -> bool:
    """Whether the numbers are multiples of 5 degC when taken as degF, and no round degC."""
    turned = (celsius - 32.0) / 1.8
    round_turned = np.all(np.abs(turned / 5 - np.round(turned / 5)) < 0.03)
    round_as_read = np.all(np.abs(celsius / 5 - np.round(celsius / 5)) < 0.03)
    return bool(round_turned and not round_as_read and len(celsius) > 1)


def maybe_fahrenheit(celsius: np.ndarray, ohms: np.ndarray) -> bool:
    """Whether reading nonsense as degF makes a usual sensor."""
    turned = distance_from_usual((celsius - 32.0) / 1.8, ohms)
    return turned < SUSPECT < distance_from_usual(celsius, ohms)


def _fahrenheit_remark(celsius: np.ndarray) -> Remark:
    return _unit_remark("fahrenheit", celsius, "temperatures in degC", "degF")


def _unit_remark(code: str, celsius: np.ndarray, wanted: str, found: str) -> Remark:
    header = {"degF": "t_f", "kelvin": "t_k"}[found]
    return Remark(
        f"looks_like_{code}",
        "temperature column",
        wanted,
        f"{celsius.min():g} to {celsius.max():g}, which make a usual sensor when read as {found}",
        f"if the source is in {found}, name the column {header}",
    )


def _near_25_ohm(celsius: np.ndarray, ohms: np.ndarray) -> float:
    order = np.argsort(celsius)
    inverse = 1.0 / (celsius[order][::-1] + KELVIN)
    return float(np.exp(np.interp(1.0 / (25.0 + KELVIN), inverse, np.log(ohms[order][::-1]))))
