"""Rules that keep innocent parts out of it, each on drives made by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from locum.jobs.trial import run_cases
from locum.verdict.evidence import Account, Drive, Evidence, Glitches, Known, Stretch
from locum.verdict.look_back import Rules
from locum.verdict.pool import pool
from locum.verdict.weigh import assess, weigh
from locum.virtual.scenario_file import parse_scenario

ALL = Known(after_min=20.0)
LENGTHS = (0.05, 0.1, 0.2, 0.4, 0.8, 1.6)
DELAY_S = 6.0


def made(tap="none", glitches=(), masked=(), injected=(), felt=(), own=(), cold=True, hours=2.0):
    """A drive, half real and half hold where it is cut in; the module answers 0.3 s after 6 s.

    ``glitches`` in the first half, ``masked`` in the second: seconds; each 1 s long.
    """
    end = hours * 3600.0
    half = 0.5 * end
    answered = [t + DELAY_S for t in (*glitches, *(t for t, length in injected if length >= 0.3))]
    release = np.sort(np.array([*answered, *(t + 0.3 for t in own)]))
    node = Glitches(np.array(glitches), np.ones(len(glitches)), np.full(len(glitches), cold))
    ohm = Glitches(np.array(masked), np.ones(len(masked)), np.ones(len(masked), bool))
    return Drive(
        hours, ((1200.0, end),),
        (Stretch(0, half, "real", "still"), Stretch(half, end, "hold" if tap != "none" else "real", "normal" if tap == "none" else "still")),
        tap=tap, node=node if tap != "none" else None, under_mask=ohm if tap != "none" else None,
        injected_t_s=np.array([t for t, _ in injected]),
        injected_length_s=np.array([length for _, length in injected]),
        release_t_s=release, release_regain_s=np.full(len(release), 4.0),
        brake_t_s=np.array(own), brake_length_s=np.full(len(own), 2.0),
        throttle_t_s=np.array(own), mark_t_s=np.sort(np.array([*felt, *(t + 2.0 for t in answered)])),
        offset_t_s=np.empty(0), offset_length_s=np.empty(0),
    )  # fmt: skip


PLAYED = tuple((3700.0 + 90.0 * i, length) for i, length in enumerate(LENGTHS * 4))
HEARD = (1500.0, 2200.0, 2900.0, 3400.0)


def at_the_sensor(cold):
    module = made("module", HEARD, (), PLAYED)
    return Evidence(ALL, None, (module, made("sensor", HEARD[:3], (), (), cold=cold)))


def test_cut_in_at_the_sensor_the_direction_of_a_glitch_tells_its_side():
    """An open beyond the cut lifts the line; one before it takes the pull-up away."""
    assert weigh(at_the_sensor(cold=True)).conclusion == "sensor_side"
    assert weigh(at_the_sensor(cold=False)).conclusion == "harness"


def test_without_the_modules_end_a_fall_of_the_line_tells_no_side():
    only = at_the_sensor(cold=False).drives[1:]
    assert weigh(Evidence(ALL, None, only)).conclusion != "harness"


def test_a_late_answer_to_our_own_glitch_is_no_kick_out_before_the_delay_is_known():
    few = made("module", (), (), PLAYED[3:5])
    counted = pool(Evidence(ALL, None, (few,)))
    assert not counted.cold.measured
    assert counted.bursts() == []


MASKED = (6200.0, 6500.0, 6800.0)


def conclusion_of(*drives):
    return assess(Evidence(ALL, None, drives))[0]


def test_a_masked_glitch_long_enough_counts_as_the_kick_out_it_would_have_made():
    """One kick-out seen to follow its glitch is too few; with three masked ones it is the circuit."""
    assert conclusion_of(made("module", HEARD[:1], (), PLAYED)) == "undecided"
    assert conclusion_of(made("module", HEARD[:1], MASKED, PLAYED)) == "sensor_circuit"


def test_masked_glitches_alone_blame_nobody():
    """Nothing was ever seen to follow the circuit's own glitch."""
    assert conclusion_of(made("module", (), MASKED, PLAYED)) == "undecided"


def test_masked_glitches_among_as_many_kick_outs_without_one_blame_nobody():
    drive = made("module", HEARD[:1], MASKED, PLAYED)
    free = np.array([1361.0, 1761.0, 2161.0, 2561.0, 6000.0, 6361.0, 6661.0, 7000.0])
    other = np.sort(np.concatenate((drive.release_t_s, free)))
    drive = replace(
        drive, release_t_s=other, release_regain_s=np.full(len(other), 4.0), mark_t_s=other + 2.0
    )
    assert conclusion_of(drive) == "undecided"


def unexplained(channels=("node", "ohmmeter_under_mask", "brake", "converter", "button"), free=()):
    """Four drives cut in at the module's end; the kick-outs of each follow nothing that is wired."""
    drive = made("module", (), (), PLAYED)
    release = np.sort(np.concatenate((drive.release_t_s, free)))
    drive = replace(
        drive, release_t_s=release, release_regain_s=np.full(len(release), 4.0),
        mark_t_s=release + 2.0, throttle_t_s=None, offset_t_s=None, offset_length_s=None,
    )  # fmt: skip
    known = replace(ALL, budget_h=20.0, channels=channels)
    return Evidence(known, None, (drive,) * 4)


