"""The board's true analogue side: pots, wipers, references, converters, as no fit knows them.

:class:`NetworkTruth` is one random board. It answers two questions: what a meter of infinite
precision would read (``ohm``) and what the board's own converter says (``ohm_counts``,
``node_counts``). Whoever calibrates sees counts only.
"""

from __future__ import annotations

from typing import Any

import numpy as np


class NetworkTruth:
    """One board, drawn at random from the parts of a board sheet.

    Parameters
    ----------
    board_sheet : dict
        ``[network]``, ``[ohmmeter]``, ``[node]`` as in hardware/boards/*.toml (parsed).
    seed : int
        The same seed gives the same board and the same noise sequence.
    ambient_c : float
        Board temperature. [degC]

    ``codes`` everywhere: int array ``[..., wipers]``, 0..taps-1. ``out``: bool array of the same
    shape, True = wiper's terminal is disconnected. ``hot``: int array ``[...]``, bit i = hot branch i
    on. All broadcast together; one call for a whole sweep.
    """

    def __init__(self, board_sheet: dict[str, Any], seed: int, ambient_c: float = 23.0) -> None:
        raise NotImplementedError

    def set_ambient(self, ambient_c: float) -> None:
        """Move the board to another temperature at once (all parts follow)."""

    def ohm(self, codes, out, hot, node_v=0.0) -> np.ndarray:
        """True ohms from LINE to ground of the stand-in with ``node_v`` on LINE. [ohm]"""
        raise NotImplementedError

    def standin_on(self, open_v, pull_up_ohm, codes, out, hot) -> tuple[np.ndarray, np.ndarray]:
        """True (node_v, ohm) when a module's pull-up feeds the stand-in (solved together)."""
        raise NotImplementedError

    def ohm_counts(self, range_index, codes, out, hot, samples=1) -> tuple[np.ndarray, np.ndarray]:
        """(on, off) converter counts of the ohmmeter on the stand-in, float means of ``samples``
        integer readings each; shape of ``range_index`` broadcast with the codes."""
        raise NotImplementedError

    def ohm_counts_of(self, range_index, ohm, samples=1) -> tuple[np.ndarray, np.ndarray]:
        """(on, off) counts with an outside resistance (the real sensor) on the ohmmeter."""
        raise NotImplementedError

    def half_counts(self, samples=1) -> float:
        """Counts of the channel that reads half of VREF (0.1 % divider)."""
        raise NotImplementedError

    def node_counts(self, node_v) -> np.ndarray:
        """Converter counts (int) of the node channel for true volts on LINE, noise and INL in."""
        raise NotImplementedError
