"""The virtual board: the real engine in a world, by the same talk a real board has."""

import numpy as np
import pytest

from locum.errors import BoardFault, Refused
from locum.recording.decode import Decoder
from locum.review.chunk import MOVE_OPEN, MOVE_RELAY_OFF, MOVE_RELAY_ON, OPEN_MILLIOHM
from locum_board import steps


def record(rig):
    return Decoder().feed_many(rig.blocks)


def test_listening_sees_the_line_and_costs_one_record_a_second(rig):
    rig.board.clear_record()
    status = rig.run(60)
    assert status.state == "rest"
    assert status.node_0v1mv == pytest.approx(35714, abs=60)
    chunk = record(rig)
    assert 59 <= len(chunk.samples) <= 63
    assert chunk.samples["count"].sum() == chunk.end_ms
    assert np.all(
        chunk.samples["t_ms"][1:] == (chunk.samples["t_ms"] + chunk.samples["span_ms"])[:-1]
    )
    assert len(chunk.gaps) == 0


def test_glitch_of_the_sensor_is_in_the_record_to_ten_milliseconds(rig):
    rig.world.glitches.append((5103, 5340))  # the record begins at 100 ms
    rig.board.clear_record()
    rig.run(10)
    samples = record(rig).samples
    lifted = samples[samples["node_max"] > 45000]
    assert lifted["t_ms"].min() == 5000
    assert (lifted["t_ms"] + lifted["span_ms"]).max() == 5240
    assert lifted["node_max"].max() == pytest.approx(50000, abs=60)


def test_standing_in_gives_the_module_the_asked_value(rig):
    rig.board.clear_record()
    rig.ready(1000.0)
    rig.run(1)
    rig.board.stand_in()
    status = rig.run(8)
    assert status.state == "holding"
    assert status.standing_in
    assert status.node_0v1mv == pytest.approx(5 * rig.node(rig.words(1000.0)), abs=60)
    assert rig.world.loads[-1][2] == pytest.approx(1000.0, abs=60)
    assert status.real_milliohm == pytest.approx(2_500_000, rel=0.01)
    rig.board.real_sensor_now()
    rig.run(1)
    kinds = [kind for _, kind, _ in rig.world.loads]
    assert kinds[-1] == "sensor"
    moves = list(record(rig).moves["kind"])
    assert moves.count(MOVE_RELAY_ON) == 1
    assert moves.count(MOVE_RELAY_OFF) == 1


def test_plan_with_a_glitch_runs_on_time(rig):
    rig.ready(2500.0)
    rig.board.clear_record()
    rows = rig.step(1000, 2500.0) + rig.step(300, 2500.0, contact=1) + rig.step(2000, 2400.0)
    rig.board.upload_plan(steps.plan_block(rows, flags=0), "one glitch")
    rig.board.run()
    status = rig.run(5)
    assert status.state == "holding"
    moves = record(rig).moves
    on = moves["t_ms"][moves["kind"] == MOVE_RELAY_ON][0]
    assert list(moves["t_ms"][moves["kind"] == MOVE_OPEN]) == [on + 1000]
    opened = [(t, kind) for t, kind, _ in rig.world.loads if kind == "open"]
    assert opened[0][0] > 0
    samples = record(rig).samples
    lifted = samples[samples["node_max"] > 45000]
    length = (lifted["t_ms"] + lifted["span_ms"]).max() - lifted["t_ms"].min()
    assert 290 <= length <= 320


def test_following_keeps_to_the_sensor_and_masks_its_glitches(rig):
    rig.ready(2500.0)
    rig.run(0.5)
    rig.board.stand_in()
    rig.board.follow()
    rig.run(10)
    rig.world.glitches.append((12_000, 12_300))
    rig.board.clear_record()
    status = rig.run(10)
    assert status.following
    samples = record(rig).samples
    seen = samples[samples["source"] == 1]
    assert seen["ohm_max"].max() == OPEN_MILLIOHM  # the board saw the glitch
    assert seen["node_max"].max() < 36500  # the module did not
    rig.board.ease_back()
    status = rig.run(5)
    assert status.state == "rest"


def test_a_warming_sensor_is_followed_at_the_allowed_rate(rig):
    rig.ready(2500.0)
    rig.run(0.5)
    rig.board.stand_in()
    rig.board.follow()
    for _ in range(300):
        rig.world.sensor_ohm *= 0.9985
        status = rig.run(0.5)
    # The median of 5 s lags 2.5 s behind a value that falls 0.3 % in a second.
    assert status.set_milliohm == pytest.approx(rig.world.sensor_ohm * 1000, rel=0.03)


def test_silent_host_is_eased_back(rig):
    rig.ready(2000.0)
    rig.run(0.5)
    rig.board.stand_in()
    rig.run(6)
    rig.clock.wait(40)
    status = rig.board.fetch()
    assert status.state == "rest"
    assert status.cause == "silence"


