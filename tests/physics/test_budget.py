"""The budget: combination by hand, by the package uncertainties, and by drawing lots."""

from __future__ import annotations

import math

import numpy as np
import pytest
import uncertainties
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import umath

from locum.errors import Misuse
from locum.physics.budget import Contribution, rounded, temperature_budget
from locum.physics.circuit import Thevenin, node_v, u_resistance_from_node_ohm
from locum.physics.curve import NtcCurve
from locum.physics.propagation import (
    combined_u,
    effective_freedom,
    fitted_line,
    propagated,
    weighted_mean,
)

FLUID = NtcCurve(9.20113738e-4, 2.68650219e-4, 1.05038939e-7)


@pytest.mark.parametrize(
    ("distribution", "divisor"),
    [
        ("rectangular", 3**0.5),
        ("triangular", 6**0.5),
        ("u_shaped", 2**0.5),
        ("step", 12**0.5),
        ("normal", 2.0),
    ],
)
def test_half_widths_become_standard_uncertainties(distribution, divisor):
    item = Contribution("x", half_width=3.0, distribution=distribution)
    assert item.u == pytest.approx(3.0 / divisor)
    drawn = {
        "rectangular": np.random.default_rng(1).uniform(-3, 3, 400_000),
        "triangular": np.random.default_rng(1).triangular(-3, 0, 3, 400_000),
        "u_shaped": 3 * np.sin(np.random.default_rng(1).uniform(0, 2 * np.pi, 400_000)),
        "step": np.random.default_rng(1).uniform(0, 3, 400_000),
        "normal": np.random.default_rng(1).normal(0, 1.5, 400_000),
    }[distribution]
    assert drawn.std() == pytest.approx(item.u, rel=0.01)


@pytest.mark.parametrize(
    "wrong", [{}, {"half_width": 1, "std": 1}, {"std": -1}, {"half_width": math.nan}]
)
def test_a_contribution_is_given_in_exactly_one_way(wrong):
    with pytest.raises(Misuse):
        Contribution("x", **wrong)


def test_units_of_contributions_agree():
    ohm = float(FLUID.resistance_ohm(90))
    slope = abs(float(FLUID.slope_ohm_per_k(90)))
    budgets = [
        temperature_budget(FLUID, 90.0, [Contribution("x", std=value, unit=unit)])
        for value, unit in ((5.0, "ohm"), (5.0 / slope, "K"), (5.0 / ohm, "relative"))
    ]
    for budget in budgets:
        assert budget.u_ohm == pytest.approx(5.0)
        assert budget.u_c == pytest.approx(5.0 / slope)
        assert budget.expanded_c == pytest.approx(10.0 / slope)


def test_tolerance_belongs_to_the_second_result_only():
    items = [
        Contribution("meter", std=5.0),
        Contribution("table", half_width=0.1, unit="relative", part="tolerance"),
    ]
    budget = temperature_budget(FLUID, 90.0, items)
    assert budget.u_c == pytest.approx(5.0 / budget.slope_ohm_per_k)
    with_tolerance = math.hypot(5.0, 0.1 * budget.resistance_ohm / 3**0.5)
    assert budget.u_with_tolerance_c == pytest.approx(with_tolerance / budget.slope_ohm_per_k)
    assert sum(row.share for row in budget.rows) == pytest.approx(1.0)


def test_the_curves_own_uncertainty_is_a_line_unless_given():
    from locum.physics.fit import fit_curve

    fit = fit_curve([0, 40, 100], [18600, 3800, 630])
    budget = temperature_budget(fit.curve, 80.0, [Contribution("meter", std=1.0)])
    assert [row.name for row in budget.rows] == ["meter", "curve fit"]
    assert budget.u_resistance_c < budget.u_c
    own = Contribution("curve", std=0.2, unit="K", part="curve")
    assert len(temperature_budget(fit.curve, 80.0, [own]).rows) == 1


