"""The virtual board: within its data sheets, and not of the kind a fit expects."""

import numpy as np
import pytest

from locum.virtual.analog import NetworkTruth
from locum.virtual.converter import Converter

WIPERS = 4
ALL_OUT = np.ones(WIPERS, bool)


def board(seed=1, ambient_c=23.0, sheet=None):
    return NetworkTruth(sheet or {}, seed, ambient_c)


def sweep(truth, wiper, node_v=0.0):
    """True ohms of one wiper alone for all codes."""
    codes = np.zeros((257, WIPERS), int)
    codes[:, wiper] = np.arange(257)
    out = np.tile(ALL_OUT, (257, 1))
    out[:, wiper] = False
    return truth.ohm(codes, out, 0, node_v)


def test_pots_stay_within_twenty_percent_and_boards_differ():
    # MCP4251 data sheet (DS22060B): end to end +-20 %, wiper 75 ohm typical, 160 greatest at 5.5 V
    ends = np.array([[sweep(board(seed), w)[-1] for w in range(WIPERS)] for seed in range(40)])
    for wiper, rab in enumerate((1e4, 1e4, 1e5, 1e5)):
        assert np.all(np.abs(ends[:, wiper] - 130) < 1.2 * rab + 100)
        assert ends[:, wiper].min() < 0.9 * rab
        assert ends[:, wiper].max() > 1.1 * rab
    floors = np.array([sweep(board(seed), 0)[0] - 36 for seed in range(40)])
    assert floors.min() > 45
    assert floors.max() < 165


def test_non_linearity_is_there_and_within_its_limit():
    # DS22060B: rheostat INL at 5.5 V up to 1.5 LSB for 10 kohm
    worst = []
    for seed in range(20):
        ohm = sweep(board(seed), 1)
        straight = np.interp(np.arange(257), [0, 256], ohm[[0, -1]])
        worst.append(np.max(np.abs(ohm - straight)) / ((ohm[-1] - ohm[0]) / 256))
    assert np.median(worst) > 0.2
    assert max(worst) < 1.5


def test_wiper_resistance_rises_with_voltage_and_differs_within_a_chip():
    truth = board(3)
    rise = np.array([sweep(truth, w, 2.5)[0] - sweep(truth, w, 0.0)[0] for w in range(WIPERS)])
    assert np.all(rise > 5)
    assert rise[0] != pytest.approx(rise[1], rel=1e-4)


def test_warmth_moves_everything_a_little():
    cold, warm = board(5, 3.0), board(5, 43.0)
    change = sweep(warm, 0) / sweep(cold, 0) - 1
    # wiper switches: about 0.35 %/K; ladder: 50-150 ppm/K on the data sheet
    assert 0.05 < change[0] < 0.25
    assert abs(change[-1]) < 0.01
    before = warm.series_ohm
    warm.run(3600)
    assert warm.board_c == pytest.approx(43 + 5, abs=0.2)
    assert warm.series_ohm != before


def test_same_seed_same_board_and_same_noise():
    codes = np.array([[3, 200, 17, 256]])
    out = np.zeros((1, WIPERS), bool)
    one, two = board(9), board(9)
    assert np.array_equal(one.ohm(codes, out, 0), two.ohm(codes, out, 0))
    volts = np.full(500, 1.7)
    assert np.array_equal(one.node_counts(volts), two.node_counts(volts))
    assert not np.array_equal(one.node_counts(volts), board(10).node_counts(volts))


@pytest.mark.parametrize(
    ("codes", "out", "hot"),
    [
        ((10, 20, 30, 40), (0, 0, 0, 0), 0),
        ((5, 20, 30, 40), (0, 1, 0, 0), 1),
        ((0, 0, 0, 0), (1, 1, 1, 1), 3),
        ((256, 256, 256, 256), (1, 1, 0, 1), 0),
    ],
)
def test_the_short_way_agrees_with_the_vectorised_one(codes, out, hot):
    truth = board(4)
    for pull_up in (1000.0, 10000.0):
        node_v, ohm = truth.standin_on(5.0, pull_up, np.array(codes), np.array(out, bool), hot)
        quick_v, quick_ohm = truth.one(codes, out, hot, 5.0, pull_up)
        assert quick_ohm == pytest.approx(float(ohm), rel=2e-4)
        assert quick_v == pytest.approx(float(node_v), abs=2e-5)


