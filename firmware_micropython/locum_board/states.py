"""The engine's states and the one table of what may follow what.

``NEXT[(state, command)]`` is the next state. A pair that is absent is refused: nothing changes
and the reason is named. Invariant: the module sees the real sensor (rest, ready, tripped), the
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

NEXT = {
    (REST, SET): READY,
    (REST, LOAD): READY,
    (REST, APPEND): REST,
    (REST, ABORT): REST,
    (REST, OFF): REST,
    (REST, RESET): REST,
    (REST, MEASURE): REST,
    (REST, TRIP): TRIPPED,
    (READY, SET): READY,
    (READY, LOAD): READY,
    (READY, APPEND): READY,
    (READY, ON): HOLDING,
    (READY, INIT): RUNNING,
    (READY, FOLLOW): RUNNING,
    (READY, ABORT): READY,
    (READY, OFF): REST,
    (READY, RESET): REST,
    (READY, MEASURE): REST,
    (READY, TRIP): TRIPPED,
    (HOLDING, SET): HOLDING,
    (HOLDING, LOAD): HOLDING,
    (HOLDING, APPEND): HOLDING,
    (HOLDING, ON): HOLDING,
    (HOLDING, INIT): RUNNING,
    (HOLDING, FOLLOW): RUNNING,
    (HOLDING, CONTACT): HOLDING,
    (HOLDING, ABORT): HOLDING,
    (HOLDING, RETURN): RETURNING,
    (HOLDING, OFF): REST,
    (HOLDING, RESET): REST,
    (HOLDING, TRIP): TRIPPED,
    (RUNNING, APPEND): RUNNING,
    (RUNNING, CONTACT): RUNNING,
    (RUNNING, ABORT): HOLDING,
    (RUNNING, RETURN): RETURNING,
    (RUNNING, OFF): REST,
    (RUNNING, RESET): REST,
    (RUNNING, ENDED): HOLDING,
    (RUNNING, TRIP): TRIPPED,
    (RETURNING, ABORT): HOLDING,
    (RETURNING, RETURN): RETURNING,
    (RETURNING, OFF): REST,
    (RETURNING, RESET): REST,
    (RETURNING, HOME): REST,
    (RETURNING, TRIP): TRIPPED,
    # Latched: the module has the real sensor already, so off and reset are no news.
    (TRIPPED, ABORT): TRIPPED,
    (TRIPPED, OFF): TRIPPED,
    (TRIPPED, RESET): TRIPPED,
    (TRIPPED, CLEAR): REST,
    (TRIPPED, MEASURE): TRIPPED,
    (TRIPPED, TRIP): TRIPPED,
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


# Flat copy for the player, which may not build a tuple to look one up: 255 = refused.
FLAT = bytes(NEXT.get((state, command), 255) for state in range(6) for command in range(16))


def refusal(state, command):
    """Why a command is refused in a state, in words."""
    return "%s refused in state %s" % (COMMAND_NAMES[command], STATE_NAMES[state])
