"""The invariant's monitor sees what it is for: each kind of lie is found out."""

import pytest

from locum_board import steps


def held(rig):
    rig.ready(2500.0)
    rig.board.stand_in()
    rig.run(2)
    assert not rig.monitor.breaches
    return rig


def breach(rig):
    assert rig.monitor.breaches
    return " ".join(rig.monitor.breaches)


def test_relay_that_closes_unasked(new_rig):
    rig = new_rig()
    rig.body.hands.relay(1)
    rig.run(1)
    assert "without having been asked" in breach(rig)


def test_relay_that_sticks(new_rig):
    rig = held(new_rig())
    rig.body.hands.relay = lambda on: None
    rig.board.real_sensor_now()
    rig.run(1)
    assert "without having been asked" in breach(rig)


def test_wiper_that_goes_astray(new_rig):
    rig = held(new_rig())
    rig.body.hands.wipers(200, 7, steps.OUT, steps.OUT, 0)
    rig.run(1)
    assert "value from nowhere" in breach(rig)


def test_contact_that_opens_by_itself(new_rig):
    rig = held(new_rig())
    rig.body.hands.contact(1)
    rig.run(1)
    assert "nobody asked for" in breach(rig)


def test_injection_that_does_not_end(new_rig):
    rig = held(new_rig())
    rig.body.hands.contact_was = rig.body.hands.contact
    rig.board.open_(100)
    rig.body.hands.contact = lambda kind: None
    rig.run(1)
    assert "nobody asked for" in breach(rig)


def test_board_that_does_not_mind_silence(new_rig):
    rig = held(new_rig())
    rig.body.player._listen_for_host = lambda now_ms: None
    rig.clock.wait(30)
    assert "host silent" in breach(rig)


def test_board_that_forgets_its_longest_time(new_rig):
    rig = new_rig()
    rig.board.set_limits(standing_s=10)
    held(rig)
    rig.body.player.standing_ms = 1 << 28
    rig.run(10)
    assert "longer than allowed" in breach(rig)


def test_way_home_that_is_a_jump(new_rig):
    rig = new_rig()
    rig.ready(2500.0)
    rig.board.stand_in()
    rig.run(6)
    rig.world.sensor_ohm = 6000.0
    rig.run(6)
    rig.body.player.return_rate = 60_000
    rig.board.ease_back()
    rig.run(2)
    assert "walked" in breach(rig)


def test_an_honest_run_is_clean(rig):
    held(rig)
    rig.monitor.breaches.append("x")
    with pytest.raises(AssertionError):
        rig.monitor.assert_clean()
    rig.monitor.breaches.clear()
