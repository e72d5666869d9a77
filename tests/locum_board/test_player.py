"""What the player does at the pins, and when; time is an argument."""

from itertools import pairwise

import pytest

from locum_board import states, steps


def wiper_times(bench, milliseconds):
    """(ms since start, code) of every wiper move while time passes."""
    seen, start = [], bench.now_ms
    for _ in range(milliseconds):
        before = len(bench.hands.log)
        bench.run(1)
        moves = [value for kind, value in bench.hands.log[before:] if kind == "wipers"]
        seen += [((bench.now_ms - start) & 0x3FFFFFFF, code) for code in moves]
    return seen


def load(bench, rows, **options):
    assert bench.block("LIST:DATA", steps.plan_block(rows, **options)) == '0,"No error"'


def test_steps_fall_due_on_an_absolute_schedule(bench, tools):
    bench.stand_in()
    load(bench, b"".join(tools.step(70 + i, 60 + i) for i in range(5)), flags=0)
    bench.good("INIT")
    assert wiper_times(bench, 600) == [(1, 60), (70, 61), (141, 62), (213, 63), (286, 64)]
    assert bench.state == "holding"
    assert bench.cause == "ended"


def test_a_late_player_catches_up_and_does_not_drift(bench, tools):
    bench.stand_in()
    load(bench, b"".join(tools.step(50, 60 + i) for i in range(8)), flags=0)
    bench.good("INIT")
    wiper_times(bench, 1)
    bench.now_ms += 120  # the player was kept from running
    times = wiper_times(bench, 300)
    assert [code for _, code in times] == [61, 62, 63, 64, 65, 66, 67]
    assert times[0][0] == times[1][0] == 1
    assert [later - earlier for (earlier, _), (later, _) in pairwise(times[3:])] == [50] * 3
    assert bench.ask("DIAG:LOOP?").startswith("72,")


def test_plan_from_ready_sets_the_first_value_before_the_relay_closes(bench, tools):
    bench.good("CODE 5,32768,32768,32768")
    load(bench, tools.step(100, 60) + tools.step(100, 61))
    bench.hands.log.clear()
    bench.good("INIT")
    times = wiper_times(bench, 112)
    assert bench.hands.log[:2] == [("wipers", 60), ("relay", 1)]
    assert times == [(110, 61)]


def test_repeat_control_takes_no_time_and_counts(bench, tools):
    bench.stand_in()
    rows = tools.step(10, 60) + tools.step(10, 61) + steps.pack_repeat(2, 3) + tools.step(10, 62)
    load(bench, rows, flags=0)
    bench.good("INIT")
    codes = [code for _, code in wiper_times(bench, 120)]
    assert codes == [60, 61] * 4 + [62]


def test_endless_repeat_goes_on_until_aborted(bench, tools):
    bench.stand_in()
    load(bench, tools.step(10, 60) + tools.step(10, 61) + steps.pack_repeat(2, steps.ENDLESS))
    bench.good("INIT")
    assert len(wiper_times(bench, 5000)) == 501
    bench.good("ABOR")
    assert wiper_times(bench, 100) == []
    assert bench.state == "holding"


def test_parts_appended_while_running_follow_without_a_seam(bench, tools):
    bench.stand_in()

    def part(number):
        rows = b"".join(tools.step(10, 50 + 10 * number + i) for i in range(10))
        return steps.plan_block(
            rows, plan_id=9, flags=4 if number else 0, part=number, first_step=10 * number,
            total_steps=40,
        )  # fmt: skip

    assert bench.block("LIST:DATA", part(0)) == '0,"No error"'
    bench.good("INIT")
    assert bench.block("LIST:DATA:APP", part(1)) == '0,"No error"'
    assert bench.block("LIST:DATA:APP", part(2)) == '203,"Plan buffers full"'
    times = wiper_times(bench, 110)
    assert bench.block("LIST:DATA:APP", part(3)).startswith("204")  # not the next one
    assert bench.block("LIST:DATA:APP", part(2)) == '0,"No error"'
    times += [(110 + t, code) for t, code in wiper_times(bench, 120)]
    assert bench.block("LIST:DATA:APP", part(3)) == '0,"No error"'
    times += [(230 + t, code) for t, code in wiper_times(bench, 200)]
    assert [code for _, code in times] == list(range(50, 90))
    assert [t for t, _ in times][1:] == list(range(10, 400, 10))