def test_resistance_by_hand_takes_the_nearest_rung(rig):
    rig.ready()
    set_ohm = rig.board.set_resistance(1234.0)
    assert set_ohm == pytest.approx(1234.0, abs=25)
    with pytest.raises(Refused, match="outside the ladder"):
        rig.board.set_resistance(90000.0)


def test_refusals_carry_the_boards_words(rig):
    with pytest.raises(Refused, match="stand in refused in state rest"):
        rig.board.stand_in()
    with pytest.raises(Refused, match="crc"):
        rig.board.upload_plan(steps.plan_block(rig.step(10, 1000.0))[:-1] + b"\x00")


def test_line_above_its_limit_refuses_standing_in(rig):
    rig.world.open_v, rig.world.sensor_ohm = 12.0, 1e9
    rig.run(1)
    rig.ready(2500.0)
    with pytest.raises(Refused, match="Line out of range"):
        rig.board.stand_in()


def test_self_check_trips_when_the_module_is_not_what_the_plan_says(rig):
    rig.ready(2500.0)
    rig.run(0.5)
    rig.board.stand_in()
    rig.run(1)
    rig.world.pull_up_ohm = 1500.0
    status = rig.run(3)
    assert (status.state, status.cause) == ("tripped", "self_check")
    rig.board.clear_trip()
    assert rig.board.fetch().state == "rest"


def test_lines_marks_and_modulation(rig):
    rig.board.set_line_kinds(["switched", "pwm", "switched", "switched", "switched", "ignore"])
    rig.board.clear_record()
    rig.world.marks.append(2600)
    rig.world.edges += [(1334, 1, 1), (4421, 1, 0)]
    for k in range(500):  # 50 Hz, 30 %
        rig.world.edges += [(1000 + 20 * k, 2, 1), (1006 + 20 * k, 2, 0)]
    rig.world.edges += [(12_000 + 5 * k, 3, k & 1) for k in range(400)]  # a flood
    rig.world.edges.sort()
    rig.run(16)
    chunk = record(rig)
    assert list(chunk.marks["t_ms"]) == [2500]
    ones = chunk.edges[chunk.edges["line"] == 1]
    assert [(t, level) for t, _, level in ones if t > 0] == [(1234, 1), (4321, 0)]
    assert not np.any(chunk.edges["line"] == 6)
    duties = chunk.duties[chunk.duties["line"] == 2]
    inside = duties[(duties["t_ms"] > 2000) & (duties["t_ms"] < 10000)]
    assert np.all(abs(inside["permille"] - 300) <= 130)
    assert np.sum(chunk.edges["line"] == 3) < 120
    assert np.any(chunk.duties["line"] == 3)


def test_self_calibration_reading_is_the_networks(rig):
    words = (100, steps.OUT, steps.OUT, steps.OUT)
    reading = rig.board.measure_ohm(words, 0, 1, 64)
    reference = rig.truth.range_ohm[1]
    ohm = float(rig.truth.ohm(np.array([100, 0, 0, 0]), np.array([0, 1, 1, 1], bool), 0))
    assert reading.counts == pytest.approx(4096 * ohm / (ohm + reference), abs=12)


def test_long_plan_is_fed_while_it_runs(rig):
    rig.ready(2500.0)
    parts = []
    rows = b"".join(rig.step(100, 2500.0 - i % 3 * 50) for i in range(10))
    for number in range(6):
        parts.append(
            steps.plan_block(
                rows, plan_id=3, part=number, first_step=10 * number, total_steps=60,
                flags=steps.APPENDED if number else 0,
            )
        )  # fmt: skip
    rig.board.upload_plan(parts, "long")
    rig.board.run()
    status = rig.run(7)
    assert status.state == "holding"
    assert status.step == 59
    assert status.cause == "ended"


def test_the_same_seed_gives_the_same_record(new_rig):
    def one():
        rig = new_rig(seed=5)
        rig.world.glitches.append((3000, 3100))
        rig.run(10)
        return b"".join(rig.blocks)

    assert one() == one()


def test_trip_is_a_board_fault_only_where_the_board_is_broken(rig):
    rig.body.hands.self_test = lambda: (False, "wiper 2 does not read back")
    passed, text = rig.board.self_test()
    assert not passed
    assert text == "wiper 2 does not read back"
    assert issubclass(BoardFault, RuntimeError)


def test_full_ring_counts_what_is_lost_and_says_where(new_rig, tiny_world):
    from locum.bodies.virtual import VirtualBody

    rig = new_rig()
    body = VirtualBody(tiny_world(), rig.truth, rig.sheet, slots=128)
    body.receive(b"TRAC:CLE\n")
    body.advance(200_000)
    decoder = Decoder()

    def drain():
        answer = body.receive(b"TRAC:DATA?\n")
        return decoder.feed(answer[2 + int(answer[1:2]) : -1])

    first = drain()
    body.advance(5000)
    second = drain()
    assert first.end_ms < 70_000
    assert len(second.gaps) == 1
    assert second.gaps["t_ms"][0] == first.end_ms
    assert second.gaps["until_ms"][0] == second.samples["t_ms"][0] > 199_000
    assert second.gaps["lost"][0] == decoder.lost > 100
