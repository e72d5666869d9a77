"""Every (state, command) pair: what the table lists happens, what it does not is refused."""

import pytest

from locum_board import states, steps

NEXT = states.table()
COMMANDS = {
    states.SET: "CODE 70,32768,32768,32768",
    states.ON: "OUTP ON",
    states.INIT: "INIT",
    states.FOLLOW: "FOLL ON",
    states.CONTACT: "CONT OPEN,20",
    states.ABORT: "ABOR",
    states.RETURN: "OUTP:RET",
    states.OFF: "OUTP OFF",
    states.RESET: "*RST",
    states.CLEAR: "OUTP:PROT:CLE",
    states.MEASURE: "DIAG:MEAS 10,0,0,0,0,1,8",
}


@pytest.mark.parametrize("state", range(6), ids=states.STATE_NAMES)
@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: states.COMMAND_NAMES[c])
def test_every_pair_is_obeyed_or_refused_and_then_changes_nothing(bench, tools, state, command):
    if command == states.INIT:
        plan = steps.plan_block(tools.step(1000, 62))
        bench.block("LIST:DATA", plan)
        bench.good("OUTP OFF")
    bench.block("LADD:DATA", tools.ladder())
    bench.bring(states.STATE_NAMES[state])
    bench.run(2000 if command == states.RETURN and state != states.RETURNING else 20)
    bench.ask("*CLS")
    before = (bench.hands.words, bench.hands.energised, bench.hands.contact_kind)
    verdict = bench.tell(COMMANDS[command])
    expected = NEXT.get((state, command))
    if expected is None:
        number = -213 if command == states.INIT else -221
        assert verdict.startswith(f"{number},")
        assert states.refusal(state, command) in verdict
        assert bench.player.state == state
        assert before == (bench.hands.words, bench.hands.energised, bench.hands.contact_kind)
    else:
        assert verdict == '0,"No error"'
        assert bench.player.state == expected


@pytest.mark.parametrize("state", range(6), ids=states.STATE_NAMES)
@pytest.mark.parametrize("command", [states.LOAD, states.APPEND])
def test_plans_are_taken_or_refused_by_the_table(bench, tools, state, command):
    first = steps.plan_block(tools.step(1000, 62), plan_id=7, total_steps=2)
    second = steps.plan_block(
        tools.step(1000, 63), plan_id=7, flags=4, part=1, first_step=1, total_steps=2
    )
    if command == states.APPEND:
        bench.block("LIST:DATA", first)
        bench.good("OUTP OFF")
    name = states.STATE_NAMES[state]
    if command == states.APPEND and name == "running":
        bench.stand_in()
        bench.good("INIT")
    else:
        bench.bring(name)
    header = "LIST:DATA" if command == states.LOAD else "LIST:DATA:APP"
    verdict = bench.block(header, first if command == states.LOAD else second)
    if (state, command) in NEXT:
        assert verdict == '0,"No error"'
        assert bench.player.state == NEXT[(state, command)]
    else:
        assert verdict.startswith("-221,")
        assert bench.player.state == state


def test_grid_reads_as_it_is_meant():
    assert [row.split()[0] for row in states.ROWS] == list(states.STATE_NAMES)
    assert len(states.FLAT) == 6 * len(states.COMMAND_NAMES)
    assert NEXT[states.READY, states.ON] == states.HOLDING
    assert NEXT[states.HOLDING, states.INIT] == states.RUNNING
    assert NEXT[states.RUNNING, states.ABORT] == states.HOLDING
    assert NEXT[states.RETURNING, states.HOME] == states.REST
    assert NEXT[states.TRIPPED, states.CLEAR] == states.REST
    assert (states.REST, states.ON) not in NEXT
    for state in range(6):
        assert NEXT[state, states.TRIP] == states.TRIPPED
        assert NEXT[state, states.OFF] == (
            states.TRIPPED if state == states.TRIPPED else states.REST
        )


def test_module_is_never_left_on_the_stand_in_outside_standing_states(new_bench):
    for state in states.STATE_NAMES:
        bench = new_bench().bring(state)
        bench.run(30)
        standing = state in ("holding", "running", "returning")
        assert bench.hands.energised == (1 if standing else 0)


def test_trip_leads_to_rest_from_everywhere_and_stays_until_cleared(new_bench):
    for state in states.STATE_NAMES:
        bench = new_bench().bring(state)
        bench.player.trip(states.CAUSE_LINE)
        assert bench.hands.energised == 0
        assert bench.state == "tripped"
        assert bench.tell("OUTP ON").startswith("-221")
        bench.good("OUTP:PROT:CLE")
        assert bench.state == "rest"
