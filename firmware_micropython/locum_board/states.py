"""The engine's states and the one table of what may follow what.

``following(state, command)`` is the next state. A pair the table does not have is refused: nothing
changes and the reason is named. Invariant: the module sees the real sensor (rest, ready, tripped), the
plan within its limits (holding, running) or its way home (returning); nothing else.
"""

REST, READY, HOLDING, RUNNING, RETURNING, TRIPPED = range(6)
STATE_NAMES = ("rest", "ready", "holding", "running", "returning", "tripped")

# Commands of the host
(
    SET,  # a value: codes, or ohms by the ladder
    LOAD,  # a new plan
    APPEND,  # the next part of the plan on board
    ON,  # close the relay on the value set
    INIT,  # run the plan
    FOLLOW,  # copy the real sensor
    CONTACT,  # open or short for a while, by hand
    ABORT,  # hold the present value
    RETURN,  # ease back
    OFF,  # real sensor now
    RESET,  # *RST
    CLEAR,  # release a latched trip
    MEASURE,  # self-calibration reading: moves wipers, never the relay
    # What the player itself finds
    ENDED,  # the plan has run out: hold its last value
    HOME,  # the way back is walked
    TRIP,  # a limit
) = range(16)
COMMAND_NAMES = (
    "set value",
    "load plan",
    "append to plan",
    "stand in",
    "run plan",
    "follow",
    "contact",
    "abort",
    "ease back",
    "real sensor now",
    "reset",
    "clear trip",
    "measure",
    "plan ended",
    "home",
    "trip",
)

# One row a state; columns in the order of the commands. "." = refused.
# In tripped the module has the real sensor already, so off and reset are no news there.
#            set load append on init follow contact abort return off reset clear measure ended home trip
ROWS = (
    "rest      1    1     0    .    .     .      .      0     .    0    0     .      0      .    .    5",
    "ready     1    1     1    2    3     3      .      1     .    0    0     .      0      .    .    5",
    "holding   2    2     2    2    3     3      2      2     4    0    0     .      .      .    .    5",
    "running   .    .     3    .    .     .      3      2     4    0    0     .      .      2    .    5",
    "returning .    .     .    .    .     .      .      2     4    0    0     .      .      .    0    5",
    "tripped   .    .     .    .    .     .      .      5     .    5    5     0      5      .    .    5",
)  # fmt: skip
REFUSED = 255
COMMANDS = 16


def _flat():
    out = bytearray()
    for row in ROWS:
        for cell in row.split()[1:]:
            out.append(REFUSED if cell == "." else int(cell))
    return bytes(out)


# For the player, which may not build a tuple to look one up.
FLAT = _flat()


def following(state, command):
    """The state that comes of a command, or REFUSED."""
    return FLAT[state * COMMANDS + command]


def table():
    """The table as a dictionary (state, command) -> state; absent = refused."""
    return {
        (at // COMMANDS, at % COMMANDS): FLAT[at] for at in range(len(FLAT)) if FLAT[at] != REFUSED
    }


# Causes: why the board is in its state. Kept through a reset by the hands.
(
    CAUSE_NONE,
    CAUSE_ASKED,  # the host asked for it
    CAUSE_ENDED,  # the plan ended
    CAUSE_SILENCE,  # the host was silent
    CAUSE_STANDING,  # away from the real sensor for too long
    CAUSE_HOT,  # the real sensor is hotter than allowed
    CAUSE_LINE,  # the module's line left its range
    CAUSE_SELF_CHECK,  # the node was off three times
    CAUSE_SUPPLY,  # brown-out
    CAUSE_WATCHDOG,  # the program hung
    CAUSE_FAULT,  # a part of the board does not answer
    CAUSE_SWITCH,  # the rest switch
    CAUSE_POWER,  # power-up
    CAUSE_PLAN_LATE,  # the next part of the plan did not come in time
    CAUSE_BLIND,  # the real sensor could not be measured for a minute while following
) = range(15)
CAUSE_NAMES = (
    "none",
    "asked",
    "ended",
    "silence",
    "standing",
    "hot",
    "line",
    "self_check",
    "supply",
    "watchdog",
    "fault",
    "switch",
    "power",
    "plan_late",
    "blind",
)


def refusal(state, command):
    """Why a command is refused in a state, in words."""
    return "%s refused in state %s" % (COMMAND_NAMES[command], STATE_NAMES[state])
