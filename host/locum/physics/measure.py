"""The module's input measured: open voltage and known loads to a Thevenin source with uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from locum.errors import Remark
from locum.physics.circuit import Thevenin


@dataclass(frozen=True)
class LoadResult:
    """What one load said."""

    load_ohm: float
    volts: float
    rth_ohm: float
    """Source resistance this load alone gives with the fitted ``voc_v``. [ohm]"""
    u_rth_ohm: float
    residual_v: float
    """Measured minus fitted. [V]"""
    stage: int
    """Stage it was taken in, 0 cold or 1 hot."""


@dataclass(frozen=True)
class Measurement:
    """A module's input as measured, and what stands against feeding it."""

    source: Thevenin
    loads: tuple[LoadResult, ...]
    two_stage: bool
    chi2: float
    """Weighted sum of squared residuals."""
    freedom: int
    """Degrees of freedom; 0 means nothing was left to check with."""
    refusals: tuple[Remark, ...]
    """Reasons not to stand in on this input."""
    warnings: tuple[Remark, ...]
    best_load_ohm: float
    """Load that would tell most next. [ohm]"""


def thevenin(
    open_v: float | None,
    loads: Sequence[tuple[float, float]],
    volt_error_v: float = 0.01,
    ohm_error_pct: float = 1.0,
    meter_ohm: float | None = None,
    gain_error_pct: float = 0.0,
) -> Measurement:
    """Thevenin source from an open reading and one or more loads (ohm, volt)."""
    raise NotImplementedError


def best_load_ohm(rth_ohm: float) -> float:
    """Load that gives ``rth_ohm`` with least uncertainty, 0.83 of it (PRACTICE 2.2). [ohm]"""
    raise NotImplementedError
