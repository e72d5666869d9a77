"""What a body must offer the engine; the Pico's, the Raspberry Pi's and the virtual one do.

The player calls the methods of the first group, on the Pico from a timer interrupt: they take and
return small integers, allocate nothing and never raise (a failing part sets ``fault`` instead).
Talk calls the second group from the main loop.

``Hands`` here is the smallest board: everything absent, nothing happens. Bodies derive from it
and replace what they have.
"""

import gc
import sys

OHMMETER = 1
NODE = 2
CONTACT_OPEN = 4
CONTACT_SHORT = 8
HOT = 16
REST_SWITCH = 32
SUPPLY_WATCH = 64
THROTTLE = 128
MARK_BUTTON = 256
STAND_IN = 512

AUX_THROTTLE, AUX_RETURN_OFFSET, AUX_VBUS, AUX_VPOT, AUX_BOARD_C = range(5)
AUX_NONE = -(1 << 29)


class Hands:
    """One board's outputs and inputs, in whole numbers."""

    # -- constants of the board; talk answers DIAG:CONF? from them
    model = "board"  # from the board sheet's id
    serial = "0"
    abilities = 0  # sum of the bits above
    wiper_count = 4
    line_count = 0
    bucket_ms = 10
    node_full_0v1mv = 66000  # node voltage of ADC count 4096, 0.1 mV
    range_milliohm: "tuple[int, ...]" = (1500000, 12050000, 100750000)  # ohmmeter references
    line_high_0v1mv = 53000  # the line must be below this before the relay closes
    line_low_0v1mv = -5000
    vbus_low_0v1mv = 44000  # brown-out below this; 0 = not watched
    # True: advance() calls sample() and lines(). False: the body makes buckets and edges itself
    # and hands them to player.bucket(...), player.edge(...), player.mark(...).
    sampled = True

    # -- inputs, filled by sample(): 12-bit counts; fault: not zero = a part does not answer. A body
    # makes them its own attributes in __init__: the first store to a new attribute allocates
    node = 0
    ohm = 0
    fault = 0

    # ---- the player's group ------------------------------------------------------------------

    def sample(self):
        """Read node and ohmmeter into ``node`` and ``ohm``, the latter also with no range on."""

    def late_us(self):
        """Microseconds since the beat now running should have begun; 0 if time is no finer."""
        return 0

    def lines(self):
        """Levels of the watch lines, bit 0 = line 1; 1 = voltage high at the pin."""
        return 0

    def button(self):
        """1 while the mark button is down (debounced by the player)."""
        return 0

    def line_tripped(self):
        """1 if the hardware comparator saw the line over its limit."""
        return 0

    def rest_switch(self):
        """1 while the rest switch has taken the coil's supply away."""
        return 0

    def aux(self, channel):
        """One AUX_* reading: 0.1 mV or milli-degC; AUX_NONE if the board has it not."""
        return AUX_NONE

    def relay(self, on):
        """Energise or release the swap relay. Release also stops the toggling at once."""

    def beat(self):
        """Toggle the coil's pump; called on every advance() while the relay is to be held."""

    def wipers(self, w0, w1, w2, w3, hot):
        """Set the network: four wiper words of a step (code, rank, out bit), hot branches 0..3.

        Wipers are written in the order of their rank, P1 first among equals; the hot branches
        move between rank 1 and rank 2.
        """

    def contact(self, kind):
        """0 through, 1 open, 2 short: break before make."""

    def range(self, number):
        """Ohmmeter range 0..2; 3 = off."""

    def led(self, on):
        """The board's lamp: lit while standing in."""

    # ---- talk's group ------------------------------------------------------------------------

    block_slots = 120  # most record slots in one answer: 120..500; an answer needs 24 bytes a slot
    boot_id = 1  # another number after each power-up, below 2**30
    supply = 0  # 0 not known, 1 host, 2 power bank

    def keep_cause(self, cause):
        """Keep a small number through a reset (0..255)."""

    def kept_cause(self):
        """What was kept before this boot; 0 if nothing."""
        return 0

    def reset_cause(self):
        """Why the board started: 0 power, 1 watchdog, 2 brown-out, 3 asked."""
        return 0

    def store(self, name, data):
        """Keep ``data`` (bytes) under "cal", "plan" or "ladder" in flash. False if it cannot."""
        return False

    def recall(self, name):
        """What was stored and is whole, or None."""
        return None

    def between_beats(self, doing, now_ms):
        """Call ``doing(now_ms)``, a method of the player, while no beat of it can come between.

        A body whose player an interrupt drives holds that back and gives the time as it is then.
        """
        doing(now_ms)

    def self_test(self):
        """(passed, text) of the body's own test: read-back, rails, relay seen."""
        return True, "nothing to test"

    def collect(self):
        """Collect garbage; called every 50 messages and after running out of memory.

        A large host process has its own ways; walking its whole heap here would only be slow.
        """
        if sys.implementation.name == "micropython":
            gc.collect()

    def free_bytes(self):
        """Free heap; 0 if not known."""
        return 0

    def maintenance(self):
        """Leave the engine for the interpreter's prompt. False if there is none."""
        return False
