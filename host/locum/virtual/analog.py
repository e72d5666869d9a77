"""The board's true analogue side: pots, wipers, references, converter, as no fit knows them.

:class:`NetworkTruth` is one random board. It answers two questions: what a perfect meter would
read (``ohm``, ``standin_on``) and what the board's own converter says (``ohm_counts``,
``node_counts``). Whoever calibrates sees counts only.

What a usual fit leaves out and this board has: INL, clipping at zero, wiper switches that differ
within a chip and depart from the smooth law, leakage of pots and of the ohmmeter that doubles
every 10 K, a series resistance (fuse, relay, solid-state switch) that drifts, parts with their own
temperature coefficients, warming up after power-on. Ranges follow data sheets where they speak
(20 % pots, 0.1 % references, 100 nA typical pot leakage) and are guesses otherwise.

    LINE -- S -- NET --+-- wiper 1..n (rheostat to GND, each may be disconnected)
                       +-- hot branches (fixed resistor and a transistor)
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from .converter import Converter
from .drawn_parts import DrawnParts
from .plain_network import PlainNetwork

REFERENCE_C = 25.0
SELF_WARMING_K = 5.0
SELF_WARMING_S = 900.0


class NetworkTruth(DrawnParts):
    """One board, drawn at random from the parts of a board sheet.

    Parameters
    ----------
    board_sheet : dict
        ``[network]``, ``[ohmmeter]``, ``[node]`` as in hardware/boards/*.toml (parsed). Missing
        tables take the reference board's values.
    seed : int
        The same seed gives the same board and the same noise sequence.
    ambient_c : float
        Surrounding air at power-on. [degC]

    ``codes`` everywhere: int array ``[..., wipers]``, 0..taps-1. ``out``: bool array of the same
    shape, True = wiper's terminal is disconnected. ``hot``: int array ``[...]``, bit i = hot branch i
    on. All broadcast together; one call for a whole sweep.
    """

    def __init__(self, board_sheet: dict[str, Any], seed: int, ambient_c: float = 23.0) -> None:
        rng = np.random.default_rng(seed)
        meter = board_sheet.get("ohmmeter", {})
        node = board_sheet.get("node", {})
        super().__init__(board_sheet, rng)
        vref_v = float(meter.get("vref_v", 3.3)) * (1 + rng.normal(0, 0.0005))
        self.vref_v = vref_v
        self.converter = Converter(int(meter.get("adc_bits", 12)), vref_v, rng)
        self.divider = float(node.get("divider", 2.0)) * (1 + rng.normal(0, 0.0005))
        self.buffer_offset_v = float(rng.uniform(-0.0005, 0.0005))
        self.buffer_floor_v = 0.020  # at its output: 40 mV of LINE
        self.line_leak_a = float(rng.uniform(-20e-9, 20e-9))
        self.line_load_ohm = 40e6
        self._rng = rng
        self.ambient_c = float(ambient_c)
        self.powered_s = 0.0
        self._settle()

    # temperature -----------------------------------------------------------------------------

    def set_ambient(self, ambient_c: float) -> None:
        """Move the board to another temperature at once (all parts follow). [degC]"""
        self.ambient_c = float(ambient_c)
        self._series_walk += self._rng.normal(0, 0.03)
        self._settle()

    def run(self, seconds: float) -> None:
        """Stay powered: warms by 5 K with a time constant of 15 min, and contacts creep."""
        self.powered_s += seconds
        self._series_walk += self._rng.normal(0, 0.02) * math.sqrt(seconds / 3600)
        self._settle()

    @property
    def board_c(self) -> float:
        warmth = 1 - math.exp(-self.powered_s / SELF_WARMING_S)
        return self.ambient_c + SELF_WARMING_K * warmth

    def _settle(self) -> None:
        k = self.board_c - REFERENCE_C
        self.series_ohm = self._series0 + self._series_per_k * k + self._series_walk
        self.hot_ohm = self._hot0 * (1 + 1e-6 * self._hot_ppm * k)
        self.range_ohm = self._range0 * (1 + 1e-6 * self._range_ppm * k)
        swell = (1 + self._wiper_per_k * k)[:, None]
        self.table_ohm = self._base * (1 + 1e-6 * self._rab_ppm * k)[:, None] + self._wiper0 * swell
        """[wipers, taps] true ohms at 0 V across, at the present temperature."""
        doubling = 2.0 ** (k / 10)
        self._meter_leak_a = self._meter_leak0_a * doubling
        self._off_ohm = self._leak_off_ohm / doubling
        self._net_leak_a = self._leak_a * doubling
        self._law_swell = [1 + per_k * k for per_k in self._wiper_per_k]
        self._plain = PlainNetwork(
            [row.tolist() for row in self.table_ohm],
            self.hot_ohm.tolist(),
            self._off_ohm.tolist(),
            [float(x) for x in self._law_swell],
            float(self.series_ohm),
            float(self._net_leak_a.sum()),
            self._laws,
        )

    # true ohms -------------------------------------------------------------------------------

    def _net_siemens(self, codes, out, hot, net_v) -> np.ndarray:
        codes = np.asarray(codes)
        out = np.asarray(out, bool)
        net_v = np.asarray(net_v, float)
        total = np.asarray(0.0)
        for i, law in enumerate(self._laws):
            ohm = self.table_ohm[i][codes[..., i]] + law(net_v) * self._law_swell[i]
            total = total + np.where(out[..., i], 1 / self._off_ohm[i], 1 / ohm)
        hot = np.asarray(hot)
        for i, ohm in enumerate(self.hot_ohm):
            total = total + ((hot >> i) & 1) / ohm
        return total

    def ohm(self, codes, out, hot, node_v: Any = 0.0) -> np.ndarray:
        """True ohms from LINE to ground of the stand-in with ``node_v`` on LINE. [ohm]

        ``node_v`` broadcasts with ``codes[..., 0]``; 0..5.3 V. Leakage currents are not in it (they
        are no resistance); ``standin_on`` has them.
        """
        node_v = np.asarray(node_v, float)
        net_v = node_v
        net = np.asarray(0.0)
        for _ in range(4):  # the wiper law is soft: each turn gains two digits or more
            net = 1 / self._net_siemens(codes, out, hot, net_v)
            net_v = node_v * net / (net + self.series_ohm)
        return self.series_ohm + net

    def standin_on(self, open_v, pull_up_ohm, codes, out, hot) -> tuple[np.ndarray, np.ndarray]:
        """True (node_v, ohm) with a module's pull-up feeding the stand-in, leakage included.

        ``ohm`` is what the module would take it for: ``pull_up node_v/(open_v - node_v)``.
        """
        voc, rth = np.asarray(open_v, float), np.asarray(pull_up_ohm, float)
        voc = voc - rth * self.line_leak_a
        leak = float(np.sum(self._net_leak_a))
        ohm = self.ohm(codes, out, hot, voc / 2)
        for _ in range(3):
            node_v = voc * ohm / (ohm + rth) - leak * (ohm * rth / (ohm + rth))
            ohm = self.ohm(codes, out, hot, node_v)
        parallel = ohm * self.line_load_ohm / (ohm + self.line_load_ohm)
        node_v = voc * parallel / (parallel + rth) - leak * (parallel * rth / (parallel + rth))
        seen = rth * node_v / np.maximum(np.asarray(open_v, float) - node_v, 1e-9)
        return node_v, seen

    def one(self, codes, out, hot: int, open_v: float, pull_up_ohm: float) -> tuple[float, float]:
        """``standin_on`` for one state with plain sequences and floats: fast, same numbers to
        better than 1e-4 of the resistance."""
        voc = open_v - pull_up_ohm * self.line_leak_a
        node_v = self._plain.node_v(codes, out, hot, voc, pull_up_ohm, 1 / self.line_load_ohm)
        return node_v, pull_up_ohm * node_v / max(open_v - node_v, 1e-9)

    # what the converter says -----------------------------------------------------------------

    def ohm_counts(self, range_index, codes, out, hot, samples=1) -> tuple[np.ndarray, np.ndarray]:
        """(on, off) converter counts of the ohmmeter on the stand-in (relay at rest).

        ``range_index`` 0..2 broadcasts with ``codes[..., 0]``. Floats: means of ``samples`` integer
        readings each.
        """
        rk = self.range_ohm[np.asarray(range_index)]
        pin_v = np.asarray(self.vref_v / 2)
        ohm = np.asarray(0.0)
        if np.ndim(codes) == 1 and np.ndim(range_index) == 0:
            ohm = np.asarray(self._plain.metered_ohm(codes, out, int(hot), self.vref_v, float(rk)))
        else:
            for _ in range(3):
                ohm = self.ohm(codes, out, hot, pin_v)
                pin_v = self.vref_v * ohm / (ohm + rk)
        leak = self._meter_leak_a + self._plain.leak
        return self._pair(range_index, ohm, leak, samples)

    def ohm_counts_of(self, range_index, ohm, samples=1) -> tuple[np.ndarray, np.ndarray]:
        """(on, off) counts with a resistance ``ohm`` (the real sensor) on the ohmmeter."""
        return self._pair(range_index, ohm, self._meter_leak_a, samples)

    def _pair(self, range_index, ohm, leak: float, samples: int) -> tuple[np.ndarray, np.ndarray]:
        """Range on and all ranges off, ``leak`` flowing into the measured node. [A]"""
        rk = self.range_ohm[np.asarray(range_index)]
        ohm = np.asarray(ohm, float) + 0.0 * rk
        on_v = (self.vref_v / rk + leak) * (ohm * rk / (ohm + rk))
        off_v = leak * np.minimum(ohm, 20e6)
        mean = self.converter.mean_counts
        return mean(on_v, samples), mean(np.clip(off_v, -0.3, self.vref_v), samples)

    def half_counts(self, samples=16) -> float:
        """Counts of the channel that reads half of VREF (0.1 % divider)."""
        return float(self.converter.mean_counts(np.asarray(self.vref_v / 2), samples))

    def node_counts(self, node_v) -> np.ndarray:
        """Converter counts (int32) of the node channel for true volts on LINE, one each."""
        pin_v = np.asarray(node_v, float) * (1 / self.divider) + self.buffer_offset_v
        return self.converter.counts(np.maximum(pin_v, self.buffer_floor_v))

    def sensor_counts(self, range_index: int, ohm) -> np.ndarray:
        """Counts (int32) of the locked, fast ohmmeter on the real sensor, one per element."""
        rk = float(self.range_ohm[range_index])
        ohm = np.asarray(ohm, float)
        leak = self._meter_leak_a
        return self.converter.counts((self.vref_v / rk + leak) * (ohm * rk / (ohm + rk)))
