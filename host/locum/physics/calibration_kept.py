"""A calibration as it is kept: plain data with a checksum, read back or refused in plain words."""

from __future__ import annotations

import base64
import json
import zlib
from typing import TYPE_CHECKING, Any

import numpy as np

from locum.errors import FileTrouble, Remark

if TYPE_CHECKING:
    from locum.physics.calibration import Calibration

FORMAT = 1
"""Major number of the stored form; a newer one is refused."""


def content(made: Calibration) -> dict[str, Any]:
    """Plain data of a calibration: tables readable, factors packed."""
    return {
        "format": FORMAT,
        "board_serial": made.board_serial,
        "date_utc": made.date_utc,
        "ambient_c": made.ambient_c,
        "meter": made.meter,
        "floor_date_utc": made.floor_date_utc,
        "table_ohm": [np.round(table, 4).tolist() for table in made.table_ohm],
        "law_ohm": [round(float(x), 4) for x in made.law_ohm],
        "law_knots_v": made.law_knots_v.tolist(),
        "law_knots_ohm": np.round(made.law_knots_ohm, 4).tolist(),
        "law_supply_v": made.law_supply_v,
        "hot_ohm": [round(float(x), 5) for x in made.hot_ohm],
        "series_ohm": round(float(made.series_ohm), 5),
        "out_siemens": [float(x) for x in made.out_siemens],
        "noise_ohm": [np.round(noise, 4).tolist() for noise in made.noise_ohm],
        "causes": list(made.causes),
        "table_factor": [_packed(factor) for factor in made.table_factor],
        "law_factor": _packed(made.law_factor),
        "fixed_factor": _packed(made.fixed_factor),
        "out_factor": _packed(made.out_factor),
        "drift": dict(sorted(made.drift.items())),
        "reference_on": np.round(made.reference_on, 4).tolist(),
        "floor_shift": [float(x) for x in made.floor_shift],
        "quality": dict(sorted(made.quality.items())),
    }


def checked(data: Any) -> dict[str, Any]:
    """What was kept, without its checksum; FileTrouble if it is damaged or of a newer form."""
    if not isinstance(data, dict):
        raise FileTrouble(
            Remark(
                "calibration_damaged",
                "calibration",
                "a stored calibration",
                f"something else ({type(data).__name__})",
                "calibrate again",
            )
        )
    kept = {key: value for key, value in data.items() if key != "crc"}
    if not isinstance(data.get("format"), int) or data["format"] > FORMAT:
        raise FileTrouble(
            Remark(
                "calibration_format",
                "calibration",
                f"format {FORMAT} or older",
                f"format {data.get('format')}",
                "use the newer locum that wrote it, or calibrate again",
            )
        )
    if data.get("crc") != f"{zlib.crc32(canonical(kept)):08x}":
        raise FileTrouble(
            Remark(
                "calibration_damaged",
                "calibration",
                f"checksum {data.get('crc')}",
                f"{zlib.crc32(canonical(kept)):08x}",
                "calibrate again; the data have changed since they were written",
            )
        )
    return kept


def fields(data: dict[str, Any]) -> dict[str, Any]:
    """The calibration's fields from plain data; FileTrouble naming what is missing or no number."""
    try:
        return _fields(data)
    except (KeyError, TypeError, ValueError, zlib.error) as fault:
        missing = isinstance(fault, KeyError)
        found = f"{fault.args[0]} is missing" if missing else f"what cannot be read: {fault}"
        raise FileTrouble(
            Remark(
                "calibration_damaged",
                "calibration",
                "every table and factor of a calibration",
                found,
                "calibrate again; it takes two minutes",
            )
        ) from None


def _fields(data: dict[str, Any]) -> dict[str, Any]:
    return dict(
        board_serial=data["board_serial"],
        date_utc=data["date_utc"],
        ambient_c=float(data["ambient_c"]),
        meter=data["meter"],
        table_ohm=tuple(np.array(row, float) for row in data["table_ohm"]),
        law_ohm=tuple(data["law_ohm"]),
        law_knots_v=np.array(data["law_knots_v"], float),
        law_knots_ohm=np.array(data["law_knots_ohm"], float),
        law_supply_v=float(data["law_supply_v"]),
        hot_ohm=tuple(data["hot_ohm"]),
        series_ohm=float(data["series_ohm"]),
        out_siemens=tuple(data["out_siemens"]),
        noise_ohm=tuple(np.array(row, float) for row in data["noise_ohm"]),
        causes=tuple(data["causes"]),
        table_factor=tuple(_unpacked(packed) for packed in data["table_factor"]),
        law_factor=_unpacked(data["law_factor"]),
        fixed_factor=_unpacked(data["fixed_factor"]),
        out_factor=_unpacked(data["out_factor"]),
        drift=dict(data["drift"]),
        floor_date_utc=data["floor_date_utc"],
        reference_on=np.array(data["reference_on"], float),
        floor_shift=np.array(data["floor_shift"], float),
        quality=dict(data["quality"]),
    )


def canonical(content: dict[str, Any]) -> bytes:
    return json.dumps(content, sort_keys=True, separators=(",", ":")).encode()


def _packed(array: np.ndarray) -> dict[str, Any]:
    data = np.ascontiguousarray(array, "<f4").tobytes()
    return {"shape": list(array.shape), "f4": base64.b64encode(zlib.compress(data)).decode()}


def _unpacked(packed: dict[str, Any]) -> np.ndarray:
    data = zlib.decompress(base64.b64decode(packed["f4"]))
    return np.frombuffer(data, "<f4").astype(float).reshape(packed["shape"])
