"""The sensor circuit at work: feeds the module's pin and paints what the board's leads carry.

Within a second the sensor's value goes straight from one tick's to the next one's; the module takes
it as constant. Before anything electrical changes, the span that has passed is painted into the
scene with what held in it. Every value depends on absolute time alone, so that cutting a span in
two paints the same numbers.
"""

from __future__ import annotations

import numpy as np

from .chain import OPEN_OHM, SHORT_OHM, Chain
from .module import Module
from .scene import Load, Scene

LONGEST_MS = 4096
TICK_MS = 1000
RAMP = np.arange(LONGEST_MS, dtype=float)


class Circuit:
    """Chain, load and module, and the scene being painted."""

    def __init__(self, module: Module, sensor_ohm: float) -> None:
        self.module = module
        self.chain = Chain()
        self.load = Load()
        self.scene: Scene | None = None
        self._base_ms = self._painted_ms = 0
        self._second_ms = 0
        self._now_ohm = self._next_ohm = sensor_ohm
        self._node = self._lead = (0.0, 0.0)
        self.feed(0, fresh=True)

    def open_scene(self, scene: Scene, t_ms: int) -> None:
        """Paint into this scene, which begins at ``t_ms``."""
        self.scene = scene
        self._base_ms = self._painted_ms = t_ms
        scene.lively = not self.chain.quiet

    def close_scene(self, t_ms: int) -> None:
        self.paint(t_ms)
        self.scene = None

    def stir(self) -> None:
        """Something electrical changed: the scene is not merely slow."""
        if self.scene is not None:
            self.scene.lively = True

    def second(self, t_ms: int, next_ohm: float) -> None:
        """A second begins, at whose end the sensor element has ``next_ohm``."""
        self.paint(t_ms)
        self._second_ms = t_ms
        self._now_ohm, self._next_ohm = self._next_ohm, next_ohm
        self.feed(t_ms)

    def set_sensor(self, t_ms: int, ohm: float) -> None:
        """The sensor element jumps to a value (another sensor, another day)."""
        self._now_ohm = self._next_ohm = ohm
        self.feed(t_ms)

    def put(self, t_ms: int, load: Load) -> bool:
        """Another load; whether it is a jump that a module might answer."""
        old, self.load = self.load, load
        if load.kind != old.kind:
            self.stir()
        self.feed(t_ms)
        jump = load.kind != old.kind or not 0.8 < load.ohm / max(old.ohm, 1e-3) < 1.25
        return jump and load.kind != "sensor"

    def _load_ohm(self, lead_ohm: float) -> float:
        load = self.load
        if load.kind == "sensor":
            return lead_ohm
        if load.kind == "standin":
            return load.ohm
        if load.kind == "open":
            return OPEN_OHM
        if load.kind == "short":
            return SHORT_OHM
        return lead_ohm * load.ohm / (lead_ohm + load.ohm)

    def _volts(self, sensor_ohm: float) -> tuple[float, float, float]:
        """(pin, node, lead ohms) for a value of the sensor element."""
        lead = self.chain.lead_ohm(sensor_ohm)
        open_v, pull_up_ohm = self.module.source()
        pin_v, node_v = self.chain.volts(open_v, pull_up_ohm, self._load_ohm(lead))
        return pin_v, node_v, lead

    def feed(self, t_ms: int, fresh: bool = False) -> None:
        """Tell the module its pin's voltage, and keep both ends of this second's ramp."""
        pin_v, node_a, lead_a = self._volts(self._now_ohm)
        _, node_b, lead_b = self._volts(self._next_ohm)
        self._node, self._lead = (node_a, node_b), (lead_a, lead_b)
        self.module.feed(t_ms, pin_v, fresh)

    def paint(self, t_ms: int) -> None:
        """Fill the scene up to ``t_ms`` with what has been since the last change."""
        a, b = self._painted_ms - self._base_ms, t_ms - self._base_ms
        scene = self.scene
        if b <= a or scene is None:
            return
        start = self._painted_ms - self._second_ms
        ramp = RAMP[start : start + b - a]
        for array, (low, high) in ((scene.node_v, self._node), (scene.sensor_ohm, self._lead)):
            span = array[a:b]
            if low == high:
                span.fill(low)
            else:
                np.multiply(ramp, (high - low) / TICK_MS, out=span)
                span += low
        self._painted_ms = t_ms
