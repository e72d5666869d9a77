"""Talk and player together, plugged into a body's hands."""

from .player import Player
from .records import Ring
from .room import SLOTS, Room
from .states import CAUSE_NAMES, CAUSE_NONE, CAUSE_POWER, CAUSE_SUPPLY, CAUSE_WATCHDOG
from .talk import Talk
from .tree import Tree

BOOT_CAUSES = (CAUSE_POWER, CAUSE_WATCHDOG, CAUSE_SUPPLY, CAUSE_POWER)


class Engine:
    """The whole board but its pins.

    ``receive``, ``poll`` belong to the main loop, ``advance`` to the timer, or to the same loop
    where there is none; ``due_in`` says how long nothing needs to be called. A small board makes its
    ``room`` before it imports this module.
    """

    def __init__(self, hands, now_ms=0, slots=SLOTS, room=None):
        self.hands = hands
        tree = Tree()
        hands.collect()
        room = room or Room(slots)
        self.ring = Ring(room)
        self.player = Player(hands, self.ring, room)
        self.talk = Talk(self.player, hands, tree, now_ms)
        kept = hands.kept_cause()
        reset = hands.reset_cause()
        cause = BOOT_CAUSES[reset] if 0 <= reset < len(BOOT_CAUSES) else CAUSE_POWER
        if reset == 3 and CAUSE_NONE < kept < len(CAUSE_NAMES):
            cause = kept
        self.player.start(now_ms, cause)
        self.talk.kept = cause

    def receive(self, data, now_ms):
        return self.talk.receive(data, now_ms)

    def poll(self, now_ms):
        return self.talk.poll(now_ms)

    def advance(self, now_ms):
        self.player.advance(now_ms)

    def due_in(self, now_ms):
        player = self.player.due_in(now_ms)
        talk = self.talk.due_in(now_ms)
        return player if player < talk else talk
