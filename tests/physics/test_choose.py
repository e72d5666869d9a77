"""Choosing codes: errors, currents, excursions, refusals, the ladder."""

import itertools
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.errors import Misuse
from locum.locations import asset_root
from locum.physics.choose import choose_codes, excursion_c, ladder
from locum.physics.circuit import Thevenin, current_a
from locum.physics.curve import NtcCurve
from locum.physics.excursion import best_orders
from locum.physics.layout import parse_layout
from locum.physics.network import Network, Wiper
from locum.physics.path import cheapest
from locum.physics.pot import rheostat_table_ohm
from locum.sheets.board import read_board


def board(name: str) -> Network:
    return Network.from_board(
        read_board((asset_root("hardware/boards") / f"{name}.toml").read_text())
    )


REFERENCE, STARTER = board("reference"), board("starter")
HARD = Thevenin(5.0, 1000.0)
CURVE_B = NtcCurve(1.33514771e-3, 2.56168319e-4, 1.49630613e-7)  # 2.5 kohm at 20 degC
CURVE_A = NtcCurve(9.20113738e-4, 2.68650219e-4, 1.05038939e-7)  # 8 kohm at 20 degC


def errors_c(curve, choice):
    return np.abs(curve.temperature_c(choice.set_ohm) - curve.temperature_c(choice.target_ohm))


@pytest.mark.parametrize("curve", [CURVE_A, CURVE_B])
@pytest.mark.parametrize(
    ("low", "high", "worst_c"), [(120, 40e3, 0.06), (66, 120, 0.5), (40e3, 79e3, 0.15)]
)
def test_errors_and_currents_on_the_nominal_board(curve, low, high, worst_c):
    ohm = np.geomspace(low, high, 1500)
    choice = choose_codes(REFERENCE, ohm, HARD)
    assert not choice.refusals
    assert errors_c(curve, choice).max() <= worst_c
    assert choice.wiper_a.max() <= 2.5e-3


def test_set_ohms_and_currents_are_those_of_the_codes():
    ohm = CURVE_B.resistance_ohm(np.linspace(-20, 120, 300))
    choice = choose_codes(REFERENCE, ohm, HARD)
    np.testing.assert_allclose(
        choice.set_ohm, REFERENCE.resistance_ohm(choice.codes, choice.out, choice.hot), rtol=1e-12
    )
    line = current_a(HARD, choice.set_ohm)
    branches = REFERENCE.wiper_a(choice.codes, choice.out, choice.hot.astype(int), line)
    np.testing.assert_allclose(choice.wiper_a, branches, rtol=2e-3, atol=1e-9)


@given(st.floats(0.8, 1.2), st.floats(0.8, 1.2), st.floats(50, 160), st.floats(130, 39e3))
@settings(max_examples=60, deadline=None)
def test_any_board_within_tolerance_sets_any_value(ten, hundred, wiper, ohm):
    factors = (ten, ten * 1.003, hundred, hundred * 0.997)
    wipers = tuple(
        replace(w, table_ohm=rheostat_table_ohm((w.table_ohm[-1] - 75.0) * f, wiper, 257))
        for w, f in zip(REFERENCE.wipers, factors, strict=True)
    )
    choice = choose_codes(replace(REFERENCE, wipers=wipers), [ohm], HARD)
    assert not choice.refusals
    assert errors_c(CURVE_A, choice)[0] <= 0.06
    assert choice.wiper_a.max() <= 1.4e-3 * 1.05


def passes_through(network, choice, step):
    """Every value on the way into a step, written in the order that the ranks say."""
    codes, out = choice.codes[step - 1].copy(), choice.out[step - 1].copy()
    hot = int(choice.hot[step - 1])
    rank = choice.rank[step]
    order = [int(i) for i in np.argsort(rank, kind="stable")]
    order.insert(int((rank < 2).sum()), -1)
    for item in order:
        if item < 0:
            hot = int(choice.hot[step])
        else:
            codes[item], out[item] = choice.codes[step, item], choice.out[step, item]
        yield float(network.resistance_ohm(codes, out, hot))


def test_the_stated_excursion_is_the_worst_value_on_the_way():
    wave = CURVE_B.resistance_ohm(60 + 70 * np.sin(np.linspace(0, 9, 400)))
    choice = choose_codes(REFERENCE, wave, HARD)
    assert len(np.unique(choice.hot)) > 2  # hot branches do change in it
    for step in range(1, len(wave)):
        ends = sorted(choice.set_ohm[step - 1 : step + 1])
        way = np.array(list(passes_through(REFERENCE, choice, step)))
        outside = np.maximum(np.maximum(np.log(way / ends[1]), np.log(ends[0] / way)), 0)
        assert choice.excursion_ln[step] == pytest.approx(outside.max(), abs=1e-9)


def test_the_order_of_writes_is_the_best_of_all():
    rng = np.random.default_rng(5)
    siemens = 1.0 / rng.choice(REFERENCE.wipers[0].table_ohm, (30, 4))
    hot = np.zeros(30, np.uint8)
    _, worst_ln = best_orders(REFERENCE, siemens, hot)
    for step in range(1, 30):
        ends = [np.log(36 + 1 / siemens[i].sum()) for i in (step - 1, step)]
        best = np.inf
        for order in itertools.permutations(range(4)):
            now, far = siemens[step - 1].copy(), 0.0
            for wiper in order:
                now[wiper] = siemens[step, wiper]
                ln = np.log(36 + 1 / now.sum())
                far = max(far, ln - max(ends), min(ends) - ln)
            best = min(best, far)
        found = max(worst_ln[step] - max(ends), min(ends) - worst_ln[step], 0.0)
        assert found == pytest.approx(best, abs=1e-12)


