"""What a board's self-calibration found, kept as data: tables, covariance, who, when, where."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, eq=False)
class Calibration:
    """One board's own values. Arrays are float64; ``w`` wipers, ``h`` hot branches."""

    board_serial: str
    date_utc: str
    """ISO 8601, such as 2026-05-01T09:30:00Z."""
    ambient_c: float
    meter: str
    """Hand meter that verified it, or "" (the board's own references)."""
    table_ohm: tuple[np.ndarray, ...]
    """Per wiper, resistance of each code near 0 V. [ohm]"""
    law_ohm: tuple[float, ...]
    """Per wiper, share that grows with voltage. [ohm]"""
    hot_ohm: tuple[float, ...]
    series_ohm: float

    @property
    def calibration_id(self) -> str:
        """CRC-32 of the content, eight hex digits."""
        raise NotImplementedError

    def to_dict(self) -> dict:
        raise NotImplementedError

    @classmethod
    def from_dict(cls, data: dict) -> Calibration:
        raise NotImplementedError
