"""What must hold of every network: scale, code and order of the targets do not surprise."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.physics.choose import choose_codes
from locum.physics.circuit import Thevenin
from locum.physics.network import HotBranch, Network
from locum.sheets.board import read_board
from locum.sheets.lookup import find_sheet

FOUND = find_sheet("board", "reference")
REFERENCE = Network.from_board(read_board(FOUND.text, FOUND.name))
CODES = st.lists(st.integers(0, 256), min_size=4, max_size=4)
HOT = st.integers(0, 3)


@given(CODES, HOT, st.floats(0.5, 2.0))
@settings(max_examples=100, deadline=None)
def test_every_part_times_a_factor_is_the_whole_times_it(codes, hot, factor):
    scaled = replace(
        REFERENCE,
        wipers=tuple(replace(w, table_ohm=w.table_ohm * factor) for w in REFERENCE.wipers),
        hot=tuple(HotBranch(b.name, b.ohm * factor) for b in REFERENCE.hot),
        series_ohm=REFERENCE.series_ohm * factor,
    )
    here = float(REFERENCE.resistance_ohm(np.array(codes), False, hot))
    assert float(scaled.resistance_ohm(np.array(codes), False, hot)) == pytest.approx(factor * here)


@given(CODES, HOT, st.integers(0, 3))
@settings(max_examples=100, deadline=None)
def test_a_higher_code_is_never_a_lower_resistance(codes, hot, wiper):
    row = np.tile(codes, (257, 1))
    row[:, wiper] = np.arange(257)
    ohm = REFERENCE.resistance_ohm(row, False, hot)
    assert np.all(np.diff(ohm) >= 0)


def test_targets_alone_or_together_are_met_alike():
    targets, source = np.geomspace(70, 40e3, 60), Thevenin(5.0, 1000.0)
    together = choose_codes(REFERENCE, targets, source).set_ohm
    turned = choose_codes(REFERENCE, targets[::-1], source).set_ohm[::-1]
    assert np.abs(np.log(together / targets)).max() < 0.005
    assert np.abs(np.log(turned / together)).max() < 0.005
