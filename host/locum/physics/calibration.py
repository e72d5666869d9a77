"""What a board's self-calibration found, kept as data: tables, covariance, who, when, where.

Uncertainty is kept as factors: one column is one independent cause (a reference, a mode of the
converter's shape, ...), its entries say by how many ohm each table value, law, series part and hot
branch moves when the cause is one standard deviation off. Columns are grouped under the names of
the budget's lines, so that every stated uncertainty can name what rules it, and correlations
between the wipers are kept. What has no common cause is in ``noise_ohm``.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

import numpy as np

from locum.errors import Refused, Remark
from locum.physics.calibration_kept import canonical, checked, content, fields
from locum.physics.pot import wiper_law

OLD_DAYS = 180.0
STALE_DAYS = 400.0
SPAN_K = 20.0
"""How far from the calibration's own temperature a board may be used; the budget covers it."""


@dataclass(frozen=True, eq=False)
class Calibration:
    """One board's own values. Arrays are float64; ``w`` wipers, ``h`` hot branches, ``c`` causes."""

    board_serial: str
    date_utc: str
    """ISO 8601, such as 2026-05-01T09:30:00Z."""
    ambient_c: float
    """Temperature of the board meanwhile: its own thermometer's where it has one, else a room's. [degC]"""
    meter: str
    """Hand meter that verified or corrected it, or "" (the board's own references)."""
    table_ohm: tuple[np.ndarray, ...]
    """Per wiper, resistance of each code near 0 V. [ohm]"""
    law_ohm: tuple[float, ...]
    """Per wiper, share that grows with voltage by ``wiper_law``. [ohm]"""
    law_knots_v: np.ndarray
    law_knots_ohm: np.ndarray
    """[w, knots], departure from that law, linear between knots, 0 at 0 V. [ohm]"""
    law_supply_v: float
    hot_ohm: tuple[float, ...]
    series_ohm: float
    out_siemens: tuple[float, ...]
    """Per wiper, what leaks through it when it left. [S]"""
    noise_ohm: tuple[np.ndarray, ...]
    """Per wiper and code, standard uncertainty without common cause. [ohm]"""
    causes: tuple[str, ...]
    """[c] name of the budget's line of each column."""
    table_factor: tuple[np.ndarray, ...]
    """Per wiper [codes, c]. [ohm]"""
    law_factor: np.ndarray
    """[w, 1 + knots, c]: of the law's 75 ohm multiple and of its knots."""
    fixed_factor: np.ndarray
    """[1 + h, c]: of the series part and the hot branches. [ohm]"""
    out_factor: np.ndarray
    """[w, c]: of what leaks through a wiper that left. [S]"""
    drift: dict[str, float] = field(default_factory=dict)
    """Standard uncertainties of what may have changed since: ``wiper_ohm``, ``scale``,
    ``series_ohm``, ``reference``; after a short sweep ``warming_k``, what the board warms by since."""
    floor_date_utc: str = ""
    """When the floor was last measured again."""
    reference_on: np.ndarray = field(default_factory=lambda: np.zeros(0))
    """Counts of the short sweep's states during the calibration; only differences count later."""
    floor_shift: np.ndarray = field(default_factory=lambda: np.zeros(0))
    """What the last short sweep changed; see :mod:`locum.physics.floor`. Empty before the first."""
    quality: dict[str, float] = field(default_factory=dict)
    """What the fit said of itself: ``chi2`` per reading, ``worst_residual_lsb``, ``readings``."""

    @property
    def calibration_id(self) -> str:
        """CRC-32 of the content, eight hex digits."""
        return f"{zlib.crc32(canonical(content(self))):08x}"

    @property
    def leak_growth(self) -> float | None:
        """Leakage at the last short sweep in parts of the calibration's; None before the first."""
        if not len(self.floor_shift):
            return None
        now = float(np.mean(self.out_siemens))
        before = now - 1e-9 * float(self.floor_shift[-1])
        return float(np.clip(now / before, 0.1, 10.0)) if min(now, before) > 0 else None

    def grown_ohm(self, wiper: int, net_v):
        """What the voltage adds to a wiper's table. [ohm]"""
        law = self.law_ohm[wiper] * (wiper_law(net_v, self.law_supply_v) - 1.0)
        knots_v = np.concatenate([[0.0], self.law_knots_v])
        return law + np.interp(net_v, knots_v, np.concatenate([[0.0], self.law_knots_ohm[wiper]]))

    # -- kept and read back ----------------------------------------------------------------------

    def to_dict(self) -> dict[str, Any]:
        """Plain data for JSON: tables readable, factors packed; ``crc`` covers all of it."""
        kept = content(self)
        return {**kept, "crc": f"{zlib.crc32(canonical(kept)):08x}"}

    @classmethod
    def from_dict(cls, data: Any) -> Calibration:
        """What :meth:`to_dict` gave; FileTrouble if it is damaged or of a newer form."""
        return cls(**fields(checked(data)))

    # -- may it be used --------------------------------------------------------------------------

    def check_use(
        self, board_serial: str, now_utc: str, board_c: float | None = None
    ) -> list[Remark]:
        """Warnings about age and temperature; Refused for another board, or for one that is stale.

        ``board_c`` is the board's own temperature now, where its thermometer has told it. [degC]
        """
        if board_serial != self.board_serial:
            raise Refused(
                Remark(
                    "other_board",
                    "calibration",
                    f"the calibration of board {board_serial}",
                    f"that of board {self.board_serial}",
                    "calibrate this board, or plug in the other one",
                )
            )
        return self.age_warnings(now_utc) + ([] if board_c is None else self.span_warnings(board_c))

    def age_warnings(self, now_utc: str) -> list[Remark]:
        """A warning after ``OLD_DAYS``; Refused after ``STALE_DAYS``, or if made in the future."""
        board_serial = self.board_serial
        age = (_moment(now_utc) - _moment(self.date_utc)).total_seconds() / 86400
        if age < -1:
            raise Refused(
                Remark(
                    "calibration_ahead",
                    f"board {board_serial}",
                    "a calibration made before now",
                    f"one of {self.date_utc[:10]}, while it is {now_utc[:10]} by this clock",
                    "set this computer's clock right, or calibrate again",
                )
            )
        if age > STALE_DAYS:
            raise Refused(
                Remark(
                    "calibration_age",
                    f"board {board_serial}",
                    f"a calibration no older than {STALE_DAYS:.0f} days",
                    f"{age:.0f} days, of {self.date_utc[:10]}",
                    "calibrate again; it takes two minutes",
                )
            )
        if age > OLD_DAYS:
            return [
                Remark(
                    "calibration_old",
                    f"board {board_serial}",
                    f"a calibration no older than {OLD_DAYS:.0f} days",
                    f"{age:.0f} days, of {self.date_utc[:10]}",
                    "calibrate again when there is time",
                )
            ]
        return []

    def span_warnings(self, board_c: float) -> list[Remark]:
        """A warning if the board is further from its calibration's temperature than U allows for."""
        if abs(board_c - self.ambient_c) <= SPAN_K:
            return []
        return [
            Remark(
                "calibration_temperature",
                f"board {self.board_serial}",
                f"a board within {SPAN_K:.0f} K of {self.ambient_c:.0f} degC, where it was calibrated",
                f"one at {board_c:.0f} degC",
                "stated uncertainties are too small here: let it come to that temperature, or run "
                "`locum calibrate` at this one",
            )
        ]

    def scaled(self, factor: float, meter: str) -> Calibration:
        """All resistances times a factor that a better meter gave."""
        return replace(
            self,
            meter=meter,
            table_ohm=tuple(table * factor for table in self.table_ohm),
            law_ohm=tuple(law * factor for law in self.law_ohm),
            law_knots_ohm=self.law_knots_ohm * factor,
            hot_ohm=tuple(ohm * factor for ohm in self.hot_ohm),
            series_ohm=self.series_ohm * factor,
        )


def _moment(text: str) -> datetime:
    moment = datetime.fromisoformat(text.replace("Z", "+00:00"))
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
