"""Which disturbances of the sensor line a module answers."""

from __future__ import annotations

from random import Random

from .module import Module
from .module_facts import ModuleFacts
from .sensor import table_ohm

WARM_C = 88.0


class _Ear:
    """Listens to one module; feeds it anew when its pull-up changes."""

    def __init__(self) -> None:
        self.released = False
        self.module: Module | None = None
        self.ohm = 0.0

    def on_clutch(self, t_ms: int, on: bool, reason: str) -> None:
        self.released |= not on

    def on_fan(self, t_ms: int, on: bool) -> None:
        pass

    def on_pulse(self, t_ms: int) -> None:
        pass

    def on_stage(self, t_ms: int) -> None:
        self.put(t_ms, self.ohm, fresh=True)

    def put(self, t_ms: int, ohm: float, fresh: bool = False) -> None:
        assert self.module is not None
        self.ohm = ohm
        open_v, pull_up_ohm = self.module.source()
        self.module.feed(t_ms, open_v * ohm / (ohm + pull_up_ohm), fresh)

    def run(self, until_ms: int) -> None:
        assert self.module is not None
        while self.module.next_ms < until_ms:
            self.module.at(self.module.next_ms)


def answers(facts: ModuleFacts, length_s: float, ohm: float, warm_ohm: float) -> bool:
    """Whether a warm, locked module gives up the clutch when its input becomes ``ohm`` for a time.

    ``ohm`` is the whole resistance on the input meanwhile, ``warm_ohm`` before and after. [ohm]
    """
    ear = _Ear()
    ear.module = module = Module(facts, Random(0), ear)
    ear.put(0, warm_ohm, fresh=True)
    module.reason(0, "speed", False)
    ear.run(60_000)
    assert module.locked, "a warm module must lock before it can be asked"
    ear.put(60_000, ohm)
    end_ms = 60_000 + round(1000 * length_s)
    ear.run(end_ms)
    ear.put(end_ms, warm_ohm)
    ear.run(end_ms + round(1000 * (facts.delay_s * 2 + facts.confirm_s + 5)))
    return ear.released


def shortest_answered_s(
    facts: ModuleFacts, residual_ohm: float = 1e7, warm_c: float = WARM_C
) -> float:
    """Shortest break (``residual_ohm`` in series with a warm sensor) that is answered, to 1 ms.

    inf if not even 10 s are.
    """
    warm_ohm = table_ohm(warm_c)
    ohm = warm_ohm + residual_ohm
    low_ms, high_ms = 0, 10_000
    if not answers(facts, high_ms / 1000, ohm, warm_ohm):
        return float("inf")
    while high_ms - low_ms > 1:
        middle = (low_ms + high_ms) // 2
        if answers(facts, middle / 1000, ohm, warm_ohm):
            high_ms = middle
        else:
            low_ms = middle
    return high_ms / 1000
