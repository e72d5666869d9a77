"""The converter of a virtual board, as bad as its data sheet allows.

A count is ``floor(N v/VREF (1 + g/N) + o + inl + noise + 0.5)``, clipped to 0..N-1. The INL has a bow,
two waves and steps at the binary carries, so that no polynomial of low order removes it; offset
and gain are random. Negative inputs read 0: an offset below zero is therefore *not* cancelled by
taking a reading with the excitation off.
"""

from __future__ import annotations

import numpy as np

NOISE_LSB = 0.35
OFFSET_LSB = 3.0
"""Half-width of a rectangular distribution; so is the next."""
GAIN_LSB = 5.0
INL_LSB = (0.4, 1.0)
"""Greatest |INL| of a board is drawn from this range (B grade: +-1 LSB)."""
NOISE_POOL = 1 << 16
AVERAGE_EXACT_TO = 16
"""Means of more samples than this are drawn from their normal limit: with 0.35 LSB of noise the
rounding that this leaves out is below 0.03 LSB."""


class Converter:
    """One converter; ``counts`` takes volts at its pin."""

    def __init__(self, bits: int, vref_v: float, rng: np.random.Generator) -> None:
        self.full = 1 << bits
        self.vref_v = vref_v
        self.rng = rng
        self.offset_lsb = rng.uniform(-OFFSET_LSB, OFFSET_LSB)
        self.gain_lsb = rng.uniform(-GAIN_LSB, GAIN_LSB)
        self.inl_lsb = inl_shape(self.full, rng)
        self._inl_offset = self.inl_lsb + self.offset_lsb
        self._noise = rng.standard_normal(NOISE_POOL) * NOISE_LSB + 0.5

    def _ideal(self, pin_v) -> np.ndarray:
        """Where the value falls on the count scale before noise and rounding, floats."""
        x = np.asarray(pin_v, float) * ((self.full + self.gain_lsb) / self.vref_v)
        index = np.clip(x, 0, self.full - 1).astype(np.intp)
        return x + self.offset_lsb + self.inl_lsb[index]

    def counts(self, pin_v) -> np.ndarray:
        """One reading each, int32, same shape."""
        x = np.asarray(pin_v, float) * ((self.full + self.gain_lsb) / self.vref_v)
        top = self.full - 1
        index = np.minimum(np.maximum(x, 0), top).astype(np.int32)
        ideal = x + self._inl_offset[index] + self._some_noise(x.size).reshape(x.shape)
        return np.minimum(np.maximum(ideal, 0), top).astype(np.int32)

    def _some_noise(self, n: int) -> np.ndarray:
        """Noise and the rounding half; from a pool drawn once, entered at a random place, since
        this is called for every simulated second."""
        if n > NOISE_POOL:
            return self.rng.standard_normal(n) * NOISE_LSB + 0.5
        start = int(self.rng.random() * (NOISE_POOL - n + 1))
        return self._noise[start : start + n]

    def mean_counts(self, pin_v, samples: int) -> np.ndarray:
        """Mean of ``samples`` readings each, float, same shape."""
        ideal = self._ideal(pin_v)
        if samples <= AVERAGE_EXACT_TO:
            many = ideal + self.rng.standard_normal((samples, *ideal.shape)) * NOISE_LSB + 0.5
            return np.clip(np.floor(many), 0, self.full - 1).mean(axis=0)
        spread = np.sqrt((NOISE_LSB**2 + 1 / 12) / samples)
        noisy = ideal + self.rng.standard_normal(ideal.shape) * spread
        return np.clip(noisy, 0.0, self.full - 1.0)


def inl_shape(full: int, rng: np.random.Generator) -> np.ndarray:
    """Integral non-linearity of one converter for each code, ``[full]``, in LSB."""
    x = np.arange(full) / full
    shape = rng.normal() * 4 * x * (1 - x)
    for waves in (1.5, 3.7):
        shape = shape + 0.5 * rng.normal() * np.sin(2 * np.pi * (waves * x + rng.uniform()))
    for bit in range(3):  # the heaviest carries of a successive-approximation ladder
        period = full >> bit
        high = (np.arange(full) % period) >= period // 2
        shape = shape + 0.35 * rng.normal() * (high - 0.5)
    shape -= np.interp(x, [0, 1], [shape[0], shape[-1]])
    worst = float(np.max(np.abs(shape)))
    return shape * (rng.uniform(*INL_LSB) / worst)
