"""A Raspberry Pi as a body: the engine's hands on the header's pins, by gpiozero's public interface.

The player runs in a thread of its own, once a millisecond as far as Linux lets it: gaps of 1 to
30 ms happen, every bucket counts its readings, and steps may be a gap late. That is what the Pico
is better at. The real sensor is safe all the same: the coil's pump is toggled by this program, so
a crash, a hang or ``kill -9`` lets go within 250 ms, and Linux leaving a pin as it was does not
matter.

Talk may be late, the player may not: no beat waits while talk reads a long block or writes a long
answer. Only what changes something of the player's is done between two beats (``_alone``).
"""

from __future__ import annotations

import sys
import threading
import time
import traceback
from collections.abc import Callable
from typing import Any

from locum import locations
from locum.bodies.pace import PLAYER_FIRST, Pace, Reached, ahead_of_others
from locum.bodies.pi_hands import PiHands
from locum.bodies.pi_pins import Undisturbed
from locum.errors import BoardFault, LinkTrouble, LocumError, Remark
from locum_board.engine import Engine
from locum_board.loading import Loading
from locum_board.queries import Queries
from locum_board.settings import Settings

PERIOD_US = 1000
TICKS = 1 << 30
SWITCH_S = 0.0005
"""A thread that computes gives way to the player after so long; Python's own 5 ms are too long. [s]"""
UNHURRIED = frozenset({
    "append_plan", "get_calibration", "get_calibration_crc", "get_headers", "get_record",
    "load_plan", "recall_plan", "set_calibration", "store_plan",
})  # fmt: skip
"""Talk's methods that may take long. They work on what the player leaves alone (the plan's buffer
that is not played, record that was handed over, files) and give their orders between two beats."""


class PiBody:
    """The engine on a Pi: bytes in and out for one talker, and a thread that plays.

    Parameters
    ----------
    hands : PiHands
        The pins.
    now_us : callable
        A clock that only goes forward, in microseconds; a test's, or the computer's.
    thread : bool
        Whether to play at all; without it :meth:`advance` is called by whoever tests.
    """

    def __init__(
        self, hands: PiHands, now_us: Callable[[], int] | None = None, thread: bool = True
    ) -> None:
        self.hands = hands
        self._now_us = now_us or (lambda: time.monotonic_ns() // 1000)
        self._beats = threading.RLock()
        self._stop = threading.Event()
        hands.now_us = self._now_us
        hands.between_beats = self._between_beats
        self._last_ms = self._now_ms()
        self.engine = Engine(hands, self._last_ms)
        self._put_apart()
        self.trouble: BaseException | None = None
        self.pace = Pace()
        self._thread = threading.Thread(target=self._play, name="player", daemon=True)
        if thread:
            sys.setswitchinterval(min(SWITCH_S, sys.getswitchinterval()))
            self._thread.start()

    # -- talk --------------------------------------------------------------------------------------

    def receive(self, data: bytes) -> bytes:
        self._check()
        return self.engine.receive(data, self._now_ms())

    def turn(self) -> bytes:
        """What the board has to say by itself (an ``*OPC?`` that waited)."""
        self._check()
        return self.engine.poll(self._now_ms())

    def _put_apart(self) -> None:
        """Every short method of talk is done between two beats, so that no beat sees it half done."""
        talk = self.engine.talk
        for part in (Settings, Loading, Queries):  # the tree's methods
            for name in {name for name in vars(part) if name[0] != "_"} - UNHURRIED:
                setattr(talk, name, self._alone(getattr(talk, name)))

    def _alone(self, method: Callable[..., Any]) -> Callable[..., Any]:
        def between_two_beats(*arguments: Any) -> Any:
            with self._beats:
                return method(*arguments)

        return between_two_beats

    def _between_beats(self, doing: Callable[[int], None], now_ms: int) -> None:
        """As ``Hands.between_beats``; once the beat is over ``now_ms`` is past."""
        with self._beats:
            doing(self._now_ms())

    # -- the player --------------------------------------------------------------------------------

    def _now_ms(self) -> int:
        return self._now_us() // 1000 % TICKS

    def advance(self) -> None:
        """One beat of the player; the thread's work, or a test's."""
        with self._beats:
            now_us = self._now_us()
            self.hands.beat_us = now_us - now_us % 1000
            now_ms = now_us // 1000 % TICKS
            left_out = (now_ms - self._last_ms) % TICKS - 1
            if left_out > 0:
                self.engine.player.missed += left_out
            self._last_ms = now_ms
            self.engine.advance(now_ms)

    def _play(self) -> None:
        """A beat just after each millisecond begins; what Linux holds up is left out, not made up."""
        try:
            with ahead_of_others(PLAYER_FIRST) as self.pace.first:
                while not self._stop.is_set():
                    self.advance()
                    self.pace.beat(time.monotonic())
                    time.sleep((PERIOD_US - self._now_us() % PERIOD_US) / 1e6)
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
    """This computer's own pins. Raises LinkTrouble if it has none, they are taken or its bus is off.

    Without a ``factory`` the pins are lgpio's, and all of them are given back when the body closes.
    """
    folder = locations.data_folder() / "pi"
    own = _native_factory() if factory is None else None
    try:
        return PiBody(PiHands(board_sheet, factory or own, folder, own and own.close))
    except Exception as trouble:  # lgpio raises a kind of its own for pins that are taken
        _forget_frames(trouble)
        if own is not None:
            own.close()
        if isinstance(trouble, LocumError):
            raise
        raise LinkTrouble(
            Remark(
                "pins",
                "pi",
                "the header's pins for ourselves",
                "they are not to be had: " + str(trouble).strip("'"),
                "end other programs that use the pins, then try again",
            )
        ) from trouble


def _forget_frames(trouble: BaseException | None) -> None:
    """A device that was half made would keep its pin for as long as the trouble is remembered."""
    while trouble is not None:
        traceback.clear_frames(trouble.__traceback__)
        trouble = trouble.__cause__ or trouble.__context__


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

        return type("OwnFactory", (Undisturbed, LGPIOFactory), {})()
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
