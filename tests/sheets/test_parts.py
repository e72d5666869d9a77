"""Parts data: every part usable, marks kept, preferred numbers."""

import numpy as np
import pytest

from locum.errors import Misuse
from locum.sheets.parts import find_pot, preferred_ohm, read_pots


def test_every_part_gives_rising_tables_and_names_its_source():
    for part in read_pots().values():
        for rab in part.rab_options_ohm:
            assert np.all(np.diff(part.table_ohm(rab)) > 0)
        assert part.source
        assert part.confidence
        assert 0 < part.rating_a < 0.1
        assert part.zero_max_ohm >= part.zero_ohm


def test_a_part_is_found_by_its_ordering_name():
    assert find_pot("MCP4251-103") is read_pots()["MCP4251"]
    with pytest.raises(Misuse, match="MCP9999"):
        find_pot("MCP9999")


def test_no_shutdown_that_shorts_is_taken_for_an_open():
    part = read_pots()["MCP4251"]
    assert part.shutdown_is_short
    assert part.can_leave
    assert not read_pots()["MCP41010"].can_leave


def test_marks_from_memory_are_kept():
    assert "rating_ma" in read_pots()["AD5293"].from_memory
    assert read_pots()["MCP4251"].from_memory == ()


def test_preferred_numbers():
    decade = preferred_ohm("E12", 100.0, 999.0)
    assert list(decade) == [100, 120, 150, 180, 220, 270, 330, 390, 470, 560, 680, 820]
    assert len(preferred_ohm("E24", 100.0, 999.0)) == 24
    assert len(preferred_ohm("E96", 100.0, 999.0)) == 96
    with pytest.raises(Misuse):
        preferred_ohm("E5")
