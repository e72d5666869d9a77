"""Writes raw blocks down before anything interprets them.

The rules, in order of weight:

1. What the board handed over is kept verbatim and in order, whether or not it makes sense.
2. It is committed within ``COMMIT_MS`` of wall time or of board time, whichever is sooner, so a
   killed process loses less than a second; every ``DURABLE_MS`` the commit also waits for the
   disk, so a power cut loses less than that.
3. If the casebook cannot be written (full disk, locked file), blocks wait in memory, ``trouble``
   says why, and it is tried again every ``COMMIT_MS``. Only when ``LARGEST_WAITING`` bytes wait is
   ``FileTrouble`` raised, for the drive must then end.
4. A gap is written as a gap. Nothing is filled in.

The recorder never waits and starts no thread: call ``take`` (also with no blocks) at least four
times a second.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from locum.casebook.store import Store
from locum.errors import FileTrouble, Remark

COMMIT_MS = 500
"""Half of the second that may be lost, so that a slow commit or poll still stays within it."""
DURABLE_MS = 10_000
"""A commit that waits for the disk costs 1-30 ms on a laptop; every ten seconds is unnoticed."""
LARGEST_WAITING = 64 * 2**20
"""About two days of record: enough to free some space, little against a laptop's memory."""


class WallClock(Protocol):
    """What the recorder needs of ``link.clock.Clock``."""

    def now_s(self) -> float: ...


class Recorder:
    """The writing side of one drive."""

    def __init__(self, store: Store, drive_id: str, clock: WallClock) -> None:
        self.store = store
        self.drive_id = drive_id
        self.saved_until_ms = 0
        """Board time up to which everything handed over is in the casebook."""
        self.blocks = 0
        """Blocks committed."""
        self.lost = 0
        """Records known to be lost."""
        self.trouble: Remark | None = None
        """Why the casebook cannot be written just now; None while all is well."""
        self._clock = clock
        self._waiting: list[bytes] = []
        self._readings: list[tuple[int, int, float]] = []
        self._gaps: list[tuple[int, int, int, str]] = []
        self._board_ms = 0
        self._last_s = clock.now_s()
        self._last_durable_s = self._last_s

    def take(self, blocks: Sequence[bytes], until_ms: int | None = None) -> None:
        """Hand over what the board gave, in order; call it with an empty list as well.

        ``until_ms`` is the board time the blocks reach; without it, the time last ``heard``.

        Raises
        ------
        FileTrouble
            If the casebook could not be written for so long that memory runs out.
        """
        self._waiting.extend(bytes(block) for block in blocks)
        if until_ms is not None:
            self._board_ms = max(self._board_ms, int(until_ms))
        now_s = self._clock.now_s()
        due = (now_s - self._last_s) * 1000.0 >= COMMIT_MS
        # While the file cannot be written, only the wall clock paces the tries: one may take long.
        due = due or (not self.trouble and self._board_ms - self.saved_until_ms >= COMMIT_MS)
        if due:
            self._commit(now_s, (now_s - self._last_durable_s) * 1000.0 >= DURABLE_MS)

    def heard(self, board_ms: int, utc_ms: int, round_trip_ms: float) -> None:
        """A clock reading: the board said ``board_ms`` when the computer's clock, at the middle
        between question and answer, stood at ``utc_ms``."""
        self._board_ms = max(self._board_ms, int(board_ms))
        self._readings.append((int(board_ms), int(utc_ms), float(round_trip_ms)))

    def gap(self, t_ms: int, until_ms: int, lost: int = 0, why: str = "") -> None:
        """Record is missing between two board times; ``lost`` records by sequence numbers."""
        self.lost += int(lost)
        self._gaps.append((int(t_ms), int(until_ms), int(lost), why))

    def save(self) -> None:
        """Commit everything now and wait for the disk. ``FileTrouble`` if it cannot be done; what
        waits is kept, and ``save`` can be called again."""
        self._commit(self._clock.now_s(), durable=True)
        if self.trouble:
            raise FileTrouble(self.trouble)

    def end(self, how: str = "done") -> None:
        """Save, and close the drive and its open stretch."""
        self.save()
        self.store.end_drive(self.drive_id, how, self._board_ms)

    @property
    def waiting_bytes(self) -> int:
        """Handed over and not yet committed."""
        return sum(map(len, self._waiting))

    def _commit(self, now_s: float, durable: bool) -> None:
        # An empty commit would still open a transaction and, durable, spin up the disk.
        if self._waiting or self._readings or self._gaps:
            try:
                self.blocks = self.store.append(
                    self.drive_id, self._waiting, self._readings, self._gaps, full=durable
                )
            except FileTrouble as error:
                self._failed(error)
                return
            self._waiting, self._readings, self._gaps = [], [], []
        self.trouble = None
        self.saved_until_ms = self._board_ms
        self._last_s = now_s
        if durable:
            self._last_durable_s = now_s

    def _failed(self, error: FileTrouble) -> None:
        first = error.remarks[0]
        self.trouble = Remark(
            "recording_waits",
            first.where,
            "to write the recording down",
            first.found,
            f"free some space or close what holds the file; {self.waiting_bytes / 1024:.0f} kB "
            "wait in memory and are written as soon as it can be done",
        )
        self._last_s = self._clock.now_s()
        if self.waiting_bytes > LARGEST_WAITING:
            raise error
