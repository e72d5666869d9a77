"""Orders from talk to player: a mailbox of one.

Talk fills ``order_args``, sets ``order`` and lets the player take it between two beats; the player
acts, sets ``reply`` and clears ``order``. Which state command stands for an order is ``ORDER_COMMAND``.
"""

from . import states

# Orders of talk; arguments in order_args.
(
    ORDER_NONE,
    ORDER_SET,  # w0 w1 w2 w3 hot node tolerance milliohm
    ORDER_RUNG,  # rung
    ORDER_PLAN,  # the idle buffer holds a new plan
    ORDER_APPEND,  # the idle buffer holds the next part
    ORDER_ON,
    ORDER_INIT,
    ORDER_FOLLOW,  # seconds
    ORDER_CONTACT,  # kind, milliseconds (0: until told otherwise)
    ORDER_ABORT,
    ORDER_RETURN,
    ORDER_OFF,
    ORDER_RESET,
    ORDER_CLEAR,
    ORDER_MEASURE,  # w0 w1 w2 w3 hot range count
) = range(15)

# The state command that stands for each order.
ORDER_COMMAND = bytes(
    (
        255,
        states.SET,
        states.SET,
        states.LOAD,
        states.APPEND,
        states.ON,
        states.INIT,
        states.FOLLOW,
        states.CONTACT,
        states.ABORT,
        states.RETURN,
        states.OFF,
        states.RESET,
        states.CLEAR,
        states.MEASURE,
    )
)

(
    DONE,
    BY_STATE,  # refused by the table
    NO_LINE,  # the line is outside its range, or was not measured
    NO_LADDER,
    NO_PLAN,
    NOT_WHOLE,  # run on silence asked, but the plan is not wholly on board
    NO_REST,  # the rest switch is off or a part does not answer
    BUSY,  # both plan buffers hold something
) = range(8)
