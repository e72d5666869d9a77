"""A board as the jobs see it: verbs in, facts out, plain words when something is wrong.

Nothing here waits for anything but an answer; how questions are asked stands in ``talk.py``, what the
board keeps to by itself in ``board_settings.py``, its readings at rest in ``board_measuring.py``.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

from locum.errors import LinkTrouble, Remark
from locum.link.answers import (
    Abilities,
    Identity,
    OhmReading,
    Status,
    ascii_name,
    parse_identity,
    parse_status,
)
from locum.link.board_measuring import Measuring
from locum.link.board_settings import Settable
from locum.link.clock import Clock
from locum.link.transports import Transport
from locum_board import steps

__all__ = ["Abilities", "Board", "Identity", "OhmReading", "Status"]

FEWEST_SLOTS = 100
"""No board sends fewer record slots in a block while more are waiting."""


class Board(Settable, Measuring):
    """A connected board; built from its link and a clock to wait by (see ``talk.Talk``)."""

    def __init__(self, transport: Transport, clock: Clock) -> None:
        super().__init__(transport, clock)
        self._parts: deque[bytes] = deque()
        self.identity: Identity | None = None
        self.plan_crc: int | None = None
        """Of the plan we sent; None: none was."""
        self.plan_runs_on = False
        """That plan goes on when the computer is silent."""
        self.tethered = False
        """Somebody looks for the board when its link is lost: ways home are remembered then."""
        self.wish = ""
        """The way home that was asked for while the link was lost."""

    # -- who it is, what it does -----------------------------------------------------------------

    def identify(self) -> Identity:
        """Ask who is there, after dropping what half a talk may have left.

        Raises LinkTrouble if it is not a board of ours or speaks a newer major protocol.
        """
        self.resynchronise()
        self.identity = parse_identity(self._text(self.ask("*IDN?")), self.transport.name)
        self.errors()
        return self.identity

    def abilities(self) -> Abilities:
        bits, wipers, lines, bucket, full, *ranges = self._numbers("DIAG:CONF?")
        return Abilities(bits, wipers, lines, bucket, full, (ranges[0], ranges[1], ranges[2]))

    def fetch(self) -> Status:
        """What the board is doing now. Also sends the next waiting part of a long plan."""
        answer = self._numbers("FETC?")
        status = parse_status(answer)
        if self._parts and status.parts_free > 0:
            self.append_plan(self._parts.popleft())
        return status

    def drain(self, blocks: list[bytes] | None = None) -> list[bytes]:
        """All record that waits on the board, as blocks for the recorder and the decoder.

        They are added to ``blocks``, so that a link lost half way takes none of those that came.
        """
        blocks = [] if blocks is None else blocks
        for _ in range(64):
            answer = self.record_block()
            count = int.from_bytes(answer[36:38], "little")
            if count:
                blocks.append(answer)
            if count < FEWEST_SLOTS:
                break
        return blocks

    def record_block(self) -> bytes:
        """One block of what waits; an empty one still says where the record is."""
        answer = self.ask("TRAC:DATA?")
        if isinstance(answer, str):
            raise LinkTrouble(
                Remark(code="not_our_protocol", wanted="a block of record", found=answer[:60])
            )
        return answer

    def node_0v1mv(self) -> int:
        """Node voltage, mean of the last bucket. [0.1 mV]"""
        return self.fetch().node_0v1mv

    def record_lasts_s(self) -> tuple[int, int]:
        """How long an empty record lasts if nobody fetches it: nothing moving, and at the busiest. [s]"""
        _, quiet_s, busiest_s = self._numbers("TRAC:TIME?")
        return quiet_s, busiest_s

    def clear_record(self) -> None:
        """Forget what was recorded so far: a drive starts here."""
        self.tell("TRAC:CLE")

    # -- what the module sees --------------------------------------------------------------------

    def upload_plan(self, plan: bytes | Sequence[bytes], name: str = "plan") -> None:
        """Put a plan on board: one block, or all parts of a longer one.

        The first two parts go now; the rest are sent by :meth:`fetch` as buffers come free.
        """
        parts = [plan] if isinstance(plan, bytes | bytearray) else list(plan)
        self._parts.clear()
        self.tell("LIST:DATA", payload=parts[0])
        self.plan_crc = int.from_bytes(parts[0][-4:], "little")
        self.plan_runs_on = bool(parts[0][3] & steps.RUN_ON_SILENCE)
        self.tell("LIST:NAME", f'"{ascii_name(name)}"')
        if len(parts) > 1:
            self.append_plan(parts[1])
        self._parts.extend(parts[2:])

    def append_plan(self, part: bytes) -> None:
        """Send the next part of the plan on board, also while it runs."""
        self.tell("LIST:DATA:APP", payload=part)

    def upload_ladder(self, ladder: bytes) -> None:
        self.tell("LADD:DATA", payload=ladder)

    def set_codes(
        self,
        words: Sequence[int],
        hot: int = 0,
        node_half_mv: int = 0xFFFF,
        tolerance: int = 0,
        milliohm: int = -1,
    ) -> None:
        """Set the network: four wiper words of ``locum_board.steps``. At rest this makes ready."""
        self.tell("SOUR:CODE", *words, hot, node_half_mv, tolerance, milliohm)

    def set_resistance(self, ohm: float) -> float:
        """The nearest rung of the ladder; returns the ohms really set. [ohm]"""
        self.tell("SOUR:RES", f"{ohm:.3f}")
        return float(self._text(self.ask("SOUR:RES?")))

    def stand_in(self) -> None:
        """The module gets the stand-in at the value set (OUTPut ON)."""
        self.tell("OUTP ON")

    def run(self) -> None:
        """Run the plan on board."""
        self.tell("INIT")

    def follow(self) -> None:
        """Copy the real sensor, glitches left out."""
        self.tell("SOUR:FOLL ON")

    def open_(self, milliseconds: int = 0) -> None:
        """Open the module's line; 0 = until told otherwise, else 1..60000."""
        self.tell("SOUR:CONT OPEN," + str(milliseconds))

    def short_(self, milliseconds: int = 0) -> None:
        """Short the module's line to its return; 0 = until told otherwise, else 1..60000."""
        self.tell("SOUR:CONT SHOR," + str(milliseconds))

    def through(self) -> None:
        """The network again, after open or short."""
        self.tell("SOUR:CONT THR")

    def abort(self) -> None:
        """Hold the present value."""
        self._parts.clear()
        self.tell("ABOR")

    def ease_back(self) -> None:
        """Walk to the real sensor's value, then rest: the normal end."""
        self._go_home("OUTP:RET")

    def real_sensor_now(self) -> None:
        """At once, whatever runs."""
        self._go_home("OUTP OFF")

    def _go_home(self, order: str) -> None:
        """Where somebody looks for a lost board, the wish is kept for when it answers again."""
        self._parts.clear()
        try:
            self.tell(order)
        except LinkTrouble:
            if not self.tethered:
                raise
            if self.wish != "OUTP OFF":
                self.wish = order

    def attach(self, transport: Transport, identity: Identity) -> None:
        """Go on over another link: the board was found again."""
        self.transport = transport
        self.identity = identity
        self.resynchronise()

    def grant_wish(self) -> str:
        """Send the way home that was asked for while the board was lost; which, or empty."""
        order, self.wish = self.wish, ""
        if order:
            self.tell(order)
        return order

    def clear_trip(self) -> None:
        """Release a latched trip; the board goes to rest."""
        self.tell("OUTP:PROT:CLE")

    def plan_on_board(self) -> tuple[str, int, str]:
        """Name, steps and CRC of the plan on board, to adopt a running one."""
        name = self._text(self.ask("LIST:NAME?")).strip('"')
        return name, self._numbers("LIST:POIN?")[0], self._text(self.ask("LIST:CRC?"))

    def close(self) -> None:
        self.transport.close()
