"""Sensor sheets: shipped ones, round trips of fits, and faults with their lines."""

from __future__ import annotations

import numpy as np
import pytest

from locum.errors import Refused
from locum.locations import asset_root
from locum.physics.fit import fit_curve
from locum.physics.readings import judge_sensor
from locum.sheets.sensor import CIRCUITS, read_sensor, sensor_text

SHIPPED = sorted((asset_root("profiles") / "sensors").glob("*.toml"))

BY_COEFFICIENTS = """schema = 1
kind = "ntc"
title = "Coolant"
source = "a table"
confidence = "read"
circuit = "coolant"
span_c = [-40.0, 140.0]
tolerance_pct = 5.0

[coefficients]
a = 1.33514771e-3
b = 2.56168319e-4
c = 1.49630613e-7
"""


def codes(remarks) -> list[str]:
    return [remark.code for remark in remarks]


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_sheets_are_good(path):
    sheet = read_sensor(path.read_text(encoding="utf-8"), path.stem)
    assert sheet.title
    assert len(sheet.source) > 10
    assert sheet.confidence
    assert sheet.circuit in CIRCUITS
    assert set(codes(sheet.remarks)) <= {"coarse_rounding", "form_misses"}
    inner = np.linspace(*sheet.curve.span_c, 50)
    assert sheet.curve.temperature_c(sheet.curve.resistance_ohm(inner)) == pytest.approx(
        inner, abs=1e-6
    )
    for celsius, ohm in sheet.points:
        assert sheet.curve.temperature_c(ohm) == pytest.approx(celsius, abs=1.0)


def test_the_invented_vans_sensor_is_a_usual_one_with_limits():
    path = asset_root("profiles") / "sensors" / "parcel_van_coolant.toml"
    sheet = read_sensor(path.read_text(encoding="utf-8"), path.stem)
    assert "invented" in sheet.source
    assert sheet.curve.resistance_ohm(20.0) == pytest.approx(2500, rel=0.01)
    assert judge_sensor(sheet.band, [(20.0, 2500.0), (80.0, 309.0)]).judgement == "in"
    assert judge_sensor(sheet.band, [(20.0, 2500.0), (80.0, 380.0)]).judgement == "out"


def test_a_sheet_by_coefficients():
    sheet = read_sensor(BY_COEFFICIENTS, "coolant")
    assert (sheet.name, sheet.kind, sheet.title, sheet.circuit) == (
        "coolant",
        "ntc",
        "Coolant",
        "coolant",
    )
    assert sheet.curve.span_c == (-40.0, 140.0)
    assert sheet.curve.resistance_ohm(80.0) == pytest.approx(308.556, abs=1e-3)
    low, high = sheet.band.limits_ohm(20.0)
    assert high / low == pytest.approx(1.05 / 0.95)
    assert sheet.remarks == ()


def test_a_sheet_by_points_fits_them():
    text = 'schema = 1\nkind = "beta"\n[[point]]\ncelsius = 20\nohms = 2500\n[[point]]\ncelsius = 80\nohms = 300\n'
    sheet = read_sensor(text, "mine")
    assert sheet.title == "mine"
    assert sheet.curve.resistance_ohm(np.array([20.0, 80.0])) == pytest.approx([2500, 300])
    assert sheet.points == ((20.0, 2500.0), (80.0, 300.0))


@pytest.mark.parametrize("kind", ["ntc", "beta", "table"])
@pytest.mark.parametrize("limits", [False, True])
def test_a_written_fit_reads_back_to_the_last_digit(kind, limits):
    celsius = np.array([0, 20.5, 40, 60, 100])
    ohms = np.array([5975, 2450.25, 1152, 575.7, 175.7])
    low, high = (0.9 * ohms, 1.1 * ohms) if limits else (None, None)
    fit = fit_curve(celsius, ohms, kind, ohms_low=low, ohms_high=high)
    text = sensor_text(fit, 'A "quoted" title\\', "page 3\nof it", circuit="coolant")
    sheet = read_sensor(text, "again")
    grid = np.linspace(-10, 110, 40)
    assert np.array_equal(sheet.curve.resistance_ohm(grid), fit.curve.resistance_ohm(grid))
    assert sheet.curve.u_temperature_c(grid) == pytest.approx(
        fit.curve.u_temperature_c(grid), rel=1e-9
    )
    assert sheet.title == 'A "quoted" title\\'
    assert sheet.source == "page 3\nof it"
    assert (sheet.band is not None) == limits
    if limits:
        assert sheet.band.limits_ohm(20.5) == pytest.approx((0.9 * 2450.25, 1.1 * 2450.25))


