"""The Pico's two beats: a timer interrupt that plays, a loop that talks.

Every way out ends at rest:

=====================  =====================================================================
what happens           what brings the real sensor back
=====================  =====================================================================
the player raises      ``tick`` catches it, puts the outputs at rest; the loop then trips the engine
talk raises            the loop trips the engine and goes on
three such in a minute the loop resets the board; a waking board drives nothing
the player hangs       the pump starves within 250 ms; the watchdog, not fed, resets after 4 s
the loop hangs         the player notices the silence and goes home; the watchdog resets after 4 s
brown-out              below 4.4 V the player trips; below that the coil cannot hold
reset, power lost      pins become inputs, the coil's gate is pulled down
maintenance            refused unless at rest; then the outputs are put at rest and the timer ends
=====================  =====================================================================
"""

import gc
import time

import machine
import micropython

from locum_board import states
from locum_board.engine import Engine

from . import board, quick, start
from .pico import PicoHands
from .usb import Port

TROUBLE_MOST = 3
TROUBLE_MS = 60000
IDLE_MS = 1


def bring_near(thing, names):
    """Copy what classes hold into the object itself.

    The interpreter looks for a name in the object, then in its class and each parent in turn; for
    the player, made of many parents and called each millisecond, that walk is most of a call.
    """
    for name in names:
        setattr(thing, name, getattr(thing, name))


class Loop:
    """Joins hands, engine and port; ``run`` returns only for maintenance."""

    def __init__(self, hands, engine, port):
        self.hands = hands
        self.engine = engine
        self.player = engine.player
        self.port = port
        bring_near(self.player, [n for n in dir(self.player) if n[:2] != "__"])
        bring_near(engine.ring, [n for n in dir(engine.ring) if n[:2] != "__"])
        bring_near(hands, ("bucket_ms", "sampled", "range_milliohm", "line_low_0v1mv"))
        self._advance = engine.player.advance
        self._now = time.ticks_ms
        self._plus = time.ticks_add
        self._apart = time.ticks_diff
        self._us = time.ticks_us
        self._last = self._now()
        self._timer = None
        self.halted = False
        self.why = None  # the last exception of the player, for whoever looks from the prompt
        self.trouble = 0
        self._trouble_ms = 0
        self._alive = -1
        self._receive = engine.talk.receive  # not by way of the engine: each call costs stack
        self._poll = engine.talk.poll

    @micropython.native
    def tick(self, _timer):
        """One millisecond of the player. Nothing raised in here gets out."""
        if self.halted:
            return
        now = self._now()
        gap = self._apart(now, self._last)
        if not gap:
            return  # the alarm catches up after flash was erased: one call a millisecond is enough
        self._last = now
        hands = self.hands
        us = self._us()
        due = self._plus(hands.beat_us, 1000 * gap)
        if self._apart(us, due) < 0:
            due = us  # no beat is early: the clock's edge was
        hands.beat_us = due
        if gap != 1:
            self.player.missed += gap - 1
        try:
            self._advance(now)
        except Exception as why:
            self.why = why
            self.halted = True
            self.hands.rest_now()

    def start_timer(self):
        """Start just after a millisecond begins, so that a beat never falls into the one before."""
        self.stop_timer()
        now = self._now
        before = now()
        due = self._us()
        while now() == before:
            due = self._us()
        self.hands.beat_us = due
        self._last = now()
        self._timer = machine.Timer(
            -1, mode=machine.Timer.PERIODIC, period=1, callback=self.tick, hard=True
        )

    def stop_timer(self):
        if self._timer is not None:
            self._timer.deinit()
            self._timer = None

    def run(self):
        """Talk until maintenance is asked for; then back to the prompt, at rest."""
        self.start_timer()
        try:
            while not self.hands.leave:
                try:
                    self.turn()
                except Exception:
                    self._troubled()
        finally:
            self.stop_timer()
            self.hands.rest_now()
        if self.hands.watchdog is not None:
            # It cannot be stopped: start again with a note to stop at the prompt.
            machine.mem32[start.SCRATCH] = start.SCRATCH_MARK | start.GO_TO_PROMPT
            machine.reset()
        micropython.kbd_intr(3)

    def turn(self):
        """One round: what came in, what is due, what goes out, who is alive."""
        port = self.port
        data = port.take()
        now = self._now()
        answer = self._receive(data, now) if data else self._poll(now)
        if answer:
            port.send(answer)
        port.push()
        if self.halted:
            self._troubled()
        self._watch()
        if not data and not answer:
            port.wait(IDLE_MS)

    def _watch(self):
        """The watchdog runs from the first stand-in on and is fed while the player advances."""
        if self.player.relay_on:
            self.hands.guard()
        if self.player.alive != self._alive:
            self._alive = self.player.alive
            self.hands.feed()

    def _troubled(self):
        """Something raised: real sensor now, say so, go on; if it keeps happening, start afresh."""
        self.halted = True  # the interrupt keeps its hands off while the engine is tripped here
        self.hands.rest_now()
        gc.collect()
        now = time.ticks_ms()
        if time.ticks_diff(now, self._trouble_ms) > TROUBLE_MS:
            self.trouble = 0
        self._trouble_ms = now
        self.trouble += 1
        self.hands.keep_cause(states.CAUSE_FAULT)
        if self.trouble >= TROUBLE_MOST:
            machine.reset()
        self.player.trip(states.CAUSE_FAULT)
        self.hands.recover(self.player.range_now)
        self.halted = False


def make(room, description=None):
    """The whole Pico: hands, engine and port; every output is at rest afterwards.

    ``room``: the engine's large buffers, made before this module was imported.
    """
    hands = PicoHands(description or board.describe())
    quick.install()
    gc.collect()
    # To the type checker a tick is a thing of its own; the engine counts as this port does, to 2**30.
    now_ms = time.ticks_ms()
    engine = Engine(hands, now_ms, room=room)  # pyright: ignore[reportArgumentType]
    gc.collect()
    return Loop(hands, engine, Port())