def test_a_part_that_does_not_come_is_waited_for_then_home(bench, tools):
    bench.stand_in()
    load(bench, tools.step(10, 60), total_steps=5)
    bench.good("INIT")
    bench.run(2900)
    assert bench.state == "running"
    bench.run(200)
    assert bench.state in ("rest", "returning")
    assert bench.cause == "plan_late"


def test_bad_block_leaves_the_old_plan(bench, tools):
    good = steps.plan_block(tools.step(10, 60))
    assert bench.block("LIST:DATA", good) == '0,"No error"'
    crc = bench.ask("LIST:CRC?")
    for at in range(len(good)):
        bad = bytearray(good)
        bad[at] ^= 0x10
        assert bench.block("LIST:DATA", bytes(bad)) == '-161,"Invalid block data;crc"'
    assert bench.ask("LIST:CRC?") == crc
    assert bench.ask("LIST:POIN?") == "1,1"


def test_steps_outside_their_ranges_are_refused(bench, tools):
    import struct

    def verdict(*words):
        return bench.block("LIST:DATA", steps.plan_block(struct.pack("<7H", *words)))

    assert verdict(0, 1, 1, 1, 1, 0, 0).startswith("-224")
    assert verdict(60001, 1, 1, 1, 1, 0, 0).startswith("-224")
    assert verdict(10, 257, 1, 1, 1, 0, 0).startswith("-224")
    assert verdict(10, 1, 1, 1, 1, 0, 12).startswith("-224")
    assert verdict(0, 1, 1, 0, 0, 0, steps.REPEAT).startswith("-224")
    assert verdict(60000, 256, 1, 1, 1, 0, 0) == '0,"No error"'


def test_contact_by_hand_ends_by_itself_and_a_plan_makes_glitches(bench, tools):
    bench.stand_in()
    bench.good("CONT OPEN,40")
    bench.run(39)
    assert bench.hands.contact_kind == 1
    bench.run(2)
    assert bench.hands.contact_kind == 0
    rows = tools.step(30, 60) + tools.step(20, 60, contact=1) + tools.step(30, 60, contact=2)
    load(bench, rows + tools.step(30, 60))
    bench.good("INIT")
    kinds = []
    for _ in range(100):
        bench.run(1)
        kinds.append(bench.hands.contact_kind)
    assert (
        kinds == [0] * 29 + [1] * 20 + [2] * 30 + [0] * 21
        or kinds == [0] * 30 + [1] * 20 + [2] * 30 + [0] * 20
    )


def test_following_copies_the_real_sensor_slowly_and_leaves_glitches_out(bench):
    bench.stand_in(code=62)
    bench.good("FOLL ON")
    bench.run(6000)
    assert bench.player.rung == 61  # 36 + 40 * 62 = 2516 ohm for 2500
    bench.hands.real_ohm = 1e9
    bench.run(400)  # a dropout of the real sensor
    bench.hands.real_ohm = 2500.0
    bench.run(5000)
    assert bench.player.rung == 61
    bench.hands.real_ohm = 2100.0
    moves = []
    for _ in range(40):
        bench.run(250)
        moves.append(bench.player.rung)
    # 160 units a rung, 300 units a second: at most two rungs a second.
    assert all(before - after <= 1 for before, after in pairwise(moves))
    assert 7 <= moves.index(min(moves)) - next(i for i, r in enumerate(moves) if r < 61) + 1 <= 24
    assert abs(bench.player.set_milliohm - 2100000) <= 30000


def test_injection_while_following(bench):
    bench.stand_in()
    bench.good("FOLL ON")
    bench.run(3000)
    bench.good("CONT OPEN,150")
    assert bench.hands.contact_kind == 1
    assert bench.state == "running"
    bench.run(151)
    assert bench.hands.contact_kind == 0
    assert bench.player.following == 1


def test_following_step_in_a_plan(bench, tools):
    bench.stand_in(code=50)
    follow = steps.pack_step(30000, (0, 0, 0, 0), flags=steps.step_flags(follow=True))
    load(bench, tools.step(100, 50) + follow, standing_s=60)
    bench.good("INIT")
    bench.run(20000)
    assert bench.player.following == 1
    assert abs(bench.player.set_milliohm - 2500000) <= 40000


def test_ease_back_walks_at_its_rate_then_rests(bench):
    bench.stand_in(code=100)  # 4036 ohm, 38 rungs or 6080 units from 2500 ohm
    bench.run(2000)
    bench.good("OUTP:RET")
    assert bench.state == "returning"
    bench.run(5500)
    assert bench.state == "returning"
    assert bench.hands.energised == 1
    bench.run(1200)
    assert bench.state == "rest"
    assert bench.hands.energised == 0
    assert abs(bench.hands.ohm_of(bench.hands.words) - 2500) <= 40


