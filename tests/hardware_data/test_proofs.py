"""ngspice proves the circuit, and finds each planted mistake."""

import numpy as np
import prove
import pytest
from proofs import loading
from proofs.deck import Row, crossing
from proofs.plants import FINDS, PLANTS

pytestmark = pytest.mark.usefixtures("ngspice")


@pytest.mark.parametrize("name", list(prove.PROOFS))
def test_every_result_is_within_its_limit(board, name):
    rows = prove.PROOFS[name][1](board)
    assert rows
    assert [row.what for row in rows if not row.ok] == []


@pytest.mark.parametrize("name", list(PLANTS))
def test_a_planted_mistake_is_found_by_simulation(board, name):
    bad = FINDS[name](PLANTS[name](board))
    assert any(not row.ok for row in bad)


def test_loading_agrees_with_the_settled_figures(board):
    # settled beforehand by another simulation: 0.029 K powered, 0.048 K dead
    worst = [loading.errors_k(loading.deck(board, p).run()[:, 0]).max() for p in (True, False)]
    assert worst == pytest.approx([0.029, 0.048], abs=0.004)


def test_the_command_fails_on_a_plant_and_sums_up(capsys):
    assert prove.main(["--only", "loading"]) == 0
    assert "within their limits" in capsys.readouterr().out.strip().splitlines()[-1]
    assert prove.main(["--only", "loading", "--plant", "swapped-relay-contacts"]) == 1
    assert "outside their limits" in capsys.readouterr().out.strip().splitlines()[-1]


def test_a_result_that_is_not_a_number_is_not_ok():
    assert not Row("x", float("nan"), "V", high=1.0).ok
    assert not Row("x", 2.0, "V", high=1.0).ok
    assert Row("x", 0.5, "V", 0.0, 1.0).ok


def test_crossing_finds_either_direction():
    time = np.linspace(0, 1, 11)
    assert crossing(time, time, 0.35) == pytest.approx(0.4)
    assert crossing(time, 1 - time, 0.35) == pytest.approx(0.7)
    assert np.isnan(crossing(time, time, 2.0))