def test_excursions_of_a_slow_sweep_are_small():
    celsius = np.arange(-20, 118, 0.05)
    ohm = CURVE_B.resistance_ohm(celsius)
    alpha = np.abs(CURVE_B.slope_ohm_per_k(celsius)) / ohm
    passed = excursion_c(choose_codes(REFERENCE, ohm, HARD, alpha_per_k=alpha), CURVE_B)
    assert np.quantile(passed, 0.99) <= 2.0
    assert passed.max() <= 15.0
    assert passed.max() > 0.0


def test_the_block_path_is_the_cheapest():
    rng = np.random.default_rng(1)
    for n in (1, 2, 3, 17, 50):
        node = rng.random((n, 4)).astype(np.float32)
        edge = rng.random((max(n - 1, 0), 4, 4)).astype(np.float32)
        total = node[0].astype(float)
        for i in range(1, n):
            total = (total[:, None] + edge[i - 1]).min(axis=0) + node[i]
        path = cheapest(node, edge)
        cost = node[np.arange(n), path].sum() + sum(
            edge[i, path[i], path[i + 1]] for i in range(n - 1)
        )
        assert cost == pytest.approx(total.min(), rel=1e-5)


def test_a_plan_goes_on_from_where_another_ended():
    first = choose_codes(REFERENCE, [500.0], HARD)
    second = choose_codes(REFERENCE, [505.0, 510.0], HARD, start=first)
    assert len(second.set_ohm) == 2
    changed = (first.codes[-1] != second.codes[0]) & ~(first.out[-1] & second.out[0])
    assert changed.sum() <= 2  # a small move changes few wipers


def test_values_out_of_reach_are_refused_with_the_limit_and_held_at_it():
    choice = choose_codes(REFERENCE, [50.0, 300.0, 95e3], HARD)
    assert [r.code for r in choice.refusals] == ["reach", "reach"]
    assert "66" in choice.refusals[0].text
    assert "80000 ohm" in choice.refusals[1].text
    assert choice.set_ohm[0] == pytest.approx(66, rel=0.01)
    assert choice.set_ohm[2] == pytest.approx(80e3, rel=0.01)


def test_a_current_limit_that_binds_is_named():
    choice = choose_codes(STARTER, [120.0], HARD, max_wiper_a=1e-3)
    assert [r.code for r in choice.refusals] == ["branch_current"]
    assert "1.00 mA" in choice.refusals[0].text
    assert choice.wiper_a.max() <= 1e-3


def test_a_pull_up_above_the_supply_is_refused():
    choice = choose_codes(REFERENCE, [1000.0], Thevenin(8.0, 1000.0))
    assert "pull_up_voltage" in [r.code for r in choice.refusals]


@pytest.mark.parametrize("bad", [[], [0.0], [-5.0], [np.nan], [np.inf]])
def test_targets_that_are_no_resistances_are_misuse(bad):
    with pytest.raises(Misuse):
        choose_codes(REFERENCE, bad, HARD)


def test_the_starter_board_sets_half_steps():
    # Reference circuit: half steps at most 0.03 K with both wipers on curve A's warm side.
    choice = choose_codes(STARTER, CURVE_A.resistance_ohm(np.linspace(40, 110, 700)), HARD)
    assert not choice.refusals
    assert np.sqrt(np.mean(errors_c(CURVE_A, choice) ** 2)) <= 0.03


def test_pots_in_series_find_the_nearest_of_all_states():
    wipers = tuple(
        Wiper(f"P{i + 1}", "", 1, i, rheostat_table_ohm(rab, 75.0, 129), can_leave=False)
        for i, rab in enumerate((50e3, 5e3))
    )
    network = Network(wipers, series_ohm=33.0, layout=parse_layout("R0 + P1 + P2"))
    targets = np.array([3210.0, 20_000.0, 41_000.0])
    choice = choose_codes(network, targets, Thevenin(5.0, 10e3))
    every = 33.0 + np.add.outer(wipers[0].table_ohm, wipers[1].table_ohm).reshape(-1)
    nearest = np.array([every[np.argmin(np.abs(np.log(every / t)))] for t in targets])
    np.testing.assert_allclose(np.abs(np.log(choice.set_ohm / targets)),
                               np.abs(np.log(nearest / targets)), atol=2e-3)  # fmt: skip


def test_the_ladder_rises_and_steps_are_small():
    rungs = ladder(REFERENCE, HARD)
    assert 400 < len(rungs.set_ohm) <= 512
    assert np.all(np.diff(rungs.set_ohm) > 0)
    assert rungs.set_ohm[0] < 70
    assert rungs.set_ohm[-1] > 78e3
    assert np.diff(np.log(rungs.set_ohm)).max() < 0.05
    assert np.quantile(rungs.excursion_ln, 0.9) < 0.05


def test_cost_is_linear():
    def seconds(steps):
        ohm = CURVE_B.resistance_ohm(50 + 40 * np.sin(np.linspace(0, 9, steps)))
        begin = time.process_time()
        choose_codes(REFERENCE, ohm, HARD)
        return time.process_time() - begin

    seconds(1000)
    assert seconds(40_000) / 40_000 < 3 * seconds(10_000) / 10_000
