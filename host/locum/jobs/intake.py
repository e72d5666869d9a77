"""The record as it comes in: written down first, then decoded and reviewed, never the other way round.

Nothing here waits or asks what the board is doing. A link that breaks half way takes none of the
blocks that came; what makes no sense is written down all the same.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np

from locum.jobs.calibrated import maybe_board_c
from locum.link.answers import Status
from locum.link.board import Board
from locum.recording.blocks import read_block
from locum.recording.decode import Decoder
from locum.recording.recorder import Recorder
from locum.review import stream
from locum.review.chunk import (
    MARK,
    MARK_BRAKE,
    MARK_FELT,
    MARK_FOOT,
    MARK_KEY,
    MARK_NOT_FELT,
    MARK_ROAD,
    Chunk,
)
from locum.review.findings import Findings, joined

MARK_KINDS = {"key": MARK_KEY, "foot": MARK_FOOT, "brake": MARK_BRAKE, "road": MARK_ROAD,
              "felt": MARK_FELT, "not_felt": MARK_NOT_FELT}  # fmt: skip


class Intake:
    """Between a board's memory and what is known of one recording.

    Parameters
    ----------
    recorder : Recorder
        Writes blocks down.
    context : Context
        What review needs to know of the circuit.
    """

    def __init__(self, recorder: Recorder, context) -> None:
        self.recorder = recorder
        self.board_c: float | None = None
        """The board's own temperature, last told; None before, or without a thermometer. [degC]"""
        self._decoder = Decoder()
        self._review = stream.start(context)
        self._parts: list[Findings] = []
        self._marks_due: list[tuple[int, int, int]] = []

    @property
    def now_ms(self) -> int:
        """Board time since the recording began, as far as it came in. [ms]"""
        return self._decoder.until_ms

    def open(self, board: Board) -> None:
        """Hear where the record begins: from then on nothing of it can be missing unseen."""
        block = board.record_block()
        chunk = self._decoder.feed(block)
        if len(read_block(block).slots):
            self.recorder.take([block], self.now_ms)
        self.keep(self._reviewed(chunk))

    def take(self, board: Board, status: Status, utc: datetime) -> Findings:
        """Drain, write down, review. ``status`` is what the board answered just before, at ``utc``."""
        round_trip_ms = board.round_trip_ms  # of the question that status answers
        utc_ms = int(utc.timestamp() * 1000 - round_trip_ms / 2)
        blocks: list[bytes] = []
        try:
            board.drain(blocks)
        finally:
            try:
                chunk = self._decoder.feed_many(blocks)
            finally:
                heard_ms = self._decoder.maybe_ms(status.t_ms)
                if heard_ms is not None:
                    self.recorder.heard(heard_ms, utc_ms, round_trip_ms)
                self.recorder.take(blocks, self.now_ms)
        return self._reviewed(chunk)

    def mark(self, t_ms: int, kind: str, ago_ms: int) -> None:
        """A mark that review is to see once the record has come so far."""
        if kind in MARK_KINDS:
            self._marks_due.append((t_ms, MARK_KINDS[kind], ago_ms))

    def keep(self, found: Findings) -> None:
        """Add to what was found."""
        self._parts.append(found)

    @property
    def findings(self) -> Findings:
        """Everything found so far."""
        if len(self._parts) > 1:
            self._parts = [joined(self._parts)]
        return self._parts[0] if self._parts else Findings()

    def finish(self) -> Findings:
        """No more will come: what was still open is closed; everything found."""
        self._parts += [self._reviewed(self._decoder.finish()), stream.finish(self._review)]
        return self.findings

    def _reviewed(self, chunk: Chunk) -> Findings:
        for gap in chunk.gaps:
            self.recorder.gap(int(gap["t_ms"]), int(gap["until_ms"]), int(gap["lost"]), "overrun")
        due = [m for m in self._marks_due if m[0] < chunk.end_ms]
        if due:
            self._marks_due = [m for m in self._marks_due if m[0] >= chunk.end_ms]
            rows = np.concatenate((chunk.marks, np.array(due, MARK)))
            rows["t_ms"] = np.maximum(rows["t_ms"], chunk.start_ms)
            chunk = replace(chunk, marks=np.sort(rows, order="t_ms"))
        told_c = maybe_board_c(chunk)
        self.board_c = self.board_c if told_c is None else told_c
        self._review, found = stream.step(self._review, chunk)
        return found