def test_two_branches_conduct_side_by_side():
    truth = board(6)
    codes = np.array([100, 100, 100, 100])

    def net(out, hot=0):
        return float(truth.ohm(codes, np.array(out, bool), hot)) - truth.series_ohm

    both = 1 / (1 / net([0, 1, 1, 1]) + 1 / net([1, 0, 1, 1]))
    assert net([0, 0, 1, 1]) == pytest.approx(both, rel=1e-3)
    assert net([1, 1, 1, 1], hot=1) == pytest.approx(150, abs=1)
    assert net([1, 1, 1, 1], hot=3) == pytest.approx(150 * 330 / 480, abs=1)
    assert net([1, 1, 1, 1]) > 1e6


def test_ohmmeter_counts_tell_the_resistance_within_its_errors():
    truth = board(8)
    ohm = np.array([100.0, 300.0, 1500.0, 4000.0, 12000.0, 60000.0])
    rk = np.array([1500.0, 12050.0, 100750.0])
    index = np.array([0, 0, 0, 1, 1, 2])
    on, off = truth.ohm_counts_of(index, ohm, samples=16)
    x = (on - off) / 4096
    read = rk[index] * x / (1 - x)
    # Figures of the reference circuit: 0.2-0.8 % at 95 % for one reading, uncorrected offset on top
    np.testing.assert_allclose(read, ohm, rtol=0.025)
    assert np.all(np.abs(read / ohm - 1) > 0)


def test_the_ohmmeter_by_floats_agrees_with_the_vectorised_one():
    truth = board(5)
    rng = np.random.default_rng(2)
    for _ in range(40):
        codes, out = rng.integers(0, 257, 4), rng.random(4) < 0.3
        reference = float(truth.range_ohm[int(rng.integers(0, 3))])
        pin_v = np.asarray(truth.vref_v / 2)
        for _ in range(8):
            ohm = truth.ohm(codes, out, 1, pin_v)
            pin_v = truth.vref_v * ohm / (ohm + reference)
        quick = truth._plain.metered_ohm(codes, out, 1, truth.vref_v, reference)
        assert quick == pytest.approx(float(ohm), rel=1e-6)


def test_a_whole_sweep_is_one_call_and_rounds_to_counts():
    truth = board(2)
    codes = np.zeros((257, WIPERS), int)
    codes[:, 0] = np.arange(257)
    out = np.tile(ALL_OUT, (257, 1))
    out[:, 0] = False
    on, off = truth.ohm_counts(1, codes, out, 0, samples=1)
    assert on.shape == off.shape == (257,)
    assert np.array_equal(on, np.round(on))
    assert np.all(np.diff(on[::8]) > 0)


def test_node_counts_follow_the_divider_and_stop_at_the_buffer_floor():
    truth = board(7)
    volts = np.array([0.0, 0.01, 0.5, 2.5, 4.9])
    counts = np.mean([truth.node_counts(volts) for _ in range(200)], axis=0)
    np.testing.assert_allclose(counts[2:], volts[2:] / 2 / 3.3 * 4096, atol=12)
    assert counts[0] == pytest.approx(counts[1], abs=0.5)
    assert counts[0] > 15


def test_converter_stays_within_its_grade_and_averages_as_its_readings_do():
    # MCP3208 B grade: INL +-1 LSB
    for seed in range(10):
        adc = Converter(12, 3.3, np.random.default_rng(seed))
        assert 0.3 < np.max(np.abs(adc.inl_lsb)) <= 1.0
        volts = np.linspace(0.05, 3.2, 50)
        many = np.mean([adc.counts(volts) for _ in range(400)], axis=0)
        mean = np.mean([adc.mean_counts(volts, 64) for _ in range(40)], axis=0)
        np.testing.assert_allclose(many, mean, atol=0.12)
    assert Converter(12, 3.3, np.random.default_rng(0)).counts(np.array([9.0, -1.0])).tolist() == [
        4095,
        0,
    ]
