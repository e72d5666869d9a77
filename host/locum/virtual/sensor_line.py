"""The sensor line at the event level: who sees a disturbance, and does the module answer it."""

from __future__ import annotations

import numpy as np

from .answer import WARM_OHM, Answer, answer_to
from .case import Case, Glitches, Order
from .drawing import Memory
from .event_arrays import only
from .layout import Layout
from .walk import Reason

HOT_OHM = 5.0
"""To the return, of a break that goes towards hot."""


class SensorLine:
    """Collects what node and ohmmeter see, and the reasons that reach the module."""

    def __init__(self, case: Case, order: Order, layout: Layout, reasons: list[Reason]) -> None:
        self.memory: Memory = case.memory
        self.truth = case.truth
        self.order = order
        self.layout = layout
        self.reasons = reasons
        self.tapped = order.tap != "none"
        self.break_ohm = WARM_OHM + self.memory.scenario.dropout.residual_ohm
        self.node: list[Glitches] = []
        self.ohm: list[Glitches] = []
        self.injected: tuple[list[float], list[float], list[float]] = ([], [], [])
        """(t_s, length_s, ohm)"""

    def disturb(self, glitches: Glitches, place: str, cause: str) -> None:
        """A place of the sensor circuit leaves its value."""
        real = self.layout.real_at(glitches.t_s)
        upstream = place == "harness" and self.order.tap == "sensor"
        reaching = np.ones(len(real), bool) if upstream else real
        if self.tapped:
            self._seen(glitches, real, reaching, upstream)
        for towards_cold in (True, False):
            these = reaching & (glitches.towards_cold == towards_cold)
            if these.any():
                ohm = self.break_ohm if towards_cold else HOT_OHM
                self.answered(glitches.t_s[these], glitches.length_s[these], ohm, cause)

    def _seen(self, glitches, real: np.ndarray, reaching: np.ndarray, upstream: bool) -> None:
        seen = glitches
        if upstream:
            hot = np.zeros(len(real), bool)
            seen = Glitches(glitches.t_s, glitches.length_s, hot, glitches.residual_ohm)
        self.node.append(seen if reaching.all() else only(seen, reaching))
        if not upstream and not real.all():
            self.ohm.append(only(glitches, ~real))

    def answer(self, ohm: float) -> Answer:
        known = self.memory.answers
        if ohm not in known:
            known[ohm] = answer_to(self.memory.facts, ohm)
        return known[ohm]

    def answered(self, times: np.ndarray, lengths: np.ndarray, ohm: float, cause: str) -> None:
        """Reasons for those that are long enough; all reach the module."""
        answer = self.answer(ohm)
        enough = lengths >= answer.shortest_s
        if not enough.any():
            return
        delay, confirm = self.truth.delay_s, self.truth.confirm_s
        for t, length in zip(times[enough].tolist(), lengths[enough].tolist(), strict=True):
            sure = t + answer.confirmed_s
            self.reasons.append((sure, delay, max(sure, t + length + confirm), cause))

    def inject(self) -> None:
        """The order's own glitches, where a stand-in feeds the module."""
        end_s, confirm = self.order.hours * 3600, self.truth.confirm_s
        times, lengths, ohms = self.injected
        for one in sorted(self.order.injections, key=lambda i: i.at_s):
            masked = one.at_s < end_s and self.layout.connected_at(one.at_s) != "real"
            if not (self.tapped and masked):
                continue
            times.append(one.at_s)
            lengths.append(one.length_s)
            ohms.append(one.ohm)
            answer = self.answer(float(one.ohm))
            if one.length_s >= answer.shortest_s:
                sure = one.at_s + answer.confirmed_s
                end = max(sure, one.at_s + one.length_s + confirm)
                self.reasons.append((sure, self.truth.delay_s, end, "stand_in"))
