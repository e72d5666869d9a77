"""Recorded profiles: columns found, gaps bridged and told, every fault at once."""

import pytest

from locum.errors import Refused
from locum.sheets.recorded import MOST_FAULTS, read_recording


def refused(text, *columns):
    with pytest.raises(Refused) as told:
        read_recording(text, "log.csv", *columns)
    return [(remark.code, remark.where) for remark in told.value.remarks]


def test_a_value_that_is_missing_is_bridged_by_a_straight_line_and_told():
    text = "time_s,celsius\n0,80.5\n1,81.5\n2,\n3,\n5,85.5\n6,86.5\n"
    recording = read_recording(text, "log.csv")
    assert recording.time_s == (0, 1, 2, 3, 5, 6)
    assert recording.value == pytest.approx((80.5, 81.5, 82.5, 83.5, 85.5, 86.5))
    (remark,) = recording.remarks
    assert (remark.code, remark.where) == ("values_missing", "log.csv, line 3")
    assert "2 rows without one, the longest gap 4 s" in remark.found


def test_rows_without_a_value_at_the_ends_are_left_out_and_told():
    text = "# ours\ntime_s,celsius\n0,\n1,81.5\n2,82.5\n3,\n4,\n"
    recording = read_recording(text, "log.csv")
    assert recording.time_s == (1, 2)
    assert [remark.code for remark in recording.remarks] == ["ends_missing"]
    assert recording.remarks[0].found.startswith("3 rows")


def test_our_own_table_of_samples_can_be_played():
    text = (
        "# drive 1: samples\nt_s,span_s,node_mean_v,ohm_mean_ohm,source\n0.0,1,1.48,,moving\n"
        "1.0,1,1.48,310.5,stand_in\n2.0,1,4.9,open,stand_in\n3.0,1,1.48,312.5,stand_in\n"
    )
    recording = read_recording(text, "samples.csv")
    assert recording.unit == "ohm"
    assert recording.value == pytest.approx((310.5, 311.5, 312.5))
    assert recording.contact == ("through", "open", "through")


def test_both_columns_that_are_missing_are_told_together():
    assert refused("a,b\n1,2\n2,3\n") == [("no_column", "log.csv, header")] * 2
    assert refused("a,b\n1,2\n2,3\n", "a", "c") == [("no_column", "log.csv, header")]


def test_every_row_that_is_wrong_is_told():
    text = "time_s;celsius;contact\n0;80,5;\n1;warm;\n0,5;81;\n2;82;ajar\nnan;83;\n"
    assert refused(text) == [
        ("not_a_number", "log.csv, line 3"),
        ("contact", "log.csv, line 5"),
        ("not_a_number", "log.csv, line 6"),
    ]
    assert refused("time_s,celsius\n1,80\n1,81\n0,82\n") == [
        ("time_order", "log.csv, line 3"),
        ("time_order", "log.csv, line 4"),
    ]


def test_a_file_of_another_kind_is_not_told_row_by_row():
    rows = "".join(f"{n},no\n" for n in range(500))
    told = refused("time_s,celsius\n" + rows)
    assert len(told) == MOST_FAULTS + 1
    assert told[-1][0] == "more_faults"


@pytest.mark.parametrize(
    "text",
    ["", "\n\n", "# only\n# words\n", "time_s,celsius\n", "time_s,celsius\n0,\n1,\n2,\n",
     'time_s,celsius\n0,"80\n1,81\n2,82\n', "time_s,celsius\n0,8\x000\n1,81\n"],
)  # fmt: skip
def test_what_is_no_recording_is_refused_in_words(text):
    assert refused(text)
