"""Questions and answers with one board: one at a time, each heard or said to be unheard.

Every command is followed by the board's own verdict (``SYSTem:ERRor?``), so that a refusal is
raised where it was earned: :class:`Refused` when the board would not, :class:`BoardFault` when it
is tripped or broken, :class:`LinkTrouble` when it does not answer.
"""

from __future__ import annotations

import time

from locum.errors import LinkTrouble, Remark
from locum.link.answers import refusal_of
from locum.link.clock import Clock
from locum.link.conversation import Conversation, command
from locum.link.transports import Transport

ANSWER_S = 2.0
"""Longest wait for an answer; the slowest on a Pico is a plan's check, well under a second."""
LEFT_OVERS_S = 1.0
"""So long is listened for what a half talk may have left; a device that never stops is not ours."""


class Talk:
    """The talking half of a board.

    Parameters
    ----------
    transport : Transport
        Where it is.
    clock : Clock
        Time to wait by between polls of a running measurement.
    """

    steady_s = staticmethod(time.monotonic)
    """Time by which silence is told; a test puts its own in."""

    def __init__(self, transport: Transport, clock: Clock) -> None:
        self.transport = transport
        self.clock = clock
        self._conversation = Conversation()
        self.round_trip_ms = 0
        """Of the last question, for fitting the board's clock to UTC."""

    def ask(self, header: str, *arguments: object) -> str | bytes:
        """Send a query and return its answer. Raises LinkTrouble after 2 s of silence."""
        began = self.steady_s()
        self.transport.write(command(header, *arguments))
        answer = self._answer(header)
        self.round_trip_ms = round((self.steady_s() - began) * 1000)
        return answer

    def tell(self, header: str, *arguments: object, payload: bytes | None = None) -> None:
        """Send a command and hear whether it was taken; raises Refused if not."""
        self.transport.write(command(header, *arguments, payload=payload) + b"SYST:ERR?\n")
        verdict = self._text(self._answer(header))
        if not verdict.startswith("0,"):
            rest = self.errors()
            raise refusal_of(header, [verdict, *rest])

    def touch(self) -> None:
        """An empty line: the board hears that its host is there, and answers nothing."""
        self.transport.write(b"\n")

    def _answer(self, header: str) -> str | bytes:
        deadline = self.steady_s() + ANSWER_S
        while True:
            answer = self._conversation.maybe_answer()
            if answer is not None:
                return answer
            left = deadline - self.steady_s()
            if left <= 0:
                raise self._silent(header)
            self._conversation.feed(self.transport.read(min(left, 0.1)))

    def _silent(self, header: str) -> LinkTrouble:
        self._conversation.clear()
        return LinkTrouble(
            Remark(
                code="no_answer",
                where=self.transport.name,
                wanted=f"an answer to {header}",
                found=f"silence for {ANSWER_S:g} s",
                remedy="unplug the board and plug it in again; at rest the real sensor is connected",
            )
        )

    def _text(self, answer: str | bytes) -> str:
        if isinstance(answer, bytes):
            raise LinkTrouble(
                Remark(code="not_our_protocol", wanted="a line", found="a block of bytes")
            )
        return answer

    def _numbers(self, header: str, *arguments: object) -> list[int]:
        text = self._text(self.ask(header, *arguments))
        try:
            return [int(field) for field in text.split(",")]
        except ValueError:
            raise LinkTrouble(
                Remark(code="not_our_protocol", wanted=f"numbers from {header}", found=text[:60])
            ) from None

    def resynchronise(self) -> None:
        """Drop what half a talk may have left; the next answer is to the next question."""
        self.transport.write(b"\n")
        until = self.steady_s() + LEFT_OVERS_S
        while self.transport.read(0.05) and self.steady_s() < until:
            pass
        self._conversation.clear()

    def errors(self) -> list[str]:
        """Empty the board's error queue; ``number,"text"`` each, oldest first."""
        found = []
        while len(found) < 40:
            entry = self._text(self.ask("SYST:ERR?"))
            if entry.startswith("0,"):
                break
            found.append(entry)
        return found
