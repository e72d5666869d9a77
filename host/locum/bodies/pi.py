"""A Raspberry Pi as a body: the engine's hands on the header's pins, by gpiozero's public interface.

The player runs in a thread of its own, once a millisecond as far as Linux lets it: gaps of 1 to
30 ms happen, every bucket counts its readings, and steps may be a gap late. That is what the Pico
is better at. The real sensor is safe all the same: the coil's pump is toggled by this program, so
a crash, a hang or ``kill -9`` lets go within 250 ms, and Linux leaving a pin as it was does not
matter.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import gpiozero

from locum import locations
from locum.bodies.pace import Pace, Reached
from locum.bodies.pi_hands import PiHands
from locum.errors import BoardFault, LinkTrouble, Remark
from locum_board.engine import Engine

PERIOD_S = 0.001
TICKS = 1 << 30


class PiBody:
    """The engine on a Pi: bytes in and out, and a thread that plays."""

    def __init__(
        self, hands: PiHands, now_ms: Callable[[], int] | None = None, thread: bool = True
    ) -> None:
        self.hands = hands
        self._now_ms = now_ms or (lambda: int(time.monotonic() * 1000) % TICKS)
        self._lock = threading.Lock()
        self._stop = threading.Event()
        self.engine = Engine(hands, self._now_ms())
        self.trouble: BaseException | None = None
        self.pace = Pace()
        self._thread = threading.Thread(target=self._play, name="player", daemon=True)
        if thread:
            self._thread.start()

    def receive(self, data: bytes) -> bytes:
        with self._lock:
            self._check()
            return self.engine.receive(data, self._now_ms())

    def turn(self) -> bytes:
        """What the board has to say by itself (an ``*OPC?`` that waited)."""
        with self._lock:
            self._check()
            return self.engine.poll(self._now_ms())

    def advance(self) -> None:
        """One beat of the player; the thread's work, or a test's."""
        with self._lock:
            self.engine.advance(self._now_ms())

    def _play(self) -> None:
        due = time.monotonic()
        try:
            while not self._stop.is_set():
                self.advance()
                self.pace.beat(time.monotonic())
                due = max(due + PERIOD_S, time.monotonic() - 0.05)
                time.sleep(max(0.0, due - time.monotonic()))
        except BaseException as trouble:  # the real sensor first, then tell whoever asks next
            self.trouble = trouble
            self.hands.rest_now()

    def _check(self) -> None:
        if self.trouble is not None:
            raise BoardFault(
                Remark(
                    "board_fault",
                    "pi",
                    "a board at work",
                    f"{type(self.trouble).__name__}: {self.trouble}",
                    "the real sensor is connected; run 'locum checkup --board pi'",
                )
            )

    def close(self) -> None:
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(timeout=1.0)
        self.hands.close()


def open_pi(board_sheet: dict[str, Any], factory: Any = None) -> PiBody:
    """This computer's own pins. Raises LinkTrouble if it has none or its bus is off."""
    folder = locations.data_folder() / "pi"
    if factory is None:
        factory = _native_factory()
    try:
        return PiBody(PiHands(board_sheet, factory, folder))
    except gpiozero.GPIOZeroError as trouble:
        raise LinkTrouble(
            Remark(
                "pins",
                "pi",
                "the header's pins for ourselves",
                str(trouble),
                "end other programs that use the pins, then try again",
            )
        ) from trouble


def reached_here(
    board_sheet: dict[str, Any],
    seconds: float = 2.0,
    factory: Any = None,
    wait: Callable[[float], None] = time.sleep,
) -> Reached:
    """The rate this computer's player reaches at rest, the real sensor connected throughout.

    Raises LinkTrouble if there are no pins, or another program (one that stands in) has them.
    """
    body = open_pi(board_sheet, factory)
    try:
        wait(seconds)
        body.receive(b"")  # a player that ended by a fault is told, not counted
        return body.pace.reached()
    finally:
        body.close()


def _native_factory() -> Any:
    """lgpio or nothing: the library would fall through to slower ones with a mere warning."""
    try:
        from gpiozero.pins.lgpio import LGPIOFactory

        return LGPIOFactory()
    except ImportError as trouble:
        raise LinkTrouble(
            Remark(
                "no_pins",
                "pi",
                "the library lgpio",
                "none installed",
                "on a Raspberry Pi run: pip install 'locum[pi]'",
            )
        ) from trouble
    except Exception as trouble:  # lgpio raises its own kind for "no such chip"
        raise LinkTrouble(
            Remark(
                "not_a_pi",
                "pi",
                "a Raspberry Pi's header",
                f"this is not a Raspberry Pi, or its pins are not to be had ({trouble})",
                "use a Pico on a USB port, or --board virtual",
            )
        ) from trouble
