"""The plan: a profile compiled for one board, one sensor and one module, in whole numbers.

A plan is made by :func:`locum.planning.compile.compile_plan` and never changed. What could be
wrong with it stands in ``refusals`` (it may not be run) and ``warnings`` (it may).
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field

import numpy as np

from locum.errors import Remark
from locum.physics.choose import Choice
from locum_board.steps import (
    APPENDED,
    CONTACT_SHIFT,
    EASE_BACK_AT_END,
    MAX_STANDING_S,
    MAX_STEPS,
    OUT,
    RANK_SHIFT,
    REPEAT,
    RUN_ON_SILENCE,
    TOLERANCE_SHIFT,
    plan_block,
)

GRACE_S = 60
"""A plan may stand in for its own length and this much longer. [s]"""


@dataclass(frozen=True)
class Loop:
    """Rows ``start`` to ``stop`` (not included) are played ``times`` times in a row."""

    start: int
    stop: int
    times: int


@dataclass(frozen=True)
class Plan:
    """Steps for one board, sensor and module, with what they have earned. Arrays have one row a step."""

    name: str
    celsius: np.ndarray
    """What each step stands for. [degC]"""
    target_ohm: np.ndarray
    choice: Choice
    dwell_ms: np.ndarray
    contact: np.ndarray
    """0 through, 1 open, 2 short."""
    node_half_mv: np.ndarray
    """Expected node voltage, 0.5 mV."""
    tolerance: np.ndarray
    """Tolerance class of the self-check (``locum_board.steps``), 0 = not checked."""
    loops: tuple[Loop, ...] = ()
    network_id: int = 0
    on_silence: str = "return"
    resolution_c: float = 0.05
    start_c: float = 0.0
    worst_error_c: float = 0.0
    """Set ohms against the ohms each step was made for. [K]"""
    rms_error_c: float = 0.0
    worst_hold_c: float = 0.0
    """The same plus what the resolution adds. [K]"""
    worst_excursion_c: float = 0.0
    """Furthest the line is off while wipers move one after another. [K]"""
    worst_branch_ma: float = 0.0
    expanded_u_c: float | None = None
    """Expanded uncertainty (k = 2) of the worst step, where the board is calibrated. [K]"""
    refusals: list[Remark] = field(default_factory=list)
    warnings: list[Remark] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.celsius)

    @property
    def repeats(self) -> np.ndarray:
        """How often each row is played."""
        counts = np.ones(len(self), np.int64)
        for loop in self.loops:
            counts[loop.start : loop.stop] = loop.times
        return counts

    @property
    def seconds(self) -> float:
        """Length with all repeats. [s]"""
        return float((self.dwell_ms * self.repeats).sum()) / 1000

    @property
    def ok(self) -> bool:
        """Whether the plan may be run."""
        return not self.refusals

    @property
    def standing_s(self) -> int:
        """Longest time away from the real sensor that goes with the plan. [s]"""
        return int(min(self.seconds + GRACE_S, MAX_STANDING_S))

    def rows(self) -> np.ndarray:
        """The steps of the wire, uint16 [n, 7], repeat controls included."""
        c = self.choice
        wipers = c.codes.astype(np.uint16) | (c.rank.astype(np.uint16) << RANK_SHIFT)
        wipers = np.where(c.out, wipers | OUT, wipers)
        flags = (
            c.hot.astype(np.uint16)
            | (self.contact.astype(np.uint16) << CONTACT_SHIFT)
            | (self.tolerance.astype(np.uint16) << TOLERANCE_SHIFT)
        )
        columns = [self.dwell_ms.astype(np.uint16), *wipers.T, self.node_half_mv, flags]
        steps = np.column_stack(columns).astype(np.uint16)
        for loop in reversed(self.loops):
            control = [0, loop.stop - loop.start, loop.times - 1, 0, 0, 0, REPEAT]
            if loop.times > 1:
                steps = np.insert(steps, loop.stop, control, axis=0)
        return steps

    @property
    def plan_id(self) -> int:
        """CRC-32 of the steps of the wire."""
        return zlib.crc32(self.rows().tobytes())

    def blocks(self) -> list[bytes]:
        """The plan in blocks of at most 2,000 steps; no repeat reaches across two of them."""
        rows = self.rows()
        cuts = self._cuts(rows)
        plan_id = zlib.crc32(rows.tobytes())
        base = EASE_BACK_AT_END | (RUN_ON_SILENCE if self.on_silence == "finish" else 0)
        blocks = []
        for part, (start, stop) in enumerate(zip(cuts[:-1], cuts[1:], strict=True)):
            blocks.append(
                plan_block(
                    rows[start:stop].astype("<u2").tobytes(),
                    plan_id=plan_id,
                    part=part,
                    first_step=start,
                    total_steps=len(rows),
                    flags=base | (APPENDED if part else 0),
                    standing_s=max(self.standing_s, 1),
                    network_id=self.network_id & 0xFFFFFFFF,
                )  # fmt: skip
            )
        return blocks

    def _cuts(self, rows: np.ndarray) -> list[int]:
        """Where blocks begin and end: as long as may be, never inside a loop."""
        controls = np.flatnonzero(rows[:, 6] & REPEAT)
        inside = np.zeros(len(rows) + 1, bool)
        for at in controls:
            inside[at - int(rows[at, 1]) + 1 : at + 1] = True
        cuts = [0]
        while cuts[-1] < len(rows):
            cut = min(cuts[-1] + MAX_STEPS, len(rows))
            while inside[cut]:
                cut -= 1
            cuts.append(cut)
        return cuts

    def as_json(self) -> dict:
        """The fields of ``profile check``."""
        return {
            "name": self.name, "ok": self.ok, "steps": len(self), "seconds": self.seconds,
            "worst_error_c": self.worst_error_c, "rms_error_c": self.rms_error_c,
            "worst_hold_c": self.worst_hold_c, "worst_excursion_c": self.worst_excursion_c,
            "worst_branch_ma": self.worst_branch_ma, "expanded_u_c": self.expanded_u_c,
            "refusals": [r.as_json() for r in self.refusals],
            "warnings": [w.as_json() for w in self.warnings],
        }  # fmt: skip