@settings(deadline=None, max_examples=50)
@given(
    u=st.lists(st.floats(0.01, 2.0), min_size=3, max_size=3),
    rho=st.floats(-0.45, 0.95),
    x=st.lists(st.floats(1.0, 5.0), min_size=3, max_size=3),
)
def test_combination_agrees_with_the_package_uncertainties(u, rho, x):
    correlation = np.full((3, 3), rho) + (1 - rho) * np.eye(3)
    covariance = correlation * np.outer(u, u)
    a, b, c = uncertainties.correlated_values(x, covariance)
    result = a * b / umath.sqrt(c)
    sensitivities = [x[1] / x[2] ** 0.5, x[0] / x[2] ** 0.5, -0.5 * x[0] * x[1] / x[2] ** 1.5]
    assert combined_u(sensitivities, u, correlation) == pytest.approx(result.std_dev, rel=1e-9)
    assert propagated(sensitivities, covariance)[0, 0] == pytest.approx(result.std_dev**2, rel=1e-9)


def test_weighted_mean_by_hand_and_with_correlation():
    mean = weighted_mean([10.0, 12.0], [1.0, 2.0])
    assert mean.value == pytest.approx((10 / 1 + 12 / 4) / (1 + 1 / 4))
    assert mean.u == pytest.approx((1 / (1 + 1 / 4)) ** 0.5)
    assert mean.disagreement == pytest.approx(2.0**2 / (1 + 4))
    same = weighted_mean([10.0, 10.4], [1.0, 1.0], [[1.0, 0.5], [0.5, 1.0]])
    assert same.u == pytest.approx(0.75**0.5)


def test_closing_the_loop_by_the_node_is_as_good_as_drawing_lots_says():
    source = Thevenin(5.0, 1000.0, 0.005, 5.0)
    rng = np.random.default_rng(5)
    true = float(FLUID.resistance_ohm(90.0))
    volts = node_v(source, true)
    u_node = u_resistance_from_node_ohm(source, volts, 0.003)
    mean = weighted_mean([true, true], [12.0, u_node])
    draws = 100_000
    voc, rth = rng.normal(5.0, 0.005, draws), rng.normal(1000.0, 5.0, draws)
    node = rng.normal(volts, 0.003, draws)
    by_node = rth * node / (voc - node)
    by_calibration = rng.normal(true, 12.0, draws)
    combined = mean.weights[0] * by_calibration + mean.weights[1] * by_node
    assert combined.std() == pytest.approx(mean.u, rel=0.02)
    assert mean.u < min(12.0, u_node)


def test_effective_freedom_by_hand():
    # Two equal parts, one of 9 degrees and one known: (2)^2 / (1/9).
    assert effective_freedom([1.0, 1.0], [9.0, math.inf]) == pytest.approx(36.0)
    assert effective_freedom([1.0], [math.inf]) == math.inf
    assert effective_freedom([2.0, 2.0, 2.0], [5.0, 5.0, 5.0]) == pytest.approx(15.0)


def test_a_line_needs_three_points_and_knows_its_scatter():
    line = fitted_line([0, 1, 2, 3], [1.0, 3.1, 4.9, 7.0])
    by_numpy, covariance = np.polyfit([0, 1, 2, 3], [1.0, 3.1, 4.9, 7.0], 1, cov=True)
    assert (line.y2, line.y1) == pytest.approx(tuple(by_numpy))
    assert line.covariance[1, 1] == pytest.approx(covariance[0, 0])
    assert line.at(1.5)[0] == pytest.approx(4.0)
    with pytest.raises(Misuse):
        fitted_line([0, 1], [0, 1])


@pytest.mark.parametrize(
    ("value", "expanded", "printed"),
    [
        (90.0371, 1.5163, (90.0, 1.5)),
        (812.34, 33.2, (812.0, 33.0)),
        (20.1234, 0.0456, (20.123, 0.046)),
    ],
)
def test_results_are_rounded_to_two_digits_of_u(value, expanded, printed):
    assert rounded(value, expanded) == printed
