"""Which codes make which ohms: least error, kept currents, least excursion on the way."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from locum.errors import Remark
from locum.physics.network import Network


@dataclass(frozen=True, eq=False)
class Choice:
    """Codes of a whole plan, one row per step. ``n`` steps, ``w`` wipers."""

    target_ohm: np.ndarray
    """float [n], what was asked for. [ohm]"""
    set_ohm: np.ndarray
    """float [n], what the codes give by the network's tables. [ohm]"""
    codes: np.ndarray
    """int16 [n, w]; the value a wiper keeps while it is out is still written."""
    out: np.ndarray
    """bool [n, w], True: the wiper's terminal is disconnected."""
    hot: np.ndarray
    """uint8 [n], bits of the hot branches."""
    rank: np.ndarray
    """uint8 [n, w], order of the writes INTO this step: all wipers of rank 0 and 1 are written in
    rank order (equal ranks in wiper order), then the hot bits change, then ranks 2 and 3."""
    wiper_a: np.ndarray
    """float [n, w], current of each wiper at the measured source. [A]"""
    excursion_ohm: np.ndarray
    """float [n], of the values passed through on the way into the step the one that lies farthest
    (in ln R) outside the two ends; equal to ``set_ohm`` where none does. [ohm]"""
    refusals: list[Remark] = field(default_factory=list)
    """Limits that bind; steps they concern hold the nearest value that is allowed."""
    warnings: list[Remark] = field(default_factory=list)

    @property
    def excursion_ln(self) -> np.ndarray:
        """float [n], distance of the excursion from the nearer end of its move, in ln R."""
        raise NotImplementedError


def choose_codes(
    network: Network,
    target_ohm,
    source,
    max_wiper_a: float | None = None,
    alpha_per_k=None,
    start: Choice | None = None,
) -> Choice:
    """Codes for every target; see the module's text. ``source`` is a Thevenin (circuit.py).

    ``alpha_per_k`` (float or array [n], |d ln R / dT|) weighs errors and excursions in degrees;
    without it a typical NTC is assumed. ``start``: the move into step 0 begins at its last row.
    """
    raise NotImplementedError


def ladder(network: Network, source, rungs: int = 512) -> Choice:
    """At most ``rungs`` values over the whole reach, rising in ohms, small excursions between
    neighbours: the way home and values set by hand."""
    raise NotImplementedError


def excursion_c(choice: Choice, curve) -> np.ndarray:
    """float [n], how far each move leaves the span between its two ends. [K]"""
    raise NotImplementedError
