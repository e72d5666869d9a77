"""What the board itself did: where readings mean nothing, and which disturbances are ours."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from locum.review.chunk import (
    MOVE_FOLLOW,
    MOVE_OPEN,
    MOVE_RELAY_OFF,
    MOVE_RELAY_ON,
    MOVE_RETURN,
    MOVE_SHORT,
    MOVE_STEP,
    MOVE_THROUGH,
)
from locum.review.findings import Injection
from locum.review.scale import Scale

BEFORE_MS, AFTER_MS = 15, 40
"""Readings this close to a move of our own are left out (bucket of 10 ms, relay, contacts)."""
LEVEL_MOVES = (MOVE_STEP, MOVE_FOLLOW, MOVE_RETURN)
"""Each tells where the node is expected from then on."""
UNKNOWN_0V1MV = 300_000
CONTACT_MOVES = (MOVE_OPEN, MOVE_SHORT, MOVE_THROUGH)
JUMP_K = 3.0
"""A single step larger than this is a disturbance; plans otherwise move by 0.05 K a step."""
STAYS_MS = 30_000
"""A jump not taken back within this time is a new value, not a glitch."""


@dataclass
class Disturbance:
    """A glitch, jump or changeover of our own; ``end_ms`` None while it lasts."""

    t_ms: int
    kind: str
    end_ms: int | None = None
    answered_ms: int | None = None
    ohm: float | None = None
    """What the module saw while it lasted. [ohm]"""

    @property
    def lasts_until_ms(self) -> float:
        """Its end; of a jump never taken back 30 s; infinite for a contact still open."""
        if self.end_ms is not None:
            return self.end_ms
        return self.t_ms + STAYS_MS if self.kind == "step" else math.inf


class OwnMoves:
    """Feed the record's moves in order; ask for guards, expected values and disturbances."""

    def __init__(self, scale: Scale) -> None:
        self._scale = scale
        self.disturbances: list[Disturbance] = []
        self._open: Disturbance | None = None
        self._level_k: float | None = None
        self._before_k = 0.0
        self.sources: list[tuple[int, str]] = []
        self._guards: list[tuple[int, int]] = []
        self._contact_ms: int | None = None
        self._step_t = np.empty(0, "i8")
        self._step_k = np.empty(0)

    def feed(self, moves: np.ndarray) -> None:
        """Moves of one chunk, sorted by time."""
        known = (moves["value"] > 0) & (moves["value"] < UNKNOWN_0V1MV)
        steps = moves[np.isin(moves["kind"], LEVEL_MOVES) & known]
        volts = steps["value"] / 1e4
        steps_k = self._scale.node_kelvin(volts)[0]
        self._step_t = np.concatenate((self._step_t, steps["t_ms"]))
        self._step_k = np.concatenate((self._step_k, steps_k))
        before = np.concatenate(
            ([np.nan if self._level_k is None else self._level_k], steps_k[:-1])
        )
        # A plan's own open or short comes as a contact and a step of the same instant: one thing.
        contacts = moves["t_ms"][np.isin(moves["kind"], CONTACT_MOVES)]
        jumps = (np.abs(steps_k - before) > JUMP_K) & ~np.isin(steps["t_ms"], contacts)
        events = [
            (int(t), "step", float(k))
            for t, k in zip(steps["t_ms"][jumps], steps_k[jumps], strict=True)
        ]
        befores = iter(zip(before[jumps].tolist(), self._ohms(volts[jumps]), strict=True))
        others = moves[moves["kind"] != MOVE_STEP]
        events += [(int(row["t_ms"]), int(row["kind"]), 0.0) for row in others]
        for t_ms, kind, value_k in sorted(events, key=lambda event: event[0]):
            if kind == "step":
                self._jump(t_ms, *next(befores), value_k)
            else:
                self._other(t_ms, int(kind))
        if len(steps_k):
            self._level_k = float(steps_k[-1])

    def _ohms(self, volts: np.ndarray) -> list[float]:
        ohms = (
            self._scale.ohm_from_node(volts) if self._scale.known else np.full(len(volts), np.nan)
        )
        return ohms.tolist()

    def _guard(self, t_ms: int) -> None:
        self._guards.append((t_ms - BEFORE_MS, t_ms + AFTER_MS))

    def _jump(self, t_ms: int, before_k: float, ohm: float | None, value_k: float) -> None:
        if self._contact_ms is not None:
            return
        self._guard(t_ms)
        held = self._open
        if held and held.kind == "step" and t_ms - held.t_ms <= STAYS_MS:
            if abs(value_k - self._before_k) <= JUMP_K:
                held.end_ms = t_ms
                self._open = None
            return
        self._before_k = before_k
        self._begin(t_ms, "step", ohm)

    def _begin(self, t_ms: int, kind: str, ohm: float | None) -> None:
        self._open = Disturbance(t_ms, kind, ohm=ohm)
        self.disturbances.append(self._open)

    def _other(self, t_ms: int, kind: int) -> None:
        if kind in (MOVE_RELAY_ON, MOVE_RELAY_OFF):
            self._guard(t_ms)
            self._close_contact(t_ms)
            self.sources.append((t_ms, "stand_in" if kind == MOVE_RELAY_ON else "real"))
            self.disturbances.append(Disturbance(t_ms, "changeover", t_ms))
            self._level_k = None
        elif kind in (MOVE_OPEN, MOVE_SHORT):
            self._close_contact(t_ms)
            self._contact_ms = t_ms
            if kind == MOVE_OPEN:
                self._begin(t_ms, "open", math.inf)
            else:
                self._begin(t_ms, "short", 0.0)
        elif kind == MOVE_THROUGH:
            self._close_contact(t_ms)

    def _close_contact(self, t_ms: int) -> None:
        if self._open:
            self._open.end_ms = t_ms
            self._open = None
        if self._contact_ms is not None:
            self._guards.append((self._contact_ms - BEFORE_MS, t_ms + AFTER_MS))
            self._contact_ms = None

    def near_relay(self, t_ms: np.ndarray, end_ms: np.ndarray) -> np.ndarray:
        """True for rows close to a changeover; other moves do not reach the ohmmeter."""
        hit = np.zeros(len(t_ms), bool)
        for at_ms, _ in self.sources:
            hit |= (end_ms > at_ms - BEFORE_MS) & (t_ms < at_ms + AFTER_MS)
        return hit

    def spared(self, t_ms: np.ndarray, end_ms: np.ndarray) -> np.ndarray:
        """True for rows that touch a guard or an injection still under way."""
        hit = np.zeros(len(t_ms), bool)
        if self._contact_ms is not None:
            hit |= end_ms > self._contact_ms - BEFORE_MS
        if self._guards:
            guards = np.array(sorted(self._guards))
            ends = np.maximum.accumulate(guards[:, 1])
            index = np.searchsorted(guards[:, 0], end_ms, "left") - 1
            hit |= (index >= 0) & (ends[np.maximum(index, 0)] > t_ms)
        return hit

    def expected_k(self, t_ms: np.ndarray) -> np.ndarray:
        """What the plan expects the node to be on the kelvin scale; 0 before the first step."""
        if len(self._step_t) == 0:
            return np.zeros(len(t_ms))
        index = np.searchsorted(self._step_t, t_ms, "right") - 1
        return np.where(index >= 0, self._step_k[np.maximum(index, 0)], 0.0)

    def forget(self, before_ms: int) -> None:
        """Drop guards, sources and steps that are over and done."""
        self._guards = [guard for guard in self._guards if guard[1] >= before_ms]
        self.sources = [item for item in self.sources if item[0] + AFTER_MS >= before_ms]
        keep = max(int(np.searchsorted(self._step_t, before_ms)) - 1, 0)
        self._step_t, self._step_k = self._step_t[keep:], self._step_k[keep:]

    def answered_or_not(self, before_ms: int) -> list[Injection]:
        """Take out the disturbances that ended before a time; the injections among them."""
        gone = []
        while self.disturbances and self._done(self.disturbances[0], before_ms):
            item = self.disturbances.pop(0)
            if item is self._open:
                self._open = None
            if item.kind != "changeover":
                end_ms = item.t_ms if item.end_ms is None else item.end_ms
                gone.append(
                    Injection(item.t_ms, end_ms - item.t_ms, item.kind, item.answered_ms, item.ohm)
                )
        return gone

    @staticmethod
    def _done(item: Disturbance, before_ms: int) -> bool:
        if item.end_ms is None:
            return item.kind == "step" and item.t_ms + STAYS_MS < before_ms
        return item.end_ms < before_ms