def test_ease_back_takes_twenty_seconds_at_most(bench):
    bench.stand_in(code=250)
    bench.run(2000)
    bench.good("OUTP:RET:RATE 50")
    bench.good("OUTP:RET")
    bench.run(19900)
    assert bench.state == "returning"
    bench.run(600)
    assert bench.state == "rest"


def test_without_a_sane_real_sensor_the_way_back_is_short(bench):
    bench.stand_in()
    bench.hands.real_ohm = 1e9
    bench.run(8000)
    bench.good("OUTP:RET")
    bench.run(2)
    assert bench.state == "rest"


def test_silence_is_noted_held_then_eased_back(bench):
    bench.stand_in(code=70)
    bench.run(6000)
    bench.engine.receive(b"\n", bench.now_ms)
    bench.run(990, keep_alive=False)
    assert bench.player.silent == 0
    bench.run(20, keep_alive=False)
    assert bench.player.silent == 1
    bench.run(1980, keep_alive=False)
    assert bench.state == "holding"
    bench.run(30, keep_alive=False)
    assert bench.state == "returning"
    assert bench.cause == "silence"
    bench.run(5000, keep_alive=False)
    assert bench.state == "rest"
    assert bench.cause == "silence"


def test_silence_with_a_dead_real_sensor_is_rest_at_once(bench):
    bench.stand_in()
    bench.hands.real_ohm = 1e9
    bench.run(6000)
    bench.run(3010, keep_alive=False)
    assert bench.state == "rest"


def test_a_plan_pauses_in_silence_and_goes_on_when_the_host_is_back(bench, tools):
    bench.stand_in()
    load(bench, b"".join(tools.step(400, 60 + i) for i in range(10)), flags=0)
    bench.good("INIT")
    bench.run(2000, keep_alive=False)
    assert bench.player.step_number == 2
    bench.ask("FETC?")
    bench.run(500)
    assert bench.player.step_number == 3
    assert bench.state == "running"


def test_a_plan_may_finish_in_silence_if_all_of_it_is_on_board(bench, tools):
    bench.stand_in(code=62)
    flags = steps.RUN_ON_SILENCE | steps.EASE_BACK_AT_END
    load(bench, tools.step(10, 60), flags=flags, total_steps=2)
    assert bench.tell("INIT") == '205,"Plan not whole on board"'
    load(bench, b"".join(tools.step(1000, 62) for i in range(20)), flags=flags, standing_s=80)
    bench.good("INIT")
    bench.run(19000, keep_alive=False)
    assert bench.state == "running"
    bench.run(3000, keep_alive=False)
    assert bench.state == "rest"
    assert bench.cause == "ended"


def test_longest_time_away_trips_and_can_be_extended(bench, tools):
    bench.good("OUTP:STAN 5")
    bench.stand_in()
    bench.run(3000)
    bench.good("OUTP:STAN:EXT 5")
    bench.run(4900)
    assert bench.state == "holding"
    bench.run(200)
    assert (bench.state, bench.cause) == ("tripped", "standing")


def test_a_plan_has_its_own_longest_time(bench, tools):
    bench.good("OUTP:STAN 2")
    bench.stand_in()
    load(bench, tools.step(10000, 62), flags=0, standing_s=4)
    bench.good("INIT")
    bench.run(3900)
    assert bench.state == "running"
    bench.run(200)
    assert (bench.state, bench.cause) == ("tripped", "standing")


def test_too_hot_a_real_sensor_trips(bench):
    bench.good("SENS:RES:HOT 300000")
    bench.stand_in()
    bench.run(2000)
    bench.hands.real_ohm = 250.0
    bench.run(5000)
    assert (bench.state, bench.cause) == ("tripped", "hot")


def test_node_off_three_times_trips_and_twice_does_not(bench):
    bench.stand_in()
    bench.run(1000)
    bench.hands.open_v = 4.0
    bench.run(500)
    bench.hands.open_v = 5.0
    bench.run(1000)
    assert bench.state == "holding"
    bench.hands.open_v = 4.0
    bench.run(1000)
    assert (bench.state, bench.cause) == ("tripped", "self_check")


