"""A curve that goes through every row of a table and never turns back between rows.

The interpolation is a cubic in each gap, of ln R against 1/T, where a thermistor is nearly a straight
line and a silicon sensor nearly a parabola. The slopes at the rows are those of the parabola through three neighbours,
held within three times the flatter neighbouring chord, which keeps the cubic monotone (Fritsch and
Carlson, SIAM J. Numer. Anal. 17, 1980, 238-246; from memory), and above a twentieth of it, which
keeps it invertible. Beyond the last rows the end's slope goes on as a straight line: a beta curve.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.curve_base import KELVIN, THERMISTOR_DOMAIN_C, Curve
from locum.physics.inverse import solve_rising


@dataclass(frozen=True)
class TableCurve(Curve):
    """Rows of (degC, ohm), two or more, strictly falling or strictly rising with temperature."""

    kind: ClassVar[str] = "table"

    points: tuple[tuple[float, float], ...]
    """Rows (temperature [degC], resistance [ohm]) in any order of temperature."""
    u_points_c: tuple[float, ...] | None = field(default=None, compare=False, repr=False)
    """Standard uncertainty of each row, as temperature, or None. [K]"""
    span_c: tuple[float, float] = field(init=False, compare=False, repr=False)
    domain_c: tuple[float, float] = field(init=False, compare=False, repr=False)
    _rows: _Rows = field(init=False, compare=False, repr=False)

    def __post_init__(self) -> None:
        rows = _Rows.of(self.points)
        object.__setattr__(self, "_rows", rows)
        celsius = [float(point[0]) for point in self.points]
        object.__setattr__(self, "span_c", (min(celsius), max(celsius)))
        low, high = THERMISTOR_DOMAIN_C
        object.__setattr__(self, "domain_c", (min(low, self.span_c[0]), max(high, self.span_c[1])))

    @property
    def falling(self) -> bool:
        """True for an NTC, False for a silicon or platinum table."""
        return self._rows.sign > 0

    @property
    def coefficients(self) -> dict[str, float]:
        return {"rows": float(len(self.points))}

    def _ohm(self, celsius: np.ndarray) -> np.ndarray:
        value, _ = self._rows.value_and_slope(1.0 / (celsius + KELVIN))
        return np.exp(self._rows.sign * value)

    def _celsius(self, ohm: np.ndarray) -> np.ndarray:
        return 1.0 / self._rows.inverse(self._rows.sign * np.log(ohm)) - KELVIN

    def _slope(self, celsius: np.ndarray, ohm: np.ndarray) -> np.ndarray:
        kelvin = celsius + KELVIN
        _, slope = self._rows.value_and_slope(1.0 / kelvin)
        return -self._rows.sign * ohm * slope / kelvin**2

    def _u_celsius(self, celsius: np.ndarray) -> np.ndarray:
        if self.u_points_c is None:
            return np.zeros_like(celsius)
        rows = np.array([point[0] for point in self.points])
        order = np.argsort(rows)
        return np.interp(celsius, rows[order], np.asarray(self.u_points_c)[order])

    def to_dict(self) -> dict[str, Any]:
        return {
            "kind": self.kind,
            "coefficients": self.coefficients,
            "span_c": list(self.span_c),
            "points": [list(point) for point in self.points],
            "u_points_c": None if self.u_points_c is None else list(self.u_points_c),
        }


@dataclass(frozen=True)
class _Rows:
    """The rows in the coordinates of the interpolation, both rising."""

    y: np.ndarray
    """1/T, ascending. [1/K]"""
    value: np.ndarray
    """ln(R/ohm) times ``sign``, ascending."""
    slope: np.ndarray
    """Slope at each row, above zero. [K]"""
    sign: float
    """+1 where resistance falls with temperature, -1 where it rises."""

    @classmethod
    def of(cls, points: tuple[tuple[float, float], ...]) -> _Rows:
        pairs = np.asarray(points, dtype=float)
        _refuse_unusable(pairs)
        y = 1.0 / (pairs[:, 0] + KELVIN)
        order = np.argsort(y)
        y, ln_ohm = y[order], np.log(pairs[order, 1])
        sign = 1.0 if ln_ohm[-1] > ln_ohm[0] else -1.0
        value = sign * ln_ohm
        _refuse_turning(1.0 / y - KELVIN, np.exp(ln_ohm), np.diff(y), np.diff(value))
        return cls(y, value, monotone_slopes(y, value), sign)

    def _place(self, at: np.ndarray, ends: np.ndarray) -> np.ndarray:
        return np.clip(np.searchsorted(ends, at, side="right") - 1, 0, len(ends) - 2)

    def value_and_slope(self, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """The interpolation and its derivative at 1/T, straight beyond the ends."""
        inside = np.clip(y, self.y[0], self.y[-1])
        cubic = self._cubic(self._place(inside, self.y))
        t = (inside - cubic.left) / cubic.width
        slope = cubic.slope(t) / cubic.width
        return cubic.value(t) + (y - inside) * slope, slope

    def inverse(self, value: np.ndarray) -> np.ndarray:
        """1/T of a value, exactly the inverse of the interpolation."""
        inside = np.clip(value, self.value[0], self.value[-1])
        cubic = self._cubic(self._place(inside, self.value))
        start = (inside - cubic.bottom) / cubic.rise
        t = solve_rising(cubic.value, cubic.slope, inside, 0.0, 1.0, start)
        end_slope = np.where(value < inside, self.slope[0], self.slope[-1])
        return cubic.left + t * cubic.width + (value - inside) / end_slope

    def _cubic(self, place: np.ndarray) -> _Cubic:
        width = self.y[place + 1] - self.y[place]
        return _Cubic(
            left=self.y[place],
            width=width,
            bottom=self.value[place],
            rise=self.value[place + 1] - self.value[place],
            enters=self.slope[place] * width,
            leaves=self.slope[place + 1] * width,
        )


@dataclass(frozen=True)
class _Cubic:
    """One Hermite cubic for each value asked for; t goes from 0 to 1 across its gap."""

    left: np.ndarray
    width: np.ndarray
    bottom: np.ndarray
    rise: np.ndarray
    enters: np.ndarray
    leaves: np.ndarray

    def value(self, t: np.ndarray) -> np.ndarray:
        square = 3 * self.rise - 2 * self.enters - self.leaves
        cube = self.enters + self.leaves - 2 * self.rise
        return self.bottom + t * (self.enters + t * (square + t * cube))

    def slope(self, t: np.ndarray) -> np.ndarray:
        square = 3 * self.rise - 2 * self.enters - self.leaves
        cube = self.enters + self.leaves - 2 * self.rise
        return self.enters + t * (2 * square + 3 * t * cube)


def monotone_slopes(x: np.ndarray, value: np.ndarray) -> np.ndarray:
    """Slopes at the rows of a rising table: of a parabola through three, kept monotone.

    Parameters
    ----------
    x, value : arrays of two or more, strictly rising

    Returns
    -------
    array
        One slope for each row, between 1/20 and 3 times the flatter neighbouring chord.
    """
    width = np.diff(x)
    chord = np.diff(value) / width
    if len(chord) == 1:
        return np.array([chord[0], chord[0]])
    inner = (width[1:] * chord[:-1] + width[:-1] * chord[1:]) / (width[:-1] + width[1:])
    first = _end_slope(width[0], width[1], chord[0], chord[1])
    last = _end_slope(width[-1], width[-2], chord[-1], chord[-2])
    slope = np.concatenate(([first], inner, [last]))
    flatter = np.concatenate(([chord[0]], np.minimum(chord[:-1], chord[1:]), [chord[-1]]))
    return np.clip(slope, 0.05 * flatter, 3.0 * flatter)


def _end_slope(near: float, far: float, chord_near: float, chord_far: float) -> float:
    return ((2 * near + far) * chord_near - near * chord_far) / (near + far)


def _refuse_unusable(pairs: np.ndarray) -> None:
    if pairs.ndim != 2 or pairs.shape[1:] != (2,) or len(pairs) < 2:
        raise Refused(
            Remark(
                code="too_few_points",
                where="table curve",
                wanted="two rows or more of temperature and resistance",
                found=f"{len(pairs)}",
                remedy="add rows, or use one reading with the usual beta",
            )
        )
    wrong = [
        Remark(
            code="bad_row",
            where=f"row {number}",
            wanted="a temperature above absolute zero and a resistance above zero",
            found=f"{celsius:g} degC, {ohm:g} ohm",
            remedy="correct or remove the row",
        )
        for number, (celsius, ohm) in enumerate(pairs, start=1)
        if not (np.isfinite(celsius) and celsius > -KELVIN and np.isfinite(ohm) and ohm > 0)
    ]
    if wrong:
        raise Refused(wrong)


def _refuse_turning(
    celsius: np.ndarray, ohm: np.ndarray, step_y: np.ndarray, step_value: np.ndarray
) -> None:
    turning = np.flatnonzero((step_y <= 0) | (step_value <= 0))
    if len(turning):
        raise Refused(
            [
                Remark(
                    code="not_monotone",
                    where=f"row at {celsius[i + 1]:g} degC",
                    wanted="resistance changing in one direction only",
                    found=f"{ohm[i + 1]:g} ohm there, {ohm[i]:g} ohm at {celsius[i]:g} degC",
                    remedy="correct or remove one of the two rows",
                )
                for i in turning[::-1]  # 1/T rises towards the cold: told from cold to hot
            ]
        )
