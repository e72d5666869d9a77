"""Is this sensor good, how well is a set value known, which parts reach it: the commands."""

import json

import pytest

from locum import cli

LIMITS = "coolant_2k5_limits"  # Hyundai Accent 2004: 2270..2730 ohm at 20 degC, 298..322 at 80 degC


@pytest.fixture
def asked(capsys):
    """``asked(code, *words)``: the JSON document of a command that ends with ``code``."""

    def run(code, *words):
        capsys.readouterr()
        assert cli.main([*words, "--json"]) == code
        return json.loads(capsys.readouterr().out)

    return run


def test_readings_inside_with_their_whole_uncertainty_are_in(asked):
    found = asked(0, "sensor", "judge", LIMITS, "20C=2.48k", "80C=310")
    assert found["judgement"] == "in"
    assert found["readings"][1]["low_ohm"] == pytest.approx(298, abs=0.5)
    # Half-widths 0.8 % and 1 K, both rectangular, against the table's own steepness at 80 degC.
    assert found["readings"][1]["u_ohm"] == pytest.approx(11, abs=1)


def test_a_reading_outside_with_its_whole_uncertainty_is_out(asked):
    assert asked(0, "sensor", "judge", LIMITS, "20C=2480", "80C=345")["judgement"] == "out"


def test_a_poor_thermometer_cannot_decide(asked):
    found = asked(0, "sensor", "judge", LIMITS, "80C=310", "--thermometer", "4")
    assert found["judgement"] == "inconclusive"
    assert found["readings"][0]["largest_part"] == "thermometer"
    assert "thermometer" in found["warnings"][0]["remedy"]


def test_without_limits_a_tolerance_is_asked_for_and_then_used(asked):
    bare = asked(0, "sensor", "judge", "coolant_2k5", "20C=2480")
    assert bare["judgement"] == "inconclusive"
    assert bare["readings"][0]["low_ohm"] is None
    assert [w["code"] for w in bare["warnings"]] == ["no_band"]
    told = asked(0, "sensor", "judge", "coolant_2k5", "20C=2480", "--tolerance", "10")
    assert told["judgement"] == "in"


def test_a_limits_table_is_judged_by_as_well(asked, tmp_path):
    table = tmp_path / "limits.csv"
    table.write_text("t_c,r_min_ohm,r_max_ohm\n0,5180,6600\n20,2270,2730\n80,298,322\n")
    assert asked(0, "sensor", "judge", str(table), "20C=3.4k")["judgement"] == "out"


def test_readings_in_the_sheets_place_are_misuse(asked):
    assert asked(2, "sensor", "judge", "20C=2500", "20C=2480")["ok"] is False


def test_a_budget_wants_a_calibrated_board_and_then_names_every_contribution(asked, tmp_path):
    book = ("--casebook", str(tmp_path / "book.sqlite"))
    assert asked(1, "sensor", "budget", LIMITS, "--celsius", "80", *book)["ok"] is False
    asked(0, "calibrate", "--board", "virtual", *book)
    found = asked(0, "sensor", "budget", LIMITS, "--celsius", "20", "80", *book)
    at_80 = found["budgets"][1]
    first = [row for row in at_80["rows"] if row["part"] != "tolerance"]
    assert {"wiper against voltage", "range references", "potentiometer leakage"} <= {
        row["name"] for row in first
    }
    # GUM 5.1.2: independent contributions add as squares; U is twice their root.
    combined = sum(row["u_c"] ** 2 for row in first) ** 0.5
    assert at_80["expanded_u_c"] == pytest.approx(2 * combined, rel=1e-6)
    whole = sum(row["u_c"] ** 2 for row in at_80["rows"]) ** 0.5
    assert whole > 1.2 * combined
    assert at_80["expanded_u_with_tolerance_c"] == pytest.approx(2 * whole, rel=1e-6)
    assert sum(row["share"] for row in at_80["rows"]) == pytest.approx(1)


def test_a_shorted_line_is_never_given_a_lower_load(asked, capsys):
    found = asked(1, "module", "measure", "--open", "12.6", "--load", "2k:12.5")
    assert [r["code"] for r in found["refusals"]] == ["shorted_to_supply"]
    assert not found["warnings"]
    assert cli.main(["module", "measure", "--open", "12.6", "--load", "2k:12.5"]) == 1
    assert "further load" not in capsys.readouterr().out


def test_a_known_pull_up_tells_a_leak_from_a_weak_reference(asked):
    # 1 kohm to 5 V with 4 kohm to ground is 4 V behind 800 ohm; a 4 V reference keeps its 1 kohm.
    leak = asked(1, "module", "measure", "--open", "4", "--load", "800:2", "--expected-ohm", "1000")
    weak = asked(1, "module", "measure", "--open", "4", "--load", "1k:2", "--expected-ohm", "1000")
    assert [r["code"] for r in leak["refusals"]] == ["leak"]
    assert [r["code"] for r in weak["refusals"]] == ["weak_reference"]
