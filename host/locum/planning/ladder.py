"""The ladder as the board keeps it: made from the calibrated network, weighted by the curve."""

from __future__ import annotations

import numpy as np

from locum.physics import choose
from locum.physics.circuit import Thevenin, node_v
from locum_board.ladder import MILLIOHM_LIMIT, ladder_block, pack_rung
from locum_board.steps import OUT, RANK_SHIFT, TOLERANCE_SHIFT

TOLERANCE, UNKNOWN = 4, 0
"""Tolerance class of a rung: 80 mV, for the walk crosses the whole range; none where the board was
never calibrated or the pull-up never measured."""
MILLIKELVIN_PER_K = 1000


def rung_weights(ohm: np.ndarray, curve) -> np.ndarray:
    """Millikelvin from each rung to the one before it; 0 for the first.

    Rungs beyond the curve's domain are weighed with the slope at its end.
    """
    low, high = curve.domain_ohm
    celsius = np.asarray(curve.temperature_c(np.clip(ohm, low * 1.000001, high * 0.999999)), float)
    steps = np.abs(np.diff(celsius)) * MILLIKELVIN_PER_K
    return np.concatenate(([0], np.clip(np.rint(steps), 1, 65535))).astype(int)


def board_ladder(network, source: Thevenin, curve, known: bool = True) -> bytes:
    """The ladder's block for this network, module and sensor; ``known``: board and pull-up were
    measured, so that the node can be checked against it."""
    tolerance = (TOLERANCE if known else UNKNOWN) << TOLERANCE_SHIFT
    choice = choose.ladder(network, source)
    order = np.argsort(choice.set_ohm, kind="stable")
    milliohm = np.rint(choice.set_ohm[order] * 1000).astype(int)
    keep = np.concatenate(([True], np.diff(milliohm) > 0)) & (milliohm < MILLIOHM_LIMIT)
    order, milliohm = order[keep], milliohm[keep]
    ohm = milliohm / 1000
    node = np.clip(np.rint(node_v(source, ohm) * 2000), 0, 65534).astype(int)
    weights = rung_weights(ohm, curve)
    words = choice.codes.astype(int) | (choice.rank.astype(int) << RANK_SHIFT)
    words = np.where(choice.out, words | OUT, words)[order]
    hot = choice.hot[order].astype(int)
    rungs = b"".join(
        pack_rung(int(m), int(w), [int(x) for x in row], int(n), int(h) | tolerance)
        for m, w, row, n, h in zip(milliohm, weights, words, node, hot, strict=True)
    )
    return ladder_block(rungs, network_id=int(network.network_id[:8], 16))
