"""Networks: from the board sheet, in any layout, with currents that add up."""

import copy

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from locum.locations import asset_root
from locum.physics.layout import leaf_names, parse_layout
from locum.physics.network import Network
from locum.sheets.board import read_board

SHEET = read_board((asset_root("hardware/boards") / "reference.toml").read_text())
REFERENCE = Network.from_board(SHEET)
ALL_IN = [False] * 4
codes_of_four = st.tuples(*[st.integers(0, 256)] * 4)


def parallel(*ohms):
    return 1.0 / sum(1.0 / ohm for ohm in ohms)


def test_the_floor_of_the_reference_board():
    # Reference circuit: wiper 75 ohm, all hot branches on, 36 ohm in series: 52 ohm.
    assert REFERENCE.side_by_side
    found = REFERENCE.resistance_ohm([0, 0, 0, 0], ALL_IN, 3)
    assert found == pytest.approx(36 + parallel(75, 75, 75, 75, 150.1, 330.1))
    assert round(float(found)) == 52


def test_a_wiper_that_left_does_not_conduct():
    only_p4 = REFERENCE.resistance_ohm([0, 0, 0, 256], [True, True, True, False], 0)
    assert only_p4 == pytest.approx(36 + 100_075)
    assert np.isinf(REFERENCE.resistance_ohm([0] * 4, [True] * 4, 0))


@given(codes_of_four, st.integers(0, 3))
def test_branch_currents_add_up_to_the_line(codes, hot):
    line_a = 2e-3
    wipers = REFERENCE.wiper_a([codes], [ALL_IN], np.array([hot]), np.array([line_a]))[0]
    volts = line_a * (REFERENCE.resistance_ohm(codes, ALL_IN, hot) - 36.0)
    branches = sum(volts / 150.1 if bit == 1 else volts / 330.1 for bit in (1, 2) if hot & bit)
    assert wipers.sum() + branches == pytest.approx(line_a)


@given(codes_of_four, st.permutations(range(4)))
def test_exchanging_wipers_changes_nothing(codes, order):
    sheet = copy.deepcopy(SHEET)
    sheet["network"]["wiper"] = [SHEET["network"]["wiper"][i] for i in order]
    swapped = Network.from_board(sheet)
    moved = [codes[i] for i in order]
    assert swapped.resistance_ohm(moved, ALL_IN, 1) == pytest.approx(
        float(REFERENCE.resistance_ohm(codes, ALL_IN, 1)), rel=1e-12
    )


@given(codes_of_four)
def test_a_higher_code_never_gives_fewer_ohms(codes):
    before = REFERENCE.resistance_ohm(codes, ALL_IN, 0)
    for wiper in range(4):
        if codes[wiper] < 256:
            more = list(codes)
            more[wiper] += 1
            assert REFERENCE.resistance_ohm(more, ALL_IN, 0) > before


def test_the_written_layout_and_the_usual_one_agree():
    sheet = copy.deepcopy(SHEET)
    sheet["network"]["layout"] = "R0 + ((P1 | P2) | (P3 | P4) | HOT1 | HOT2)"
    written = Network.from_board(sheet)
    assert not written.side_by_side
    codes, out, hot = [[10, 20, 30, 40]] * 2, [ALL_IN, [True, False, False, True]], [3, 0]
    np.testing.assert_allclose(
        written.resistance_ohm(codes, out, hot), REFERENCE.resistance_ohm(codes, out, hot)
    )
    np.testing.assert_allclose(
        written.wiper_a(codes, out, np.array(hot), np.array([1e-3, 1e-3])),
        REFERENCE.wiper_a(codes, out, np.array(hot), np.array([1e-3, 1e-3])),
        atol=1e-12,
    )


def test_series_and_fixed_parts_by_hand():
    tree = parse_layout("R0 + (P1 + 470 | P2) + 10")
    assert leaf_names(tree) == ["R0", "P1", "P2"]
    leaves = {"R0": np.array(33.0), "P1": np.array(530.0), "P2": np.array(1000.0)}
    assert tree.ohm(leaves) == pytest.approx(33 + 500 + 10)
    shares: dict = {}
    tree.share(leaves, np.array(2e-3), shares)
    assert shares["P1"] == pytest.approx(1e-3)
    assert shares["R0"] == pytest.approx(2e-3)


@pytest.mark.parametrize("text", ["P1 +", "(P1", "P1 P2", "P1 & P2", "| P1", ""])
def test_bad_layouts_are_refused(text):
    with pytest.raises(ValueError, match=r"missing|left over|is no name"):
        parse_layout(text)


def test_the_identity_follows_the_ohms():
    again = Network.from_board(copy.deepcopy(SHEET))
    changed = copy.deepcopy(SHEET)
    changed["network"]["series_ohm"] = 36.5
    assert again.network_id == REFERENCE.network_id
    assert Network.from_board(changed).network_id != REFERENCE.network_id
