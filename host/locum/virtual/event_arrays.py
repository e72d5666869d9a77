"""Small arrays of events: joined, chosen, drawn."""

from __future__ import annotations

import numpy as np

from .case import Glitches

EMPTY = np.empty(0)
EMPTY.flags.writeable = False
NO_GLITCHES = Glitches(EMPTY, EMPTY, np.empty(0, bool), EMPTY)


def in_order(parts: list[tuple[np.ndarray, np.ndarray]]) -> tuple[np.ndarray, np.ndarray]:
    """Times and lengths joined and sorted by time."""
    if not parts:
        return EMPTY, EMPTY
    if len(parts) == 1:
        return parts[0]
    t_s = np.concatenate([p[0] for p in parts])
    order = np.argsort(t_s)
    return t_s[order], np.concatenate([p[1] for p in parts])[order]


def as_array(values: list[float]) -> np.ndarray:
    return np.array(values) if values else EMPTY


def only(glitches: Glitches, mask: np.ndarray) -> Glitches:
    return Glitches(
        glitches.t_s[mask],
        glitches.length_s[mask],
        glitches.towards_cold[mask],
        glitches.residual_ohm[mask],
    )


def joined(parts: list[Glitches]) -> Glitches:
    if not parts:
        return NO_GLITCHES
    if len(parts) == 1:
        return parts[0]
    t_s = np.concatenate([p.t_s for p in parts])
    order = np.argsort(t_s, kind="stable")
    return Glitches(
        t_s[order],
        np.concatenate([p.length_s for p in parts])[order],
        np.concatenate([p.towards_cold for p in parts])[order],
        np.concatenate([p.residual_ohm for p in parts])[order],
    )


def lognormal(
    median: float, sigma: float, n: int, span: tuple[float, float], rng: np.random.Generator
) -> np.ndarray:
    """``n`` lengths with that median and sigma of their logarithm, kept within ``span``."""
    drawn = rng.standard_normal(n)
    drawn *= sigma
    np.exp(drawn, out=drawn)
    drawn *= median
    return np.minimum(np.maximum(drawn, span[0]), span[1])