def test_line_is_looked_at_before_the_relay_closes(bench):
    bench.hands.open_v = 6.0
    bench.hands.real_ohm = 1e9
    bench.run(50)
    bench.good("CODE 62,0,0,0")
    assert bench.tell("OUTP ON") == '201,"Line out of range"'
    assert bench.state == "ready"
    bench.hands.open_v = 5.0
    bench.run(50)
    bench.good("OUTP ON")


def test_line_over_its_limit_while_standing_in_trips(bench):
    bench.stand_in()
    bench.hands.open_v = 14.0
    bench.run(25)
    assert (bench.state, bench.cause) == ("tripped", "line")


def test_comparator_rest_switch_brown_out_and_faults_trip(new_bench):
    for attribute, value, cause in (
        ("comparator", 1, "line"),
        ("switch_open", 1, "switch"),
        ("vbus", 43000, "supply"),
        ("fault", 1, "fault"),
    ):
        bench = new_bench().bring("holding")
        setattr(bench.hands, attribute, value)
        bench.run(1000)
        assert (bench.state, bench.cause) == ("tripped", cause)
        assert bench.hands.energised == 0
        assert bench.hands.cause == states.CAUSE_NAMES.index(cause)


def test_ohmmeter_is_off_while_the_relay_moves(bench):
    bench.good("SENS:RES:RANG 1,2")
    bench.run(30)
    assert bench.hands.range_number == 2
    bench.good("CODE 62,0,0,0")
    ranges = {}
    for command in ("OUTP ON", "OUTP OFF"):
        bench.good(command)
        seen = []
        for _ in range(40):
            moved = len([entry for entry in bench.hands.log if entry[0] == "relay"])
            bench.run(1)
            now = len([entry for entry in bench.hands.log if entry[0] == "relay"])
            seen.append((bench.hands.range_number, now != moved))
        ranges[command] = seen
    on = ranges["OUTP ON"]
    at = [moved for _, moved in on].index(True)
    assert at >= 9
    assert all(number == 3 for number, _ in on[: at + 10])
    assert on[-1][0] == 1
    assert all(number == 3 for number, _ in ranges["OUTP OFF"][:9])
    assert ranges["OUTP OFF"][-1][0] == 2


def test_coil_is_toggled_every_millisecond_while_it_is_held(bench):
    bench.stand_in()
    bench.hands.beats = 0
    bench.run(100)
    assert bench.hands.beats == 100
    bench.good("OUTP OFF")
    bench.run(100)
    assert bench.hands.beats == 100


def test_self_calibration_reading_is_on_and_off_averaged(bench):
    bench.good("DIAG:MEAS 50,32768,32768,32768,0,1,64")
    assert bench.ask("DIAG:MEAS?").startswith("1,")
    bench.run(200)
    busy, on, off, count = map(int, bench.ask("DIAG:MEAS?").split(","))
    assert (busy, count, off) == (0, 64, 0)
    assert on / count == round(4096 * 2036 / (2036 + 12050))
    assert bench.state == "rest"


def test_clock_wrap_is_an_ordinary_case(new_bench, tools):
    bench = new_bench(start_ms=(1 << 30) - 5000)
    bench.stand_in()
    load(bench, b"".join(tools.step(100, 60 + i % 3) for i in range(100)), flags=0)
    bench.good("INIT")
    times = wiper_times(bench, 9999)
    assert [t for t, _ in times] == [1, *range(100, 10000, 100)]
    bench.run(3000, keep_alive=False)
    assert bench.player.silent
    bench.run(1000, keep_alive=False)
    assert bench.state != "holding"


def test_cause_is_kept_through_a_reset(bench):
    from locum_board.engine import Engine

    bench.bring("tripped")
    bench.run(5)
    assert bench.hands.cause == states.CAUSE_LINE

    class Rebooted(type(bench.hands)):
        def kept_cause(self):
            return bench.hands.cause

        def reset_cause(self):
            return self.why

    for why, cause in ((0, "power"), (1, "watchdog"), (2, "supply"), (3, "line")):
        hands = Rebooted()
        hands.why = why
        engine = Engine(hands, 0)
        assert engine.player.state == states.REST
        assert hands.energised == 0
        assert states.CAUSE_NAMES[engine.player.cause] == cause
        assert engine.receive(b"DIAG:RES:CAUS?\n", 0) == b"%d,%d\n" % (why, states.CAUSE_LINE)


def test_nothing_is_driven_before_it_is_asked_for(new_bench):
    bench = new_bench(settle=False)
    bench.run(5000)
    assert [entry for entry in bench.hands.log if entry[0] == "relay"] == []
    assert bench.hands.beats == 0
    assert bench.hands.log[0] == ("wipers", 0)
    assert bench.hands.words == (steps.OUT,) * 4