@pytest.mark.parametrize(
    ("kind", "celsius", "ohms"),
    [
        ("platinum", [0, 50, 100], [1000.1, 1194.1, 1385.2]),
        ("silicon", [0, 25, 50, 100], [1630, 2000, 2417, 3392]),
    ],
)
def test_rising_fits_read_back_too(kind, celsius, ohms):
    fit = fit_curve(celsius, ohms, kind)
    sheet = read_sensor(sensor_text(fit, "t", "s"), "again")
    assert sheet.kind == kind
    assert np.array_equal(
        sheet.curve.resistance_ohm(np.array(celsius, float)),
        fit.curve.resistance_ohm(np.array(celsius, float)),
    )
    assert sheet.curve.u_temperature_c(30.0) == pytest.approx(
        fit.curve.u_temperature_c(30.0), rel=1e-9
    )


def test_all_faults_are_told_with_their_lines():
    text = (
        'schema = 1\nkind = "ntcc"\ntitle = 3\ncircuit = "gearbox"\ncolour = "red"\n'
        "[[point]]\ncelsius = 20\nohms = -5\n[[point]]\ncelsius = 30\nohm = 2000\n"
    )
    with pytest.raises(Refused) as refusal:
        read_sensor(text, "bad")
    wheres = " | ".join(remark.where for remark in refusal.value.remarks)
    for line in (2, 3, 4, 5, 8, 11):
        assert f"line {line} " in wheres
    assert all(remark.text for remark in refusal.value.remarks)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("not toml [", "not_toml"),
        ('schema = 1\nkind = "ntc"\n', "no_curve"),
        (BY_COEFFICIENTS.replace("c = 1.49630613e-7\n", ""), "missing"),
        (BY_COEFFICIENTS + "d = 1\n", "unknown_key"),
        (BY_COEFFICIENTS.replace("2.56168319e-4", "-2.56168319e-4"), "not_falling"),
        (BY_COEFFICIENTS.replace("schema = 1", "schema = 2"), "schema"),
        (
            'schema = 1\nkind = "ntc"\npoint = [{celsius=0,ohms=1},{celsius=1,ohms_low=1,ohms_high=2}]\n',
            "mixed_points",
        ),
        (BY_COEFFICIENTS + '[uncertainty]\ncovariance = [[1, "x"]]\n', "not_numbers"),
        (
            'schema = 1\nkind = "ntc"\npoint = [{celsius=0,ohms=1000},{celsius=50,ohms=2000}]\n',
            "rises",
        ),
    ],
)
def test_faulty_sheets_are_refused(text, code):
    with pytest.raises(Refused) as refusal:
        read_sensor(text, "bad")
    assert code in codes(refusal.value.remarks)


def test_coefficients_that_miss_their_own_points_are_told():
    text = BY_COEFFICIENTS.replace(
        "\n[coefficients]",
        "point = [{celsius = 0, ohms = 5975}, {celsius = 40, ohms = 1512}]\n[coefficients]",
    )
    sheet = read_sensor(text, "typo")
    (remark,) = sheet.remarks
    assert remark.code == "coefficients_miss_points"
    assert "40 degC" in remark.found


def test_points_that_are_doubtful_are_told_whenever_the_sheet_is_used():
    rows = "".join(
        f"{{ celsius = {c}, ohms = {r} }}, "
        for c, r in ((0, 5975), (20, 2501), (40, 2600), (60, 575.7), (80, 308.6))
    )
    sheet = read_sensor(f'schema = 1\nkind = "ntc"\npoint = [{rows}]\n', "odd")
    assert "turns_back" in codes(sheet.remarks)
