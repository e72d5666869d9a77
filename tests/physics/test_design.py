"""Proposals of parts: what reaches an error, what does not, and why."""

import pytest

from locum.errors import Misuse, Refused
from locum.physics.circuit import Thevenin
from locum.physics.curve import NtcCurve
from locum.physics.design import propose
from locum.sheets.parts import preferred_ohm, read_pots

CURVE_B = NtcCurve(1.33514771e-3, 2.56168319e-4, 1.49630613e-7)
FEW = {name: read_pots()[name] for name in ("MCP4151", "MCP4251", "MCP41010")}
E24 = preferred_ohm("E24")


@pytest.fixture(scope="module")
def wide():
    return propose(CURVE_B, 120.0, -20.0, Thevenin(5.0, 1000.0), 0.1, FEW, E24)


def test_four_wipers_reach_what_one_cannot(wide):
    assert wide[0].reaches
    assert wide[0].topology.startswith("four wipers")
    assert wide[0].worst_error_c <= 0.1
    single = [p for p in wide if p.topology == "one wiper"]
    assert single
    assert not any(p.reaches for p in single)
    assert min(p.worst_error_c for p in single) > 1.0


def test_proposals_are_ranked(wide):
    reaching = [p.reaches for p in wide]
    assert reaching == sorted(reaching, reverse=True)
    rest = [p.worst_error_c for p in wide if not p.reaches]
    assert rest == sorted(rest)


def test_the_limiting_step_is_named_with_its_temperature(wide):
    one_pot = next(p for p in wide if p.parts == ("MCP4151 10 kohm",))
    # Wiper 75..160 ohm and 33 ohm in series never get down to the 105 ohm of 120 degC.
    assert one_pot.limit == "floor"
    assert one_pot.limit_at_c == 120.0


def test_a_warm_range_with_a_high_pull_up_is_easy():
    found = propose(CURVE_B, 20.0, 60.0, Thevenin(5.0, 10e3), 0.5, FEW, E24)
    assert found[0].reaches
    assert len(found[0].parts) == 1


def test_nonsense_is_refused():
    source = Thevenin(5.0, 1000.0)
    with pytest.raises(Misuse):
        propose(CURVE_B, 20.0, 20.0, source, 0.1, FEW, E24)
    with pytest.raises(Misuse):
        propose(CURVE_B, 0.0, 20.0, source, 0.0, FEW, E24)
    with pytest.raises(Refused):
        propose(CURVE_B, 0.0, 20.0, Thevenin(8.0, 1000.0), 0.1, FEW, E24)