BOTH = (261.0, 561.0, 861.0, 1561.0, 2161.0, 6000.0, 6500.0)
"""Where the fault cannot show, with the real sensor, under the stand-in."""


def test_what_no_wired_line_can_tell_is_not_driven_for_but_wired():
    conclusion, advice = assess(unexplained(free=BOTH))
    assert (conclusion, advice.kind, advice.plan) == ("undecided", "stop", None)
    assert "the throttle's line tells the driver's own acts" in advice.words
    assert "the sensor's return tells a bad ground" in advice.words


def test_quiet_under_the_stand_in_is_driven_on():
    """Kick-outs with the real sensor alone may still blame the circuit."""
    assert assess(unexplained(free=BOTH[3:5]))[1].plan is not None


def test_with_every_line_wired_there_is_nothing_to_wire():
    everything = unexplained(channels=ALL.channels, free=BOTH)
    drives = tuple(
        replace(d, throttle_t_s=np.empty(0), offset_t_s=np.empty(0), offset_length_s=np.empty(0))
        for d in everything.drives
    )
    assert "Wire" not in assess(replace(everything, drives=drives))[1].words


def felt_drives(rate_felt, own=()):
    drives = []
    for n in range(5):
        felt = [1500.0 + 700.0 * i + 31.0 * n for i in range(rate_felt)]
        drives.append(made(felt=felt, own=own))
    return tuple(drives)


def test_felt_without_a_command_blames_the_outputs():
    told = Account(8, 6.0, 3)
    assert weigh(Evidence(ALL, told, felt_drives(3))).conclusion == "outputs_or_hydraulics"


@pytest.mark.parametrize(
    ("told", "felt", "own"),
    [
        (Account(300, 6.0, 3), 3, ()),
        (Account(8, 6.0, 3), 1, ()),
        (Account(30, 6.0, 3), 2, tuple(4000.0 + 150.0 * i for i in range(12))),
    ],
    ids=[
        "a complaint far more frequent",
        "as often as one imagines it",
        "own acts felt more often",
    ],
)
def test_the_outputs_are_not_blamed_for(told, felt, own):
    drives = felt_drives(felt, own)
    marks = [
        replace(d, mark_t_s=np.sort(np.append(d.mark_t_s, [t + 1.5 for t in own]))) for d in drives
    ]
    assert weigh(Evidence(ALL, told, tuple(marks))).conclusion != "outputs_or_hydraulics"


def test_a_short_cold_drive_is_advised_where_it_tells_how_much_is_imagined():
    conclusion, advice = assess(Evidence(ALL, Account(8, 6.0, 3), felt_drives(4)[:1]))
    assert (conclusion, advice.kind) == ("undecided", "cold")
    assert advice.plan.hours == pytest.approx(ALL.after_min / 60)


def misread(channels):
    """Twelve own acts an hour with the foot free are felt, none with the foot still."""
    own = tuple(3700.0 + 300.0 * i for i in range(11))
    drives = tuple(made(felt=[t + 1.5 for t in own], own=own) for _ in range(4))
    return Evidence(replace(ALL, channels=channels), Account(20, 6.0, 1), drives)


def test_normal_needs_the_drivers_acts_to_be_seen():
    assert weigh(misread(ALL.channels)).conclusion == "normal"
    blind = tuple(name for name in ALL.channels if name != "brake")
    assert weigh(misread(blind)).conclusion != "normal"


def test_unmeasured_the_reach_of_an_injection_is_long_and_measured_it_is_the_delay():
    counted = pool(Evidence(ALL, None, (made("module", HEARD, (), PLAYED),)))
    assert counted.cold.measured
    assert counted.rules.injected_reach_s == counted.cold.delay_s[1] < 12.0
    rules = Rules(replace(counted.cold, measured=False), replace(counted.rules.hot, measured=False))
    assert rules.injected_reach_s >= 15.0


UNEVEN = """schema = 1
rate = {bursts_per_exposed_h = 3.0, case_shape = 1.0, drive_shape = 0.5, worst_of_spells = 6}
trial = {budget_h = 20.0, drive_h = 2.0}
[driver]
own_downshifts_per_h = 30.0
unnoticed_share = 0.1
still_foot_factor = 0.3
disobeys = 0.1
"""


@pytest.mark.parametrize("culprit", ["ground", "another_input", "hydraulic", "nothing"])
def test_rates_that_differ_wildly_between_drives_do_not_blame_the_circuit(culprit):
    """Over all looks of a case; 40 cases, the limit of 2 % allows two before p < 0.05."""
    results = run_cases(parse_scenario(UNEVEN, "uneven"), 40, 11, workers=1, culprit=culprit)
    assert sum(r.outcome in ("blamed_wrongly", "wrongly_cleared") for r in results) <= 2
