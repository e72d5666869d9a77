"""Points files as people make them: headers, units, commas, and all faults at once."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from locum.errors import FileTrouble, LocumError, Refused
from locum.physics.fit import fit_curve
from locum.sheets.points import open_points, read_points
from locum.sheets.points_numbers import number_of


def codes(remarks) -> list[str]:
    return [remark.code for remark in remarks]


@pytest.mark.parametrize(
    "header",
    ["celsius,ohms", "t_c,r_ohm", "T [degC],R [ohm]", "Temperature (°C),Resistance (Ω)", "temp,res",
     "degC,Ohm", "t_c;r_ohm", "celsius\tohms", " Celsius , OHMS "],
)  # fmt: skip
def test_headers_name_quantity_and_unit(header):
    delimiter = next(d for d in (";", "\t", ",") if d in header)
    points = read_points(f"{header}\n20{delimiter}2500\n80{delimiter}308.6\n")
    assert points.celsius.tolist() == [20.0, 80.0]
    assert points.ohms.tolist() == [2500.0, 308.6]
    assert points.remarks == ()
    assert points.labels == ("line 2", "line 3")


@pytest.mark.parametrize(
    ("header", "row", "celsius", "ohm"),
    [
        ("t_f,r_ohm", "68,2500", 20.0, 2500.0),
        ("fahrenheit,kohm", "68,2.5", 20.0, 2500.0),
        ("T (°F),R (kΩ)", "212,0.1757", 100.0, 175.7),
        ("t_k,r_ohm", "293.15,2500", 20.0, 2500.0),
        ("degC,R [Mohm]", "-40,0.1", -40.0, 1e5),
        ("t_c,r_kohm", "20,2.5", 20.0, 2500.0),
    ],
)
def test_other_units_are_converted_and_echoed(header, row, celsius, ohm):
    points = read_points(f"{header}\n{row}\n")
    assert points.celsius == pytest.approx([celsius])
    assert points.ohms == pytest.approx([ohm])
    assert "converted" in codes(points.remarks)
    assert all(isinstance(words, str) for words in points.understood)


def test_limits_tables_and_typical_values_beside_them():
    limits = read_points("t_c,r_min_ohm,r_max_ohm\n20,2270,2730\n80,298,322\n")
    assert limits.ohms is None
    assert limits.ohms_low.tolist() == [2270, 298]
    assert limits.ohms_high.tolist() == [2730, 322]
    fit = fit_curve(kind="auto", **limits.fit_arguments())
    assert fit.band.limits_ohm(20.0) == pytest.approx((2270, 2730))
    both = read_points("t_c,r_ohm,r_min_kohm,r_max_kohm\n20,2500,2.27,2.73\n")
    assert (both.ohms[0], both.ohms_low[0], both.ohms_high[0]) == pytest.approx((2500, 2270, 2730))


@pytest.mark.parametrize(
    "text",
    [
        "celsius;ohms\n20,5;1500,25\n82,0;300,5\n",
        "celsius\tohms\n20,5\t1500,25\n82,0\t300,5\n",
        'celsius,ohms\n"20,5","1500,25"\n"82,0","300,5"\n',
        "celsius,ohms\n20,5,1500,25\n82,0,300,5\n",
    ],
)
def test_decimal_commas_are_understood_and_echoed(text):
    points = read_points(text)
    assert points.celsius.tolist() == [20.5, 82.0]
    assert points.ohms.tolist() == [1500.25, 300.5]
    (remark,) = points.warnings
    assert remark.code == "decimal_comma"
    assert "20,5 is read as 20.5" in remark.found


def test_kilohm_by_its_letter():
    points = read_points("t_c,r_kohm\n20,1.5k\n80,0.3\n")
    assert points.ohms.tolist() == [1500.0, 300.0]


def test_comments_blank_lines_marks_and_trailing_commas_do_no_harm():
    points = read_points("\ufeff# a table\n\ncelsius,ohms,,\n20,2500,,\n\n# more\n80,300,,\n")
    assert points.celsius.tolist() == [20.0, 80.0]
    assert points.labels == ("line 4", "line 7")


def test_further_columns_are_left_out_and_said():
    points = read_points("t_c,r_ohm,adc_1024,source\n20,2500,512,page 3\n")
    assert codes(points.remarks) == ["ignored_columns"]
    assert "adc_1024, source" in points.understood[0]
    assert points.warnings == ()


def test_without_a_header_the_usual_one_is_taken_and_said():
    two = read_points("20,2500\n80,300\n")
    assert two.ohms.tolist() == [2500, 300]
    assert codes(two.warnings) == ["no_header"]
    three = read_points("20,2270,2730\n80,298,322\n")
    assert three.ohms_high.tolist() == [2730, 322]
    with pytest.raises(Refused, match="header"):
        read_points("1,2,3,4,5\n")


def test_all_faults_are_told_at_once_with_their_lines():
    text = "celsius,ohms\n20,2500\nwarm,1150\n40,\n60,1,2\n80\n100,175.7\n"
    with pytest.raises(Refused) as refusal:
        read_points(text)
    assert [remark.where for remark in refusal.value.remarks] == [
        "line 3", "line 4", "line 5", "line 6",
    ]  # fmt: skip
    assert codes(refusal.value.remarks) == [
        "not_a_number",
        "not_a_number",
        "wrong_width",
        "wrong_width",
    ]
    assert "'warm'" in refusal.value.remarks[0].found
    assert "empty" in refusal.value.remarks[1].found


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "no_points"),
        ("celsius,ohms\n", "no_points"),
        ("speed,ohms\n1,2\n", "no_temperature"),
        ("celsius,speed\n1,2\n", "no_resistance"),
        ("celsius,r_min_ohm\n1,2\n", "one_limit"),
        ("celsius,t_f,ohms\n1,2,3\n", "named_twice"),
        ("celsius,ohms\n" + "20,2500\n" * 3000, "too_many_rows"),
    ],
)
def test_files_that_are_no_points_are_refused(text, code):
    with pytest.raises(Refused) as refusal:
        read_points(text)
    assert codes(refusal.value.remarks) == [code]


def test_lines_of_the_file_reach_the_remarks_of_the_fit():
    points = read_points("# source\ncelsius,ohms\n0,5975\n20,2501\n40,2600\n60,575.7\n80,308.6\n")
    fit = fit_curve(**points.fit_arguments())
    (turning,) = (remark for remark in fit.warnings if remark.code == "turns_back")
    assert turning.where.startswith("line 5 ")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_files_as_spreadsheets_save_them(tmp_path, encoding):
    path = tmp_path / "points.csv"
    path.write_bytes("T (°C);R (ohm)\r\n20,5;2500\r\n80;300\r\n".encode(encoding))
    assert open_points(path).celsius.tolist() == [20.5, 80.0]


def test_a_missing_file_is_said_in_plain_words(tmp_path):
    with pytest.raises(FileTrouble, match=r"none\.csv"):
        open_points(tmp_path / "none.csv")
    with pytest.raises(FileTrouble):
        open_points(tmp_path)


@pytest.mark.parametrize(
    ("text", "value"),
    [("1.5", 1.5), ("1,5", 1.5), ("-40", -40), ("\u221240", -40), ("1.5k", 1500), ("2M", 2e6), ("1,234.5", 1234.5),
     ("1.234,5", 1234.5), ("1 500", 1500), ("3e2", 300), (".5", 0.5), ("", None), ("k", None), ("1.5x", None),
     ("nan", None), ("inf", None), ("1e999", None), ("--1", None)],
)  # fmt: skip
def test_numbers_as_people_write_them(text, value):
    assert number_of(text) == value


@settings(deadline=None, max_examples=150)
@given(text=st.text(alphabet="0123456789.,;\tkMCF#-+e\n\"' abcohmst_°Ω\x00", max_size=200))
def test_garbage_is_refused_in_plain_words_or_read(text):
    said = [""]
    points = None
    try:
        points = read_points(text)
    except LocumError as error:
        said = [remark.text for remark in error.remarks]
    # Either a plain sentence for every fault, or finite numbers with a line for each.
    if points is None:
        assert said
        assert all(said)
    else:
        assert np.all(np.isfinite(points.celsius))
        assert len(points.celsius) == len(points.labels) > 0


def test_values_no_sensor_has_are_told_with_the_other_faults():
    with pytest.raises(Refused) as told:
        read_points("celsius,ohms\n20,2500\n40,-5\n60,0\n-300,9000\n80,x\n")
    assert [(r.code, r.where) for r in told.value.remarks] == [
        ("impossible", "line 3"),
        ("impossible", "line 4"),
        ("impossible", "line 5"),
        ("not_a_number", "line 6"),
    ]


def test_a_field_without_end_is_a_fault_in_words():
    with pytest.raises(Refused):
        read_points(f"celsius,ohms\n20,{'9' * 200_000}\n80,300\n")
