"""The sensor curves by name, and back from plain data.

>>> curve = curve_from_dict({"kind": "beta", "coefficients": {"beta_k": 3600, "r0_ohm": 2500, "t0_c": 20}})
>>> round(curve.temperature_c(2500.0), 6)
20.0
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.curve_base import KELVIN, THERMISTOR_DOMAIN_C, Curve, Value
from locum.physics.curve_ntc import BetaCurve, NtcCurve, beta_between_k
from locum.physics.curve_platinum import PlatinumCurve, tolerance_c
from locum.physics.curve_silicon import NAMES, SiliconCurve
from locum.physics.curve_table import TableCurve

__all__ = [
    "KELVIN",
    "KINDS",
    "THERMISTOR_DOMAIN_C",
    "BetaCurve",
    "Curve",
    "NtcCurve",
    "PlatinumCurve",
    "SiliconCurve",
    "TableCurve",
    "Value",
    "beta_between_k",
    "curve_from_dict",
    "tolerance_c",
]

KINDS = ("ntc", "beta", "table", "platinum", "silicon")

NEEDED = {
    "ntc": ("a", "b", "c"),
    "beta": ("beta_k", "r0_ohm", "t0_c"),
    "platinum": ("r0_ohm",),
    "silicon": ("r25_ohm", "alpha_per_k"),
    "table": (),
}
OPTIONAL = {
    "ntc": ("square",),
    "beta": (),
    "platinum": ("a", "b", "c"),
    "silicon": NAMES[1:],
    "table": ("rows",),
}


def curve_from_dict(data: Mapping[str, Any]) -> Curve:
    """The curve that ``to_dict`` described.

    Parameters
    ----------
    data : mapping
        ``kind``; ``coefficients``; ``span_c`` (two degC, optional); ``covariance`` or ``u_r0_ohm``
        (optional); ``points`` for a table, rows of (degC, ohm).

    Raises
    ------
    Refused
        With every fault found: an unknown kind, missing or unknown or non-numeric coefficients,
        a formula that is not monotone over the span.
    """
    kind = data.get("kind")
    if kind not in KINDS:
        raise Refused(
            Remark("unknown_kind", "kind", " or ".join(KINDS), repr(kind), "correct the kind")
        )
    if kind == "table":
        return _table(data)
    numbers = _numbers(kind, data.get("coefficients") or {})
    rest: dict[str, Any] = {}
    if data.get("span_c") is not None:
        low, high = (float(end) for end in data["span_c"])
        rest["span_c"] = (low, high)
    if data.get("u_form_c"):
        rest["u_form_c"] = float(data["u_form_c"])
    if kind == "platinum":
        return PlatinumCurve(**numbers, u_r0_ohm=float(data.get("u_r0_ohm") or 0.0), **rest)
    if data.get("covariance") is not None:
        rest["covariance"] = np.asarray(data["covariance"], dtype=float)
    if kind == "ntc":
        return NtcCurve(**numbers, **rest)
    if kind == "beta":
        return BetaCurve(**numbers, **rest)
    r25_ohm = numbers.pop("r25_ohm")
    count = max(i for i, name in enumerate(NAMES) if name in numbers) + 1
    terms = tuple(numbers.get(name, 0.0) for name in NAMES[:count])
    return SiliconCurve(r25_ohm, terms, **rest)


def _table(data: Mapping[str, Any]) -> TableCurve:
    points = tuple((float(celsius), float(ohm)) for celsius, ohm in data.get("points") or ())
    u_points = data.get("u_points_c")
    return TableCurve(points, None if u_points is None else tuple(float(u) for u in u_points))


def _numbers(kind: str, coefficients: Mapping[str, Any]) -> dict[str, float]:
    known = (*NEEDED[kind], *OPTIONAL[kind])
    faults = [
        Remark(
            "missing_coefficient", f"coefficients.{name}", f"a number, {kind} needs it", "nothing"
        )
        for name in NEEDED[kind]
        if name not in coefficients
    ]
    for name, value in coefficients.items():
        if name not in known:
            faults.append(
                Remark("unknown_coefficient", f"coefficients.{name}", ", ".join(known), name)
            )
        elif isinstance(value, bool) or not isinstance(value, int | float):
            faults.append(Remark("not_a_number", f"coefficients.{name}", "a number", repr(value)))
    if faults:
        raise Refused(faults)
    return {name: float(value) for name, value in coefficients.items()}
