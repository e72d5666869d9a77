"""What talk knows, and the help that every command and query may need.

The annotation names a call that crosses from one part to another; MicroPython drops it, the type
checker needs it.
"""

from . import orders, states, status
from .keeping import Keeping
from .status import Fault

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable

    from .hands import Hands
    from .player import Player
    from .tree import Tree


class TalkState:
    """``player`` and ``hands`` as in ``player.py``; ``tree``: ``tree.Tree``."""

    _conditions: "Callable[[], None]"

    def __init__(self, player: "Player", hands: "Hands", tree: "Tree", now_ms: int):
        self.player = player
        self.hands = hands
        self.ring = player.ring
        self.status = status.Status()
        self.operation = self.status.operation
        self.questionable = self.status.questionable
        self.now_ms = now_ms
        self.keeping = Keeping(player.ring, hands, now_ms)
        self.answers = []
        self.out = []
        self.path = ""
        self.block_length = -1
        self.block = None
        self.plan_name = ""
        self.plan_id = 0
        self.plan_crc = 0
        self.ladder_crc = 0
        self.network_id = 0
        self.limit_low = 1
        self.limit_high = (1 << 29) - 1
        self.ohm_offset = 0
        self.kept = states.CAUSE_NONE
        self.opc_armed = False
        self.opc_asked = False
        self.test_text = "not run"
        self.collect_in = 50
        self.tree = tree
        self.recent = {}  # the few whole lines that a host asks again and again, and their methods

    def order(self, order, *args, number=-221):
        orders.post(self.player, self.hands, self.now_ms, order, *args, number=number)

    def check(self, order):
        orders.check(self.player, order)

    def staged(self):
        """Buffer and length of the block that came with this unit."""
        if self.block is None:
            raise Fault(203 if self.player.idle_buffer() is None else -223)
        return self.block, self.block_length