def two_parts(tools, plan_id=4):
    first = steps.plan_block(tools.step(300, 60) * 2, plan_id=plan_id, flags=0, total_steps=4)
    second = steps.plan_block(
        tools.step(300, 61) * 2, plan_id=plan_id, flags=4, part=1, first_step=2, total_steps=4
    )
    return first, second


def test_a_new_plan_replaces_one_whose_parts_wait(bench, tools):
    first, second = two_parts(tools)
    assert bench.block("LIST:DATA", first) == '0,"No error"'
    assert bench.block("LIST:DATA:APP", second) == '0,"No error"'
    # What would take the waiting part's place is refused, except a new plan.
    assert bench.block("LADD:DATA", tools.ladder()) == '203,"Plan buffers full"'
    assert bench.ask("LIST:POIN?") == "4,4"
    assert bench.block("LIST:DATA", steps.plan_block(tools.step(50, 70))) == '0,"No error"'
    assert bench.ask("LIST:POIN?;FREE?") == "1,1;1"
    assert bench.block("LADD:DATA", tools.ladder()) == '0,"No error"'


def test_an_aborted_plan_of_parts_is_gone_and_a_whole_one_runs_again(bench, tools):
    bench.stand_in()
    first, second = two_parts(tools)
    bench.block("LIST:DATA", first)
    bench.block("LIST:DATA:APP", second)
    bench.good("INIT")
    bench.run(100)
    bench.good("ABOR")
    assert bench.tell("INIT") == '204,"No plan"'
    load(bench, tools.step(50, 70), flags=0)
    for _ in range(2):
        bench.good("INIT")
        bench.run(100)
        assert bench.cause == "ended"


class TestLateness:
    def test_steps_done_in_their_own_millisecond_are_counted_as_such(self, bench, tools):
        bench.stand_in()
        bench.block("LIST:DATA", steps.plan_block(tools.step(5, 62) * 40))
        bench.ask("*CLS")
        bench.good("INIT")
        bench.run(300)
        worst, *classes = (int(n) for n in bench.ask("DIAG:LAT?").split(","))
        assert worst == 0
        assert classes == [39] + [0] * 9, "the first step's moment is the order itself"

    def test_lateness_is_the_beats_own_and_the_milliseconds_between(self, bench, tools):
        bench.stand_in()
        bench.block("LIST:DATA", steps.plan_block(tools.step(10, 62) * 3))
        bench.ask("*CLS")
        bench.hands.late_us = lambda: 170
        bench.good("INIT")
        bench.run(1)
        bench.now_ms += 11  # no beat for so long: the second step is two milliseconds late
        bench.engine.advance(bench.now_ms)
        worst, *classes = (int(n) for n in bench.ask("DIAG:LAT?").split(","))
        assert worst == 2170
        assert sum(classes) == 1
        assert classes[8] == 1, "between 2 and 5 ms"
        bench.ask("*CLS")
        assert bench.ask("DIAG:LAT?") == "0" + ",0" * 10


@pytest.mark.parametrize("dwell_ms", [1, 3, 10, 20])
@pytest.mark.parametrize("offset_ms", [0, 4, 9])
def test_a_bucket_holds_its_own_ten_readings_whatever_step_ends_it(
    bench, tools, dwell_ms, offset_ms
):
    bench.stand_in()
    bench.run(offset_ms)
    readings, buckets = {}, []
    player, sample, take = bench.player, bench.hands.sample, bench.player.bucket

    def sample_and_tell():
        sample()
        readings[player.now] = bench.hands.node

    def bucket_and_tell(*numbers):
        buckets.append((player.bucket_start, numbers))
        take(*numbers)

    bench.hands.sample, player.bucket = sample_and_tell, bucket_and_tell
    rows = tools.step(dwell_ms, 60, tolerance=0) + tools.step(dwell_ms, 90, tolerance=0)
    load(bench, rows + steps.pack_repeat(2, steps.ENDLESS))
    bench.good("INIT")
    bench.run(120)
    bench.good("SENS:RES:RANG 1,2")  # an order that must not change a bucket that has ended
    bench.run(120)
    assert len(buckets) > 20
    for (start, _), (later, _) in pairwise(buckets):
        assert later - start == 10
    for start, (span, least, total, most, *_, count) in buckets[1:]:
        own = [readings[start + ms] for ms in range(10)]
        assert (span, least, total, most, count) == (1, min(own), sum(own), max(own), 10)
