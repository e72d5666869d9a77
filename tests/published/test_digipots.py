"""Digital potentiometers against what their data sheets print.

Sources: Microchip DS22060B (2008) for MCP4131..MCP4251, DS11195C (2003) for MCP41010/42010; Analog
Devices AD5270 Rev. F, AD8400/8402/8403 Rev. E. E series: IEC 60063 (E12 and E24 from memory).
"""

import numpy as np
import pytest

from locum.sheets.parts import preferred_ohm, read_pots


@pytest.mark.parametrize(
    ("part", "rab_ohm", "step_ohm"),
    [  # DS22060B: Rab/128 and Rab/256; the trade quotes the same steps
        ("MCP4131", 10_000, 78.125),
        ("MCP4151", 5_000, 19.53),
        ("MCP4251", 10_000, 39.06),
        ("MCP4251", 100_000, 390.6),
        ("MCP42010", 10_000, 39.06),  # DS11195C
        ("AD5270", 20_000, 19.53),  # AD5270 Rev. F: 1024 positions
    ],
)
def test_step_sizes(part, rab_ohm, step_ohm):
    steps = np.diff(read_pots()[part].table_ohm(rab_ohm))
    assert steps == pytest.approx(np.full(len(steps), step_ohm), rel=1e-3)


@pytest.mark.parametrize(
    ("part", "typical_ohm", "highest_ohm", "rating_ma", "tolerance_pct"),
    [
        ("MCP4251", 75, 160, 2.5, 20),  # DS22060B electrical characteristics, 5.5 V
        ("MCP4151", 75, 160, 2.5, 20),
        ("MCP41010", 52, 100, 1.0, 20),  # DS11195C
        ("AD8402_1k", 53, 100, 5.0, 33.3),  # Rev. E: 0.8..1.6 kohm about 1.2
    ],
)
def test_electrical_characteristics(part, typical_ohm, highest_ohm, rating_ma, tolerance_pct):
    pot = read_pots()[part]
    assert (pot.zero_ohm, pot.zero_max_ohm) == (typical_ohm, highest_ohm)
    assert pot.rating_a == pytest.approx(rating_ma / 1000)
    assert pot.rab_tolerance_pct == pytest.approx(tolerance_pct)


def test_full_scale():
    # DS22060B: 257 taps, code 0x100 puts W on A. DS11195C: 0xFF stays one step below.
    true_full, below = read_pots()["MCP4251"], read_pots()["MCP41010"]
    assert true_full.last_code == 0x100
    assert true_full.table_ohm(10e3)[-1] - true_full.zero_ohm == pytest.approx(10e3)
    assert below.last_code == 0xFF
    assert below.table_ohm(10e3)[-1] - below.zero_ohm == pytest.approx(10e3 * 255 / 256)


def test_e96_is_its_own_formula():
    formula = np.round(10 ** (np.arange(96) / 96), 2) * 100
    np.testing.assert_allclose(preferred_ohm("E96", 100, 999), formula)
