"""What the virtual board puts on the module's line: the real sensor, the network, or a contact."""

from __future__ import annotations

from typing import Any

import numpy as np

from locum.bodies.virtual_hands import VirtualHands
from locum_board import steps

OPEN_OHM = 1e9
SHORT_OHM = 2.5
"""On-resistance of the solid-state switch that makes the short. [ohm]"""
BOTH_MS = 3
"""A make-before-break relay has both on the line for so long while it moves."""


class LineLoad:
    """The load on the line by what the hands are set to.

    Parameters
    ----------
    hands : VirtualHands
        Relay, contact, wipers.
    world : object
        Its ``module.source()``, where there is one, tells open voltage and pull-up.
    network_truth : NetworkTruth
        The board's true analogue side.
    """

    def __init__(self, hands: VirtualHands, world: Any, network_truth: Any) -> None:
        from locum.virtual.world import Load  # only jobs, tests and this wiring know it

        self._make = Load
        self._hands = hands
        self._world = world
        self._truth = network_truth
        self.node_v = 2.5
        """The line as it was last; what the network's ohms are taken at where no module says."""
        self._load: Any = None
        self._key: tuple | None = None
        self._both_until_ms = -1

    def due_ms(self, due_ms: int, now_ms: int) -> int:
        """``due_ms``, or sooner while the relay moves."""
        if self._hands.relay_moved:
            self._hands.relay_moved = False
            self._both_until_ms = now_ms + BOTH_MS
        if now_ms < self._both_until_ms:
            return min(due_ms, self._both_until_ms - now_ms)
        return due_ms

    def present(self, now_ms: int) -> Any:
        """The world's ``Load`` now; the same object for as long as nothing has changed."""
        hands = self._hands
        source = self._source()
        both = now_ms < self._both_until_ms and hands.contact_kind == steps.THROUGH
        key = (hands.energised, hands.contact_kind, source, both)
        if self._load is not None and not hands.moved and key == self._key:
            return self._load
        hands.moved = False
        self._key = key
        self._load = self._made(both)
        return self._load

    def _made(self, both: bool) -> Any:
        hands = self._hands
        if both:
            return self._make("both", self.standin_ohm())
        if not hands.energised:
            return self._make("sensor", OPEN_OHM)
        if hands.contact_kind == steps.OPEN:
            return self._make("open", OPEN_OHM)
        if hands.contact_kind == steps.SHORT:
            return self._make("short", SHORT_OHM)
        return self._make("standin", self.standin_ohm())

    def _source(self) -> tuple[float, float] | None:
        """Open voltage and pull-up of the world's module now, if it says."""
        module = getattr(self._world, "module", None)
        source = getattr(module, "source", None)
        return source() if source else None

    def standin_ohm(self) -> float:
        """What the network is to the module, whether or not it is connected. [ohm]"""
        hands = self._hands
        source = self._source()
        one = getattr(self._truth, "one", None)
        if source and one:
            return float(one(hands.codes, hands.out, hands.hot_branches, *source)[1])
        codes, out = np.array(hands.codes), np.array(hands.out)
        return float(self._truth.ohm(codes, out, hands.hot_branches, self.node_v))
