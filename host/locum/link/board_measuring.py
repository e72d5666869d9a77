"""A board that measures itself: averaged readings at rest, its calibration, its self-test."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from locum.errors import BoardFault, Remark
from locum.link.answers import OhmReading
from locum.link.talk import Talk


class Measuring(Talk):
    """The readings of a connected board at rest."""

    def measure_ohm(
        self, words: Sequence[int], hot: int, range_number: int, count: int = 64
    ) -> OhmReading:
        """One reading for the self-calibration, at rest: the network set so, one range on.

        Waits by the clock until the averages (``count`` readings with the range on, as many with
        it off) are there.
        """
        self.tell("DIAG:MEAS", *words, hot, range_number, count)
        for _ in range(1000):
            busy, on_sum, off_sum, done = self._numbers("DIAG:MEAS?")
            if not busy:
                return OhmReading(on_sum, off_sum, done)
            self.clock.wait(max(0.002, count * 0.002))
        raise BoardFault(
            Remark(
                code="measurement_hangs",
                wanted="an averaged reading",
                found="the board is still busy",
                remedy="run `locum checkup`",
            )
        )

    def measure_many(
        self, settings: Iterable[tuple[Sequence[int], int, int]], count: int = 64
    ) -> list[OhmReading]:
        """Readings of many ``(words, hot, range_number)`` in turn."""
        return [self.measure_ohm(words, hot, number, count) for words, hot, number in settings]

    def store_calibration(self, payload: bytes) -> None:
        """Keep a calibration block (opaque to the board, CRC-32 at its end) in its flash."""
        self.tell("CAL:DATA", payload=payload)

    def calibration(self) -> bytes:
        """The stored calibration block; empty if there is none."""
        answer = self.ask("CAL:DATA?")
        return answer if isinstance(answer, bytes) else b""

    def self_test(self) -> tuple[bool, str]:
        """``*TST?`` and what it says."""
        passed = self._text(self.ask("*TST?")).strip() == "0"
        return passed, self._text(self.ask("DIAG:TEST?")).strip('"')
